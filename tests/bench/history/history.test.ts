/**
 * What the store costs, measured and printed: minutes committed per second, bytes per minute and chiller, time of a
 * trend, and how fast the sink drains against real time. No time is asserted; the ratios are of one run.
 */
import { readdirSync, statSync } from 'node:fs';
import path from 'node:path';
import { connectAsync } from 'mqtt';
import { expect, onTestFinished, test, vi } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { Store } from '../../../agent/history/store.ts';
import type { MinuteCommit } from '../../../agent/history/types.ts';
import { startBroker } from '../../../agent/sinks/broker.ts';
import { MqttSink } from '../../../agent/sinks/mqtt.ts';
import { open, START, temporaryFolder } from '../../unit/history/helpers.ts';

const METRICS = 200;
const DAYS = 4;
const ALL = { chiller: 'CH-1', from: 0, to: Number.MAX_SAFE_INTEGER };

/** A reproducible walk: each metric drifts by a few tenths of a percent, six digits, as measured figures do. */
function walker(): (sequence: number) => { record: string; payload: string } {
  let seed = 20260701;
  const random = () => {
    seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0;
    return seed / 2 ** 32 - 0.5;
  };
  const names = Array.from({ length: METRICS }, (_, index) => `component_${index % 12}.quantity_number_${index}`);
  const levels = names.map(() => 5 * 10 ** (2.3 * (random() + 0.5)));
  const state = levels.map(() => 0);
  return (sequence) => {
    const values: Record<string, number> = {};
    const uncertainty: Record<string, number> = {};
    names.forEach((name, index) => {
      const moved = 0.97 * (state[index] as number) + 0.006 * random();
      state[index] = moved;
      const value = (levels[index] as number) * (1 + moved);
      values[name] = Number(value.toPrecision(6));
      uncertainty[name] = Number((0.01 * value).toPrecision(3));
    });
    const time = new Date(START + sequence * 60_000).toISOString();
    const record = JSON.stringify({ time, sequence, state: 'steady', values, uncertainty, quality: {} });
    return { record, payload: record };
  };
}

function minuteOf(sequence: number, { record, payload }: { record: string; payload: string }): MinuteCommit {
  const end = START + sequence * 60_000;
  const times = Array.from({ length: 12 }, (_, index) => end - 60_000 + (index + 1) * 5000);
  const fast = ['condenser.level', 'flash_tank.level', 'condenser_valve.position', 'tank_valve.position'].map(
    (point, index) => ({ point, times, values: times.map((_, k) => Number((40 + index + 0.1 * k).toFixed(2))) }),
  );
  const common = { sink: 'mqtt', retain: false, chiller: 'CH-1', sequence };
  return {
    chiller: 'CH-1',
    sequence,
    time: end,
    state: JSON.stringify({ filling: 'x'.repeat(4000) }),
    record,
    messages: [
      { ...common, address: 'tonhour/kestrel-quay/CH-1/metrics', payload },
      { ...common, address: 'tonhour/kestrel-quay/CH-1/valves', payload: '{"loops":{}}' },
    ],
    fast,
    alarmEvents: [],
  };
}

function sizeOf(folder: string): number {
  return readdirSync(folder).reduce((sum, name) => sum + statSync(path.join(folder, name)).size, 0);
}

function timed<T>(work: () => T): { ms: number; value: T } {
  const begin = performance.now();
  const value = work();
  return { ms: performance.now() - begin, value };
}

