/** The agent's own metrics as text, read back by a strict reader of the format that knows nothing of the writer. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createAgentMetrics } from '../../../agent/health/metrics.ts';
import { createRegistry } from '../../../agent/health/openmetrics.ts';
import { parseOpenMetrics } from './parser.ts';

const usage = () => ({ resident_bytes: 123_456, processor_s: 1.5 });
const fresh = () => createAgentMetrics({ version: '0.1.0', started_s: 1_790_000_000, usage });

function value(text: string, name: string, labels: Record<string, string> = {}): number | undefined {
  return parseOpenMetrics(text)
    .flatMap(({ samples }) => samples)
    .find((sample) => sample.name === name && Object.entries(labels).every(([key, one]) => sample.labels[key] === one))
    ?.value;
}

describe('the agent', () => {
  test('is valid before anything happened', () => {
    const names = parseOpenMetrics(fresh().text()).map(({ name }) => name);
    expect(names).toContain('tonhour_minutes_due');
    expect(value(fresh().text(), 'tonhour_history_failures_total')).toBe(0);
    expect(value(fresh().text(), 'process_resident_memory_bytes')).toBe(123_456);
    expect(value(fresh().text(), 'tonhour_build', { version: '0.1.0' })).toBe(1);
  });

  test('counts minutes due, done and how long they took', () => {
    const metrics = fresh();
    for (let i = 0; i < 3; i++) metrics.minuteDue('CH-1');
    metrics.minuteDone('CH-1', 0.02);
    metrics.minuteDone('CH-1', 3);
    const text = metrics.text();
    expect(value(text, 'tonhour_minutes_due_total', { chiller: 'CH-1' })).toBe(3);
    expect(value(text, 'tonhour_minutes_done_total', { chiller: 'CH-1' })).toBe(2);
    const bucket = (le: string) => value(text, 'tonhour_minute_duration_seconds_bucket', { le });
    expect([bucket('0.005'), bucket('0.025'), bucket('2.0'), bucket('10.0'), bucket('+Inf')]).toEqual([0, 1, 1, 2, 2]);
    expect(value(text, 'tonhour_minute_duration_seconds_sum')).toBeCloseTo(3.02, 12);
  });

  test('takes over what sources, outbox and broker link count', () => {
    const metrics = fresh();
    metrics.source('CH-1', { state: 'lost', since: 0, reason: 'no reply', counters: { requests: 40, anomalies: 2 } });
    metrics.outbox('mqtt', { waiting: 7, accepted: 100, rejected: 1, dropped: 3, bytes: 900 });
    metrics.sink('mqtt', 'connected');
    metrics.historyFailed();
    const text = metrics.text();
    expect(value(text, 'tonhour_source_requests_total', { chiller: 'CH-1' })).toBe(40);
    expect(value(text, 'tonhour_source_events_total', { chiller: 'CH-1', event: 'anomalies' })).toBe(2);
    expect(value(text, 'tonhour_source_link', { tonhour_source_link: 'lost' })).toBe(1);
    expect(value(text, 'tonhour_source_link', { tonhour_source_link: 'connected' })).toBe(0);
    expect(value(text, 'tonhour_outbox_waiting', { sink: 'mqtt' })).toBe(7);
    expect(value(text, 'tonhour_outbox_settled_total', { sink: 'mqtt', end: 'dropped' })).toBe(3);
    expect(value(text, 'tonhour_sink_state', { sink: 'mqtt', tonhour_sink_state: 'connected' })).toBe(1);
    expect(value(text, 'tonhour_history_failures_total')).toBe(1);
  });

  test('says how a hosted Node-RED is, and nothing where none is hosted', () => {
    const metrics = fresh();
    const at = (name: string, labels: Record<string, string> = {}) => value(metrics.text(), name, labels);
    expect(at('tonhour_node_red_state')).toBeUndefined();
    metrics.nodeRed({ state: 'ended', starts: 3, failures: { node_red_memory: 2 } });
    expect(at('tonhour_node_red_state', { tonhour_node_red_state: 'ended' })).toBe(1);
    expect(at('tonhour_node_red_state', { tonhour_node_red_state: 'answering' })).toBe(0);
    expect(at('tonhour_node_red_starts_total')).toBe(3);
    expect(at('tonhour_node_red_failures_total', { code: 'node_red_memory' })).toBe(2);
  });

  test('reads real process figures by default', () => {
    const text = createAgentMetrics({ version: '0.1.0', started_s: 1 }).text();
    expect(value(text, 'process_resident_memory_bytes')).toBeGreaterThan(1e6);
    expect(value(text, 'process_cpu_seconds_total')).toBeGreaterThan(0);
  });
});

describe('the registry', () => {
  test('any label value and any number survives the way through the text', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), fc.double(), (label, number) => {
        const registry = createRegistry({ seriesMax: 10 });
        const gauge = registry.gauge({ name: 'a', help: `so "called" \\ ${label}`, labels: ['b'] });
        gauge.set(number, { b: label });
        const family = parseOpenMetrics(registry.text())[0];
        expect(family?.help).toBe(`so "called" \\ ${label}`);
        expect(family?.samples[0]?.labels).toEqual({ b: label });
        expect(family?.samples[0]?.value === number || Number.isNaN(number)).toBe(true);
      }),
    );
  });

  test('series beyond the bound are left out and counted', () => {
    const registry = createRegistry({ seriesMax: 2 });
    const counter = registry.counter({ name: 'a', help: 'x', labels: ['b'] });
    for (const b of ['1', '2', '3', '1', '4']) counter.add({ b });
    expect(parseOpenMetrics(registry.text())[0]?.samples.map((sample) => sample.value)).toEqual([2, 1]);
    expect(registry.dropped()).toBe(2);
  });

  test.each([
    ['a name in the wrong form', () => createRegistry({ seriesMax: 1 }).gauge({ name: 'a-b', help: '' })],
    ['a suffix of the format', () => createRegistry({ seriesMax: 1 }).counter({ name: 'a_total', help: '' })],
    [
      'a unit that the name lacks',
      () => createRegistry({ seriesMax: 1 }).gauge({ name: 'a', unit: 'bytes', help: '' }),
    ],
    [
      'labels it does not take',
      () => createRegistry({ seriesMax: 1 }).gauge({ name: 'a', help: '' }).set(1, { b: '' }),
    ],
    ['a falling counter', () => createRegistry({ seriesMax: 1 }).counter({ name: 'a', help: '' }).add({}, -1)],
  ])('refuses %s', (_what, call) => {
    expect(call).toThrow('assertion broken');
  });
});

describe('the reader finds planted breaches', () => {
  test.each([
    ['no end', '# TYPE a gauge\na 1\n'],
    ['something after the end', '# TYPE a gauge\na 1\n# EOF\n# EOF\n'],
    ['a counter without its suffix', '# TYPE a counter\na 1\n# EOF\n'],
    ['a negative counter', '# TYPE a counter\na_total -1\n# EOF\n'],
    ['a family in two pieces', '# TYPE a gauge\na 1\n# TYPE b gauge\nb 1\n# HELP a x\n# EOF\n'],
    ['metadata after samples', '# TYPE a gauge\na 1\n# HELP a x\n# EOF\n'],
    ['a unit that the name lacks', '# TYPE a gauge\n# UNIT a seconds\n# EOF\n'],
    ['a bare quote', '# TYPE a gauge\na{b="c"d"} 1\n# EOF\n'],
    ['an unknown escape', '# TYPE a gauge\na{b="\\t"} 1\n# EOF\n'],
    ['a series twice', '# TYPE a gauge\na{b="1"} 1\na{b="1"} 2\n# EOF\n'],
    ['a number that is none', '# TYPE a gauge\na 1,5\n# EOF\n'],
    ['buckets that fall', '# TYPE a histogram\na_bucket{le="1"} 2\na_bucket{le="+Inf"} 1\na_count 1\na_sum 1\n# EOF\n'],
    ['no last bucket', '# TYPE a histogram\na_bucket{le="1"} 2\na_count 2\na_sum 1\n# EOF\n'],
    ['a state that is neither 0 nor 1', '# TYPE a stateset\na{a="x"} 2\n# EOF\n'],
    ['an empty line', '# TYPE a gauge\n\na 1\n# EOF\n'],
  ])('%s', (_what, text) => {
    expect(() => parseOpenMetrics(text)).toThrow();
  });
});
