/** Goal: what the minute has learned is kept with its state. Method: states as text, as the store has them. */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { NOTHING_LEARNED } from '../../../agent/cycle/learning/learner.ts';
import { MINUTE_START } from '../../../agent/minute.ts';
import { readState, stateText } from '../../../agent/state.ts';

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
