/**
 * Goal: every reading becomes the right absolute SI figure, or a reason that a person understands. Figures: unit
 * definitions of NIST SP 811 (psi 6894.757 Pa, inHg 3386.389 Pa); standard atmosphere 101,325 Pa (ISO 2533).
 */
import { describe, expect, test } from 'vitest';
import { convert, figure } from '../../../agent/points/convert.ts';
import { spec } from './samples-of.ts';

const SEA_LEVEL = { local: 101_325 };
const HIGH_UP = { local: 90_000 };

function si(overrides: Parameters<typeof spec>[0], raw: number, atmosphere = SEA_LEVEL): number | null {
  return convert({ spec: spec(overrides), raw, atmosphere }).value;
}

describe('raw to SI', () => {
  test('scale and offset come before the unit', () => {
    expect(si({ unit: 'degC', scale: 0.1, offset: -40, valid: [-50, 60] }, 650)).toBeCloseTo(273.15 + 25, 9);
    expect(si({ unit: 'degF', scale: 0.1, valid: [-50, 200] }, 440)).toBeCloseTo(279.8166667, 6);
  });

  test('absolute pressure needs no atmosphere', () => {
    expect(si({ unit: 'kPa', valid: [0, 4000] }, 350, HIGH_UP)).toBe(350_000);
    expect(si({ unit: 'psia', reference: 'converted', valid: [0, 500] }, 100, HIGH_UP)).toBeCloseTo(689_475.7, 0);
  });

  test('a vented gauge counts from the local barometer, a sealed one from the standard atmosphere', () => {
    const psig = { unit: 'psig', valid: [-14.7, 300] } as const;
    expect(si({ ...psig, reference: 'vented_gauge' }, 0, HIGH_UP)).toBe(90_000);
    expect(si({ ...psig, reference: 'sealed_gauge' }, 0, HIGH_UP)).toBe(101_325);
    // The error of taking one for the other at about 1000 m: 11 kPa.
    expect(si({ ...psig, reference: 'vented_gauge' }, 50, HIGH_UP)).toBeCloseTo(90_000 + 50 * 6894.757, 0);
  });

  test('vacuum counts downwards', () => {
    const vacuum = { unit: 'inHg_vac', reference: 'vented_gauge', valid: [0, 30] } as const;
    expect(si(vacuum, 18)).toBeCloseTo(101_325 - 18 * 3386.389, 6);
  });

  test('a flow in gpm: 231 cubic inches a minute', () => {
    expect(si({ name: 'chilled_water.flow', unit: 'gpm', valid: [0, 9000] }, 3600)).toBeCloseTo(0.22712, 5);
  });
});

describe('what cannot be believed', () => {
  const level = { name: 'condenser.level', unit: '%', scale: 0.1, valid: [-5, 105] } as const;

  test.each([
    [Number.NaN, 'the register holds no number (NaN)'],
    [Number.POSITIVE_INFINITY, 'the register holds no number (Infinity)'],
    [32_767, 'the controller marks no measurement (raw value 32767)'],
    [1051, '105.1 % is above 105 %'],
    [-51, '-5.1 % is below -5 %'],
  ])('raw %s: %s', (raw, reason) => {
    const converted = convert({ spec: spec({ ...level, sentinels: [32_767] }), raw, atmosphere: SEA_LEVEL });
    expect(converted).toEqual({ value: null, quality: 'bad', reason });
  });

  test('the limits themselves are believed', () => {
    expect(si(level, 1050)).toBeCloseTo(1.05, 12);
    expect(si(level, -50)).toBeCloseTo(-0.05, 12);
  });

  test('a gauge pressure below vacuum', () => {
    const point = spec({ unit: 'psig', reference: 'vented_gauge', valid: [-30, 300] });
    const { value, reason } = convert({ spec: point, raw: -20, atmosphere: SEA_LEVEL });
    expect(value).toBeNull();
    expect(reason).toBe('-20 psig is below vacuum (-14.696 psig)');
  });
});

test('figures for people have the unit and five significant digits', () => {
  expect(figure(3276.71234, { unit: 'degF' })).toBe('3276.7 °F');
  expect(figure(0.5, { unit: '1' })).toBe('0.5');
});
