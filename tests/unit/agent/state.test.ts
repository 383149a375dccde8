// Goal: a state of an earlier version goes on, with a copy of the store made before it is overwritten; one of a newer
// version is refused and left as it is. Method: a real store in a temporary folder, opened by the agent's watch.
import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { must, type Result } from '../../../agent/base/result.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import { MINUTE_START } from '../../../agent/minute.ts';
import type { ChillerSite } from '../../../agent/site/site.ts';
import { readState, STATE_VERSION, stateText } from '../../../agent/state.ts';
import { ChillerWatch } from '../../../agent/watch.ts';

const FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
const read = await loadSite(FILE, { env: {} });
if (!read.ok) throw new Error(JSON.stringify(read.fault));
const site = read.value;
const [first, second] = site.chillers as [ChillerSite, ChillerSite];
const T0 = Date.UTC(2026, 10, 20);
const BEFORE = JSON.stringify({ ...MINUTE_START, sequence: 41 });
const CONNECTED = { state: 'connected', since: T0, reason: null, counters: {} } as const;

let folder: string;
let history: History;
beforeEach(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'tonhour-test-'));
  history = must(openHistory({ folder, now: () => T0 }));
});
afterEach(() => {
  history.close();
  rmSync(folder, { recursive: true, force: true });
});

function keep(chiller: ChillerSite, state: string): void {
  const nothing = { messages: [], fast: [], alarmEvents: [] };
  must(history.commitMinute({ chiller: chiller.id, sequence: 41, time: T0, state, record: '{}', ...nothing }));
}

function open(chiller: ChillerSite): Result<ChillerWatch> {
  const clock = { now: () => T0, monotonic: () => 0 };
  return ChillerWatch.open({ site, chiller, history, clock, root: 'tonhour/kestrel-quay' });
}

const copies = (): string[] => readdirSync(folder).filter((name) => name.includes('.state-'));

test('a state that says no version goes on; the store is copied first, once for all chillers and starts', () => {
  for (const chiller of [first, second]) keep(chiller, BEFORE);
  for (const chiller of [first, second, first]) must(open(chiller));
  expect(copies()).toEqual(['history.sqlite.state-0-20261120T000000Z']);
  const watch = must(open(first));
  const record = must(watch.fold({ from: T0, to: T0 + 60_000, missed: 0 }, CONNECTED));
  expect(record.sequence).toBe(42);
  expect(JSON.parse(must(history.loadState(first.id))?.state ?? '')).toMatchObject({
    version: STATE_VERSION,
    sequence: 42,
  });
  // What was there before is in the copy, word for word.
  const copy = new DatabaseSync(path.join(folder, copies()[0] as string), { readOnly: true });
  expect(copy.prepare('SELECT state FROM state WHERE chiller = ?').get(first.id)).toEqual({ state: BEFORE });
  copy.close();
});

test('a state of this version makes no copy, and comes back as it was', () => {
  const state = { ...MINUTE_START, sequence: 41 };
  keep(first, stateText(state));
  must(open(first));
  expect(copies()).toEqual([]);
  expect(must(readState(stateText(state), 'CH-1'))).toEqual({ state, version: STATE_VERSION });
});

test('a state of a newer version is refused with what to do, and left alone', () => {
  const newer = JSON.stringify({ version: STATE_VERSION + 1, ...MINUTE_START, sequence: 41 });
  keep(first, newer);
  const opened = open(first);
  expect(opened).toMatchObject({ ok: false, fault: { code: 'history_newer' } });
  expect(opened.ok ? '' : opened.fault.message).toMatch(
    /CH-1 is of version 2, .* up to 1: install the agent that wrote it/,
  );
  expect(must(history.loadState(first.id))?.state).toBe(newer);
  expect(copies()).toEqual([]);
});

test.each(['{', '[]', 'null', '{"version":"1"}', '{"version":1}'])('%s is no state', (text) => {
  expect(readState(text, 'CH-1')).toMatchObject({ ok: false, fault: { code: 'history_corrupt' } });
});
