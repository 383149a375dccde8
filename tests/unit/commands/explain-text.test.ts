/** Goal: what the vessels store stands in `check --explain`, with what gives it; nothing of it where none is told. */
import { expect, test } from 'vitest';
import type { CheckedChiller } from '../../../agent/checking.ts';
import { explainText } from '../../../agent/commands/explain-text.ts';
import { byHand, CASES, type Case, parametersOf, points, solved } from '../../oracle/cycle/levels-by-hand.ts';

/** Of the condenser 1.5 kg/s more than drains, of the tank so much less than its liquid leaves. */
const PARALLEL = CASES[1] as Case;
const HAND = byHand(PARALLEL, { drained: 32, to_second: 0, feed: 27 }, 30);

function text(stored: boolean): string[] {
  const solution = solved(parametersOf(PARALLEL, stored), points(PARALLEL, HAND));
  const checked: Pick<CheckedChiller, 'chiller' | 'points' | 'solution' | 'one_more'> = {
    chiller: 'CH-1',
    points: [],
    solution,
    one_more: [],
  };
  return explainText(checked as CheckedChiller).split('\n');
}

test('condenser, tank, and the evaporator that gives what both take', () => {
  const lines = text(true);
  const at = lines.findIndex((line) => line.startsWith('stored in'));
  const rows = lines.slice(at + 2, at + 5).map((line) => line.split(/ {2,}/));
  const found = new Map(rows.map(([name, kg]) => [name, Number(kg)]));
  expect(found.get('condenser')).toBeCloseTo(HAND.gained('condenser'), 2);
  expect(found.get('flash_tank')).toBeCloseTo(HAND.gained('flash_tank'), 2);
  expect(found.get('evaporator')).toBeCloseTo(HAND.gained('evaporator'), 2);
  expect(lines.some((line) => line.startsWith('mass: condensate'))).toBe(true);
  expect(lines.some((line) => line.startsWith('condenser.storage_mass_flow'))).toBe(true);
});

test('without areas there is no such table, and the metric says what it lacks', () => {
  const lines = text(false);
  expect(lines.some((line) => line.startsWith('stored in'))).toBe(false);
  expect(lines.find((line) => line.startsWith('condenser.storage_mass_flow'))).toContain(
    'vessels.condenser is not configured',
  );
});
