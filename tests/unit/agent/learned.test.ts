/**
 * Goal: what the minute has learned is kept with its state, over a restart and for `check`, until a sensor is replaced.
 * Method: states as text, and a real store in a temporary folder.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { NOTHING_LEARNED } from '../../../agent/cycle/learning/learner.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { appendMaintenance } from '../../../agent/history/maintenance.ts';
import { HistoryReader } from '../../../agent/history/reader.ts';
import { MINUTE_START } from '../../../agent/minute.ts';
import { readState, stateText } from '../../../agent/state.ts';
import { ChillerWatch } from '../../../agent/watch.ts';

const FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
const T0 = 1_795_000_020_000;

const CELL = { way: 'any chilled_water', minutes: 12, x: -4.71, y: -0.24, z: -0.19, variance: 1e-5, day: 20_600.5 };
const learned = { ...NOTHING_LEARNED, since: 5, cells: [{ ...CELL, last: 20_600, days: 2 }] };

test('what was learned goes on after a restart', () => {
  const { state } = must(readState(stateText({ ...MINUTE_START, sequence: 7, learned }), 'CH-1'));
  expect(state.learned).toEqual(learned);
});

test('a state from before anything was learned begins with nothing', () => {
  const { learned: _, ...before } = { ...MINUTE_START, sequence: 7 };
  const { state } = must(readState(JSON.stringify({ version: 1, ...before }), 'CH-1'));
  expect(state).toEqual({ ...MINUTE_START, sequence: 7 });
});

test('goes on in the store; an entry of a sensor replaced makes the next minute begin anew', async () => {
  const read = await loadSite(FILE, { env: {} });
  if (!read.ok) throw new Error(JSON.stringify(read.fault));
  const site = read.value;
  const [chiller] = site.chillers;
  if (chiller === undefined) throw new Error('no chiller');
  const folder = mkdtempSync(path.join(tmpdir(), 'tonhour-test-'));
  const history = must(openHistory({ folder }));
  const reader = must(HistoryReader.open(folder));
  onTestFinished(() => {
    reader.close();
    history.close();
    rmSync(folder, { recursive: true, force: true });
  });
  const kept = () => must(readState(must(reader.state(chiller.id))?.state ?? null, chiller.id)).state.learned;
  const state = stateText({ ...MINUTE_START, sequence: 7, learned });
  const nothing = { messages: [], fast: [], alarmEvents: [] };
  must(history.commitMinute({ chiller: chiller.id, sequence: 7, time: T0, state, record: '{}', ...nothing }));
  const clock = { now: () => T0, monotonic: () => 0 };
  const watch = must(ChillerWatch.open({ site, chiller, history, clock, root: 'tonhour/kestrel-quay' }));
  const link = { state: 'connected', reason: null, since: T0, counters: {} } as const;
  const fold = (i: number) => watch.fold({ from: T0 + 60_000 * (i - 1), to: T0 + 60_000 * i, missed: 0 }, link);
  must(fold(1));
  expect(kept()).toEqual(learned);
  const work = { chiller: chiller.id, time: T0 + 70_000, entered: T0 + 80_000, text: 'T2 replaced', mass_kg: null };
  must(appendMaintenance(folder, { ...work, kind: 'sensor_replaced' }));
  must(fold(2));
  expect(kept()).toMatchObject({ since: T0 + 70_000, cells: [] });
});
