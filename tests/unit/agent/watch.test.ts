// Goal: what the store holds of an earlier version, or damaged, is shown as far as it is known and breaks nothing.
// Method: a real store in a temporary folder, opened as after a restart.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import { MINUTE_START, type MinuteRecord } from '../../../agent/minute.ts';
import type { ChillerSite } from '../../../agent/site/site.ts';
import { ChillerWatch } from '../../../agent/watch.ts';

const FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
const read = await loadSite(FILE, { env: {} });
if (!read.ok) throw new Error(JSON.stringify(read.fault));
const site = read.value;
const chiller = site.chillers[0] as ChillerSite;
const T0 = 1_795_000_020_000;
const TIME = '2026-11-18T11:47:00Z';

let folder: string;
let history: History;
beforeEach(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'tonhour-test-'));
  history = must(openHistory({ folder }));
});
afterEach(() => {
  history.close();
  rmSync(folder, { recursive: true, force: true });
});

function open(): ChillerWatch {
  const clock = { now: () => T0, monotonic: () => 0 };
  return must(ChillerWatch.open({ site, chiller, history, clock, root: 'tonhour/kestrel-quay' }));
}

function reopened(record: unknown): MinuteRecord | null {
  const state = JSON.stringify({ ...MINUTE_START, sequence: 7 });
  const nothing = { messages: [], fast: [], alarmEvents: [] };
  must(
    history.commitMinute({
      chiller: chiller.id,
      sequence: 7,
      time: T0,
      state,
      record: JSON.stringify(record),
      ...nothing,
    }),
  );
  return open().record;
}

const EMPTY = {
  chiller: chiller.id,
  time: TIME,
  sequence: 7,
  interval_s: 60,
  state: 'unknown',
  state_since: TIME,
  economizer: 'unknown',
  figures: {},
  points: {},
  states: {},
  ghost: {},
  standstill: null,
  reconciliation: { chi_square: null, corrections: {}, suspects: [], since: null, off: {} },
  alarms: [],
};

test('a record that knows nothing but its minute is an empty one', () => {
  expect(reopened({ time: TIME, sequence: 7 })).toEqual(EMPTY);
});

test('what is there is kept, beside what is not', () => {
  const record = reopened({
    time: TIME,
    sequence: 7,
    state: 'steady',
    values: { 'unit.power': 800, 'unit.cop': null },
  });
  expect(record).toMatchObject({
    state: 'steady',
    figures: {
      'unit.power': { value: 800, uncertainty: null, quality: 'good', reason: null },
      'unit.cop': { value: null },
    },
    points: {},
    alarms: [],
  });
});

test('entries of another shape are left out', () => {
  const alarm = { id: 'head-pressure', evidence: [] };
  const record = reopened({
    time: TIME,
    sequence: 7,
    values: { 'unit.power': '800 kW', 'unit.cop': 5 },
    point_detail: { 'unit.power': 800, 'condenser.pressure': null },
    states: [1, 2],
    alarms: [alarm, 'controller-lost', { id: 'no-evidence' }, null],
  });
  expect(Object.keys(record?.figures ?? {})).toEqual(['unit.cop']);
  expect([record?.points, record?.states, record?.alarms]).toEqual([{}, {}, [alarm]]);
});

test.each([
  ['without a time', { sequence: 7 }],
  ['with a time that is none', { time: 'yesterday', sequence: 7 }],
  ['without a number', { time: TIME }],
])('a record %s is dropped, and the watch goes on from the state', (_, record) => {
  expect(reopened(record)).toBeNull();
  expect(open().last).toBe(T0);
});

test('a record of this version comes back as it was', () => {
  const watch = open();
  const link = { state: 'connected', since: T0, reason: null, counters: {} } as const;
  const record = must(watch.fold({ from: T0 - 60_000, to: T0, missed: 0 }, link));
  expect(Object.keys(record.figures).length).toBeGreaterThan(0);
  expect(open().record).toEqual(record);
});
