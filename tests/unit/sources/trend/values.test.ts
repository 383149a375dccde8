// Goal: a cell of an export is a number, a missing one, or a word, and never something else. Spellings: common
// practice, no source.
import { describe, expect, test } from 'vitest';
import { bracketed, unitOfWord } from '../../../../agent/site/header-units.ts';
import type { TrendPoint } from '../../../../agent/site/trend-points.ts';
import { Values } from '../../../../agent/sources/trend/values.ts';

function point(name: string, unit: string, states: Record<string, number> | null = null): TrendPoint {
  return { column: 'c', spec: { name, unit } as TrendPoint['spec'], states };
}

const POWER = point('unit.power', 'kW');
const RUNNING = point('unit.running', 'state');

function read(decimal: 'point' | 'comma', cell: string, of = POWER, missing: string[] = []): number | string {
  const found = new Values({ decimal, missing }).read(cell, of);
  return found.kind === 'number' ? found.value : found.kind;
}

describe('numbers', () => {
  test.each([
    ['point', '1234.5', 1234.5],
    ['point', '1,234.5', 1234.5],
    ['point', '1 234 567', 1_234_567],
    ['point', '-.5', -0.5],
    ['point', '+3.2e-2', 0.032],
    ['comma', '1234,5', 1234.5],
    ['comma', '1.234,5', 1234.5],
    ['comma', "1'234,5", 1234.5],
    ['comma', '1.234', 1234],
    ['comma', ',5', 0.5],
    ['point', '612.4 kW', 612.4],
    ['comma', '612,4kW', 612.4],
  ] as const)('decimal %s: %s', (decimal, cell, value) => expect(read(decimal, cell)).toBe(value));

  test.each([
    ['point', '12,34'],
    ['point', '1,2345'],
    ['comma', '12.34'],
    ['point', '0x1F'],
    ['point', 'Infinity'],
    ['point', '1e999'],
    ['point', '12 34'],
    ['point', '612 W'],
    ['point', '612 MW'],
    ['point', '12:30'],
    ['point', 'Comm Fail'],
  ] as const)('decimal %s: %s is none', (decimal, cell) => expect(read(decimal, cell)).toBe('text'));

  test.each(['', 'NaN', 'No data', 'null', '---', 'N/A'])("'%s' is a missing one", (cell) =>
    expect(read('point', cell)).toBe('missing'),
  );

  test('what the map says is missing is no number', () => {
    expect(read('point', '-9999', POWER, ['-9999'])).toBe('missing');
    expect(read('point', 'BAD', POWER, ['bad'])).toBe('missing');
  });
});

describe('states', () => {
  test.each([
    ['On', 1],
    ['FALSE', 0],
    ['Running', 1],
    ['1', 1],
  ])('%s', (cell, value) => expect(read('point', cell, RUNNING)).toBe(value));

  test('words of the map win, and words of states are none of a power', () => {
    expect(read('point', 'Stop', point('unit.running', 'state', { stop: 7 }))).toBe(7);
    expect(read('point', 'On', POWER)).toBe('text');
  });
});

describe('units as exports write them', () => {
  test.each([
    ['°F', 'temperature', 'degF'],
    ['Deg F', 'temperature', 'degF'],
    ['°C', 'temperature_difference', 'K'],
    ['PSIG', 'pressure', 'psig'],
    ['kPa abs.', 'pressure', 'kPa'],
    ['GPM', 'volume_flow', 'gpm'],
    ['m³/h', 'volume_flow', 'm3/h'],
    ['Tons', 'power', 'ton'],
    ['%', 'fraction', '%'],
  ] as const)('%s of a %s', (word, dimension, unit) => expect(unitOfWord(word, dimension)).toBe(unit));

  test.each([
    ['psi', 'pressure'],
    ['kPa', 'pressure'],
    ['bar', 'pressure'],
    ['°F', 'pressure'],
    ['furlong', 'power'],
  ] as const)('%s says no unit of a %s', (word, dimension) => expect(unitOfWord(word, dimension)).toBeNull());

  test.each([
    ['CH1 Evap Press (psig)', 'psig'],
    ['CHW Flow [l/s]', 'l/s'],
    ['Press (psi(g))', 'psi(g)'],
    ['CH1 kW', null],
    ['Temp (avg) of tank', null],
  ])('%s', (header, word) => expect(bracketed(header)).toBe(word));
});
