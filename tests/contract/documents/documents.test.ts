/**
 * The published documents against the running agent: every answer of the HTTP API and every MQTT message is what
 * config/openapi.json and config/asyncapi.json say, judged by a JSON Schema validator that knows nothing of the agent.
 */
import { readFileSync } from 'node:fs';
import { Ajv2020 } from 'ajv/dist/2020.js';
import mqtt, { type MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { parseOpenMetrics } from '../../unit/health/parser.ts';
import { type RunningAgent, startAgent } from './agent.ts';

const read = (path: string) => JSON.parse(readFileSync(new URL(`../../../${path}`, import.meta.url), 'utf8'));
const OPENAPI = read('config/openapi.json');
const ASYNCAPI = read('config/asyncapi.json');
const ROOT = 'tonhour/kestrel-quay';

let agent: RunningAgent;
let client: MqttClient;
const messages = new Map<string, Heard[]>();

function check(schema: unknown, value: unknown): readonly unknown[] {
  const ajv = new Ajv2020({ strict: false, validateFormats: false, allErrors: true });
  ajv.addSchema({ $id: 'api', components: OPENAPI.components });
  const judge = ajv.compile(JSON.parse(JSON.stringify(schema).replaceAll('"#/', '"api#/')));
  judge(value);
  return judge.errors ?? [];
}

interface Heard {
  readonly payload: unknown;
  readonly retain: boolean;
  readonly qos: number;
}

interface Raised {
  readonly active: boolean;
}

function heard(topic: string): Promise<Heard> {
  return vi.waitUntil(() => messages.get(`${ROOT}/${topic}`)?.at(-1), { timeout: 50_000, interval: 50 });
}

beforeAll(async () => {
  agent = await startAgent();
  client = await mqtt.connectAsync(agent.broker);
  client.on('message', (topic, payload, { retain, qos }) => {
    const list = messages.get(topic) ?? [];
    messages.set(topic, [...list, { payload: JSON.parse(payload.toString()), retain, qos }].slice(-10));
  });
  await client.subscribeAsync(`${ROOT}/#`, { qos: 1 });
  await heard('CH-1/metrics');
  // Its packet is asked for below; the alarm is raised in the minute that its rule allows, not in the first.
  await vi.waitUntil(
    () => (messages.get(`${ROOT}/CH-1/alarms/condenser-pressure-high`)?.at(-1)?.payload as Raised | undefined)?.active,
    { timeout: 50_000, interval: 50 },
  );
});

afterAll(async () => {
  await client?.endAsync();
  await agent?.stop();
});

const NOW = {
  from: new Date(Date.now() - 3_600_000).toISOString(),
  to: new Date(Date.now() + 3_600_000).toISOString(),
};
const QUERY = `?metric=unit.capacity&step=60&from=${NOW.from}&to=${NOW.to}`;

const at = (path: string) => new URL(path, agent.page);

describe('HTTP', () => {
  const json = Object.keys(OPENAPI.paths).filter((path) => !['/api/live', '/metrics'].includes(path));

  test.each(json)('%s answers as documented', async (path) => {
    const answer = await fetch(
      at(
        path.replace('{chiller}', 'CH-1').replace('{event}', 'condenser-pressure-high') +
          (path.endsWith('history') ? QUERY : ''),
      ),
    );
    const schema = OPENAPI.paths[path].get.responses[answer.status].content['application/json'].schema;
    expect(answer.headers.get('content-type')).toMatch(/^application\/json/);
    expect(check(schema, await answer.json())).toEqual([]);
    expect(answer.status).toBe(200);
  });

  test.each([
    ['/api/chillers/CH-9/now', '/api/chillers/{chiller}/now', 404],
    ['/api/chillers/CH-1/history?metric=unit.capacity', '/api/chillers/{chiller}/history', 400],
    [
      `/api/chillers/CH-1/history${QUERY.replace('unit.capacity', 'unit.nothing')}`,
      '/api/chillers/{chiller}/history',
      404,
    ],
    ['/api/season?chiller=CH-9', '/api/season', 404],
    ['/api/season?from=2026-02-30', '/api/season', 400],
    ['/api/season?step=week', '/api/season', 400],
    ['/api/season?from=2026-01-01&from=2026-01-02', '/api/season', 400],
  ])('$1 refuses with $2', async (url, path, status) => {
    const answer = await fetch(at(url));
    expect(answer.status).toBe(status);
    const schema = OPENAPI.paths[path].get.responses[status].content['application/json'].schema;
    expect(check(schema, await answer.json())).toEqual([]);
  });

  test('/metrics is OpenMetrics and counts the minutes', async () => {
    const answer = await fetch(at('/metrics'));
    expect(answer.headers.get('content-type')).toMatch(/^application\/openmetrics-text/);
    const done = parseOpenMetrics(await answer.text()).find(({ name }) => name === 'tonhour_minutes_done');
    expect(done?.samples[0]?.value).toBeGreaterThan(0);
  });

  test('/api/live sends minutes as `now` answers them', async () => {
    const ending = new AbortController();
    const answer = await fetch(at('/api/live'), { signal: ending.signal });
    expect(answer.headers.get('content-type')).toMatch(/^text\/event-stream/);
    let text = '';
    for await (const part of answer.body ?? []) {
      text += Buffer.from(part).toString();
      if (/event: minute\n[\s\S]*?\n\n/.test(text)) break;
    }
    ending.abort();
    const data = /event: minute\n(?:id: .*\n)?data: (.*)\n/.exec(text)?.[1] ?? text;
    expect(check({ $ref: '#/components/schemas/Now' }, JSON.parse(data))).toEqual([]);
  });

  test('planted: the validator refuses an answer with a field too many', async () => {
    const answer = await fetch(at('/api/chillers/CH-1/now'));
    const now = (await answer.json()) as object;
    expect(check({ $ref: '#/components/schemas/Now' }, { ...now, more: 1 })).not.toEqual([]);
  });
});

describe('MQTT', () => {
  test.each([
    ['status', 'status', 'status_status'],
    ['describe', 'CH-1/describe', 'describe_describe'],
    ['metrics', 'CH-1/metrics', 'metrics_minute'],
    ['alarms', 'CH-1/alarms/condenser-pressure-high', 'alarms_alarm'],
    ['callout', 'CH-1/callout', 'callout_packet'],
  ])('%s is as documented', async (channel, topic, message) => {
    const { payload, qos } = await heard(topic);
    expect(check(ASYNCAPI.components.messages[message].payload, payload)).toEqual([]);
    expect(qos).toBe(ASYNCAPI.operations[`publish_${channel}`].bindings.mqtt.qos);
  });

  test('what is documented as retained is there for a late subscriber, and nothing else', async () => {
    await heard('CH-1/alarms/condenser-pressure-high');
    const late = await mqtt.connectAsync(agent.broker);
    const kept = new Set<string>();
    late.on('message', (topic, _payload, { retain }) => retain && kept.add(topic.replace(/alarms\/.*/, 'alarms')));
    await late.subscribeAsync(`${ROOT}/#`, { qos: 1 });
    await expect.poll(() => kept.size, { timeout: 10_000 }).toBeGreaterThanOrEqual(3);
    await late.endAsync();
    expect([...kept].sort()).toEqual([`${ROOT}/CH-1/alarms`, `${ROOT}/CH-1/describe`, `${ROOT}/status`]);
  });

  test('every metric that is published is described', async () => {
    const metrics = (await heard('CH-1/metrics')).payload as { values: Record<string, number | null> };
    const { metrics: described } = (await heard('CH-1/describe')).payload as { metrics: Record<string, unknown> };
    expect(Object.keys(metrics.values).filter((name) => !(name in described))).toEqual([]);
  });
});
