/**
 * Goal: a register that keeps its value is told from one that is only rounded or may stand. Times in seconds, made by
 * hand.
 */
import { expect, test } from 'vitest';
import { liveliness } from '../../../agent/diagnosis/liveliness.ts';
import { spec } from '../points/samples-of.ts';

const POWER = spec({ name: 'unit.power', unit: 'kW' });

function read(raws: readonly number[], every_s = 3, given = POWER) {
  return liveliness(given, { times: raws.map((_, index) => 1000 * every_s * index), raws });
}

test('a fine number that stays the same to the last digit is frozen', () => {
  const { code, message } = read([812.34567, 812.34567, 812.34567, 812.34567]);
  expect(code).toBe('frozen');
  expect(message).toContain('4 readings over 9 s');
});

test('fewer readings, a rounded number, a zero, or a point that may stand say nothing', () => {
  expect(read([812.34567, 812.34567, 812.34567]).code).toBeNull();
  expect(read([812, 812, 812, 812]).code).toBeNull();
  expect(read([812.5, 812.5, 812.5, 812.5]).code).toBeNull();
  expect(read([0, 0, 0, 0]).code).toBeNull();
  const level = spec({ name: 'condenser.level', unit: '%' });
  expect(read([51.2345678, 51.2345678, 51.2345678, 51.2345678], 3, level).code).toBeNull();
});

test('even a rounded measurement moves within minutes', () => {
  expect(read([812, 812, 812, 812], 100).code).toBe('frozen');
});

test('the true interval between changes is seen through faster readings', () => {
  const raws = [1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4].map((value) => value + 0.1234567);
  const { update_s, code, message } = read(raws, 2);
  expect(update_s).toBe(8);
  expect(code).toBe('slow');
  expect(message).toContain('changes every 8 s');
  expect(read([1.12345, 2.12345, 3.12345, 4.12345]).code).toBeNull();
});

test('nothing, or one reading, is no evidence', () => {
  expect(read([])).toEqual({ update_s: null, code: null, message: null });
  expect(read([1.2345678])).toEqual({ update_s: null, code: null, message: null });
});
