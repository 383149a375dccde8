/**
 * What the sink makes of a broker's refusals (reason codes of MQTT 5.0, table 2-6), against a scripted peer: real
 * brokers do not refuse on request.
 */
import { expect, onTestFinished, test, vi } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { MqttSink } from '../../../agent/sinks/mqtt.ts';
import type { MqttOptions } from '../../../agent/sinks/mqtt-options.ts';
import { message, minute, open } from '../../unit/history/helpers.ts';
import { type Published, type Script, type ScriptedBroker, startScripted } from './scripted-broker.ts';

const WAIT = { timeout: 20_000, interval: 10 };
const isMetrics = ({ topic }: Published) => topic.endsWith('/metrics');
const sequenceOf = ({ payload }: Published): number => JSON.parse(payload).sequence;

async function rig(script: Script, minutes: number, options: Partial<MqttOptions> = {}) {
  const broker = await startScripted(script);
  const history = open();
  for (let sequence = 1; sequence <= minutes; sequence++) must(history.commitMinute(minute(sequence)));
  const reports: string[] = [];
  const sink = new MqttSink({
    outbox: history.outbox,
    url: `mqtt://127.0.0.1:${broker.port}`,
    clientId: 'agent',
    protocol: 5,
    statusAddress: 'tonhour/kestrel-quay/status',
    version: '0',
    report: ({ message: text }) => reports.push(text),
    ...options,
    limits: { backoff_ms_min: 5, backoff_ms_max: 20, ...options.limits },
  });
  must(sink.init());
  onTestFinished(() => sink.stop());
  sink.start();
  const drained = () => vi.waitUntil(() => history.outbox.counts('mqtt').waiting === 0, WAIT);
  return { broker, history, sink, reports, drained };
}

function metrics(broker: ScriptedBroker): Published[] {
  return broker.published.filter(isMetrics);
}

test('no right to publish (0x87): kept, said, tried one at a time, and delivered in order once it is granted', async () => {
  let granted = false;
  const puback = (found: Published) => (isMetrics(found) && !granted ? 0x87 : 0);
  const { broker, history, sink, drained } = await rig({ puback }, 5);
  await vi.waitUntil(() => sink.status().counters['refused'] === 4, WAIT);
  expect(sink.status().code).toBe('mqtt_not_authorised');
  expect(sink.status().reason).toContain('tonhour/kestrel-quay/CH-1/metrics');
  expect(history.outbox.counts('mqtt')).toMatchObject({ waiting: 5, rejected: 0 });
  const later = metrics(broker).filter(({ connection }) => connection > 1);
  expect(later.length).toBeGreaterThan(0);
  expect(later.every((found) => sequenceOf(found) === 1)).toBe(true);
  granted = true;
  await drained();
  const last = metrics(broker).slice(-5);
  expect(last.map(sequenceOf)).toEqual([1, 2, 3, 4, 5]);
  expect(sink.status()).toMatchObject({ state: 'connected', reason: null });
});

test.each([
  ['0x90, topic name invalid', 0x90],
  ['0x99, payload format invalid', 0x99],
])('%s: given up at once, counted, and its number reported as a gap in its place', async (_name, reason) => {
  const puback = (found: Published) => (isMetrics(found) && sequenceOf(found) === 2 ? reason : 0);
  const { broker, history, reports, drained } = await rig({ puback }, 4, { limits: { mqtt_in_flight_max: 1 } });
  await drained();
  expect(metrics(broker).map(({ payload }) => JSON.parse(payload))).toEqual([
    { sequence: 1 },
    { sequence: 2 },
    { gap: { from_sequence: 2, to_sequence: 2, count: 1 } },
    { sequence: 3 },
    { sequence: 4 },
  ]);
  expect(history.outbox.counts('mqtt')).toMatchObject({ rejected: 1, accepted: 4 });
  expect(reports.join()).toContain(`reason ${reason}`);
});