test('the store over four days of one chiller with 200 metrics', () => {
  const folder = temporaryFolder();
  const history = open({ folder });
  const next = walker();
  const minutes = DAYS * 1440;
  const given = Array.from({ length: 240 }, (_, index) => next(index));
  let longest = 0;
  const { ms } = timed(() => {
    for (let sequence = 1; sequence <= minutes; sequence++) {
      const whole = minuteOf(sequence, given[sequence % 240] as { record: string; payload: string });
      const one = timed(() =>
        must(history.commitMinute({ ...whole, messages: sequence > minutes - 300 ? whole.messages : [] })),
      );
      longest = Math.max(longest, one.ms);
    }
  });
  const trend = (hours: number) =>
    timed(() => {
      for (let index = 0; index < 10; index++) {
        const from = START + (minutes - hours * 60) * 60_000;
        const name = `component_${index}.quantity_number_${index}`;
        must(history.series({ ...ALL, from, name, step_s: Math.max(60, hours * 9) }));
      }
    }).ms;
  const trends = { hour: trend(1), day: trend(24), all_days: trend(DAYS * 24) };
  history.close();
  const store = new Store(path.join(folder, 'history.sqlite'));
  const pages = store.all(
    "SELECT CASE WHEN name IN ('packed', 'block') THEN 'packed minutes' ELSE name END AS part, sum(pgsize) AS bytes FROM dbstat GROUP BY 1 ORDER BY 2 DESC LIMIT 5",
  );
  store.close();
  console.log({
    minutes,
    minutes_per_s: Math.round((1000 * minutes) / ms),
    times_real_time: Math.round((60_000 * minutes) / ms),
    longest_commit_ms: longest.toFixed(1),
    bytes_per_minute: Math.round(sizeOf(folder) / minutes),
    json_bytes_per_minute: given[1]?.record.length,
    parts_bytes_per_minute: Object.fromEntries(
      pages.map((row) => [row['part'], Math.round(Number(row['bytes']) / minutes)]),
    ),
    ten_trends_ms: Object.fromEntries(Object.entries(trends).map(([span, value]) => [span, value.toFixed(1)])),
  });
  expect(minutes).toBeGreaterThan(0);
});

test('the same minutes as rows of JSON, for comparison', () => {
  const folder = temporaryFolder();
  const store = new Store(path.join(folder, 'rows.sqlite'));
  store.exec(
    'CREATE TABLE minute (chiller TEXT, sequence INTEGER, time INTEGER, record TEXT, UNIQUE (chiller, sequence))',
  );
  const next = walker();
  const given = Array.from({ length: 240 }, (_, index) => next(index));
  const minutes = DAYS * 1440;
  for (let sequence = 1; sequence <= minutes; sequence++)
    store.run(
      'INSERT INTO minute VALUES (?, ?, ?, ?)',
      'CH-1',
      sequence,
      START + sequence * 60_000,
      given[sequence % 240]?.record ?? '',
    );
  const trend = (hours: number) =>
    timed(() => {
      for (let index = 0; index < 10; index++)
        store.all(
          `SELECT time / ? AS bucket, min(v), max(v), avg(v) FROM
            (SELECT time, json_extract(record, ?) AS v FROM minute WHERE chiller = 'CH-1' AND sequence > ?) GROUP BY 1`,
          Math.max(60, hours * 9) * 1000,
          `$.values."component_${index}.quantity_number_${index}"`,
          minutes - hours * 60,
        );
    }).ms;
  console.log({
    bytes_per_minute: Math.round(sizeOf(folder) / minutes),
    ten_trends_ms: { hour: trend(1).toFixed(1), day: trend(24).toFixed(1), all_days: trend(DAYS * 24).toFixed(1) },
  });
  store.close();
  expect(minutes).toBeGreaterThan(0);
});

test('a day of backlog drains', async () => {
  const history = open();
  const next = walker();
  const given = Array.from({ length: 60 }, (_, index) => next(index));
  const minutes = 1440;
  for (let sequence = 1; sequence <= minutes; sequence++)
    must(history.commitMinute(minuteOf(sequence, given[sequence % 60] as { record: string; payload: string })));
  const broker = await startBroker();
  onTestFinished(() => broker.stop());
  const subscriber = await connectAsync(broker.url);
  onTestFinished(() => subscriber.endAsync(true));
  let received = 0;
  subscriber.on('message', () => received++);
  await subscriber.subscribeAsync('tonhour/+/+/+', { qos: 1 });
  const sink = new MqttSink({
    outbox: history.outbox,
    url: broker.url,
    clientId: 'bench',
    statusAddress: 'tonhour/kestrel-quay/status',
    version: '0',
  });
  onTestFinished(() => sink.stop());
  let held = 0;
  let last = performance.now();
  const beat = setInterval(() => {
    held = Math.max(held, performance.now() - last - 5);
    last = performance.now();
  }, 5);
  const begin = performance.now();
  sink.start();
  await vi.waitUntil(() => received >= 2 * minutes, { timeout: 100_000, interval: 10 });
  const ms = performance.now() - begin;
  clearInterval(beat);
  console.log({
    messages: 2 * minutes,
    messages_per_s: Math.round((2000 * minutes) / ms),
    times_real_time: Math.round((60_000 * minutes) / ms),
    longest_hold_of_the_loop_ms: held.toFixed(1),
  });
  // Back-fill is to go at fifty times real time or faster: a ratio that holds on any machine that this could run on.
  expect((60_000 * minutes) / ms).toBeGreaterThan(50);
});
