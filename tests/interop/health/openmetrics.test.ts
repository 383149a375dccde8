/**
 * The agent's own metrics read by another implementation of OpenMetrics: the Python client library's parser (Debian:
 * python3-prometheus-client).
 */
import { spawnSync } from 'node:child_process';
import { expect, test } from 'vitest';
import { createAgentMetrics } from '../../../agent/health/metrics.ts';

const READER = `
import json, sys
from prometheus_client.openmetrics.parser import text_string_to_metric_families
families = text_string_to_metric_families(sys.stdin.read())
print(json.dumps([[f.name, f.type, f.unit, [[s.name, s.labels, s.value] for s in f.samples]] for f in families]))
`;

function read(text: string): { status: number | null; err: string; families: [string, string, string, unknown[][]][] } {
  const { status, stdout, stderr } = spawnSync('/usr/bin/python3', ['-c', READER], { input: text, encoding: 'utf8' });
  return { status, err: stderr, families: status === 0 ? JSON.parse(stdout) : [] };
}

function busyAgent(): string {
  const metrics = createAgentMetrics({ version: '0.1.0', started_s: 1_790_000_000 });
  metrics.minuteDue('CH-1');
  metrics.minuteDone('CH-1', 0.0123);
  metrics.source('say "CH" \\ 2\n', {
    state: 'connected',
    since: 0,
    reason: null,
    counters: { requests: 5, timeouts: 1 },
  });
  metrics.outbox('mqtt', { waiting: 1, accepted: 2, rejected: 3, dropped: 4, bytes: 5 });
  metrics.sink('mqtt', 'lost');
  return metrics.text();
}

test('it reads every family, with kinds, units, labels and values', () => {
  const { status, err, families } = read(busyAgent());
  expect(err).toBe('');
  expect(status).toBe(0);
  const family = (name: string) => families.find(([one]) => one === name);
  expect(family('tonhour_minutes_due')).toEqual([
    'tonhour_minutes_due',
    'counter',
    '',
    [['tonhour_minutes_due_total', { chiller: 'CH-1' }, 1]],
  ]);
  expect(family('tonhour_minute_duration_seconds')?.slice(1, 3)).toEqual(['histogram', 'seconds']);
  expect(family('tonhour_source_requests')?.[3]).toEqual([
    ['tonhour_source_requests_total', { chiller: 'say "CH" \\ 2\n' }, 5],
  ]);
  expect(family('tonhour_sink_state')?.[1]).toBe('stateset');
  expect(families).toHaveLength(busyAgent().match(/^# TYPE /gm)?.length ?? 0);
});

test.each([
  ['a broken end', (text: string) => text.replace('# EOF\n', '')],
  [
    'a counter without its suffix',
    (text: string) => text.replaceAll('tonhour_minutes_due_total', 'tonhour_minutes_due'),
  ],
  [
    'a unit that the name lacks',
    (text: string) =>
      text.replace('# UNIT tonhour_minute_duration_seconds seconds', '# UNIT tonhour_minute_duration_seconds bytes'),
  ],
])('and it refuses %s, so that its approval means something', (_what, spoil) => {
  const { status, err } = read(spoil(busyAgent()));
  expect(status).toBe(1);
  expect(err).toContain('ValueError');
});