test('a refusal without a cause (0x80) is tried a bounded number of times and does not stand in the way for ever', async () => {
  const puback = (found: Published) => (isMetrics(found) && sequenceOf(found) === 1 ? 0x80 : 0);
  const { broker, history, drained } = await rig({ puback }, 3, { limits: { mqtt_refusals_max: 3 } });
  await drained();
  expect(metrics(broker).filter((found) => sequenceOf(found) === 1)).toHaveLength(3);
  expect(history.outbox.counts('mqtt').rejected).toBe(1);
  const seen = metrics(broker).map(({ payload }) => JSON.parse(payload));
  expect(seen.slice(-3)).toEqual([
    { gap: { from_sequence: 1, to_sequence: 1, count: 1 } },
    { sequence: 2 },
    { sequence: 3 },
  ]);
});

test('no more under way than the broker allows (Receive Maximum), announcements included', async () => {
  const announcements = () =>
    [1, 2, 3].map((n) => ({ address: `tonhour/kestrel-quay/CH-${n}/describe`, payload: '{}' }));
  const script = { properties: [0x21, 0, 2], puback: () => null };
  const { broker, history } = await rig(script, 6, { announcements });
  for (let answers = 0; answers < 10; answers++) {
    await vi.waitUntil(() => broker.published.length >= Math.min(10, answers + 2), WAIT);
    expect(broker.published.length).toBeLessThanOrEqual(answers + 2);
    broker.answerOne();
  }
  await vi.waitUntil(() => history.outbox.counts('mqtt').waiting === 0, WAIT);
  expect(broker.unanswered()).toBe(2);
  expect(broker.published.slice(0, 4).every(({ retain }) => retain)).toBe(true);
});

test('a message larger than the broker or the house allows is given up before it is sent', async () => {
  const { broker, history, reports, sink } = await rig({ properties: [0x27, 0, 0, 0x10, 0] }, 1);
  const large = message(2, { payload: JSON.stringify({ sequence: 2, filling: 'x'.repeat(5000) }) });
  must(history.commitMinute(minute(2, { messages: [large] })));
  must(history.commitMinute(minute(3)));
  sink.wake();
  await vi.waitUntil(() => history.outbox.counts('mqtt').waiting === 0, WAIT);
  const seen = metrics(broker).map(({ payload }) => JSON.parse(payload));
  expect(seen).toContainEqual({ gap: { from_sequence: 2, to_sequence: 2, count: 1 } });
  expect(seen.map(({ sequence }) => sequence)).not.toContain(2);
  expect(reports.join()).toMatch(/given up: 50\d\d bytes, 3072 are allowed/);
});

test('a broker without QoS 1 is refused by us, by name', async () => {
  const { sink } = await rig({ properties: [0x24, 0] }, 1);
  await vi.waitUntil(() => sink.status().state === 'lost', WAIT);
  expect(sink.status().reason).toContain('QoS 1');
});

test('a broker that accepts the connection and then acknowledges nothing is left and tried again', async () => {
  const { broker, sink } = await rig({ puback: () => null }, 2, { limits: { mqtt_acknowledge_ms_max: 60 } });
  await vi.waitUntil(() => broker.connections() >= 3, WAIT);
  expect(sink.status().code).toBe('mqtt_unreachable');
  expect(sink.status().counters['waiting']).toBe(2);
});

test('an acknowledgement out of order settles nothing ahead of the oldest', async () => {
  const puback = (found: Published) =>
    isMetrics(found) && sequenceOf(found) === 1 && found.connection === 1 ? null : 0;
  const { broker, history, drained } = await rig({ puback }, 3, { limits: { mqtt_acknowledge_ms_max: 200 } });
  await vi.waitUntil(() => metrics(broker).length === 3, WAIT);
  expect(history.outbox.oldest('mqtt', 5).map(({ sequence }) => sequence)).toEqual([1, 2, 3]);
  await drained();
  expect(metrics(broker).map(sequenceOf)).toEqual([1, 2, 3, 1, 2, 3]);
});

test('stop is bounded where the broker answers nothing any more', async () => {
  const { broker, sink } = await rig({ puback: (found) => (isMetrics(found) ? null : 0) }, 1);
  await vi.waitUntil(() => metrics(broker).length === 1, WAIT);
  await sink.stop();
  expect(sink.status().state).toBe('stopped');
});
