import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { REFRIGERANTS, refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import type { Refrigerant } from '../../../agent/refrigerant/types.ts';

/** Code of a fault, or what came instead. */
function codeOf(result: { ok: boolean; fault?: { code: string }; value?: unknown }): unknown {
  return result.ok ? result.value : result.fault?.code;
}

describe('names', () => {
  test.each([
    ['R134a', 'R134a', 'R-134a'],
    ['R-134a', 'R134a', 'R-134a'],
    ['r 134A', 'R134a', 'R-134a'],
    ['HFC-134a', 'R134a', 'R-134a'],
    ['R1233zd(E)', 'R1233zdE', 'R-1233zd(E)'],
    ['R-1233zd(E)', 'R1233zdE', 'R-1233zd(E)'],
    ['HCFO-1233zd(E)', 'R1233zdE', 'R-1233zd(E)'],
    ['R-123', 'R123', 'R-123'],
    ['R-1234ze(E)', 'R1234zeE', 'R-1234ze(E)'],
    ['HFO-1234yf', 'R1234yf', 'R-1234yf'],
    ['HCFC-22', 'R22', 'R-22'],
    ['CFC-11', 'R11', 'R-11'],
  ])('%s is %s', (given, name, label) => {
    const fluid = must(refrigerant(given));
    expect(fluid.name).toBe(name);
    expect(fluid.label).toBe(label);
    expect(refrigerant(given)).toStrictEqual(refrigerant(name));
    expect(must(refrigerant(given))).toBe(must(refrigerant(name)));
  });

  test.each(['', 'R', 'R1234ze(Z)', 'R12', 'constructor', '__proto__', 'R134ab', 'water', '134', 'Rr134a'])(
    "'%s' is unknown, and the message lists what is carried",
    (given) => {
      const result = refrigerant(given);
      expect(codeOf(result)).toBe('refrigerant_unknown');
      if (!result.ok) for (const name of REFRIGERANTS) expect(result.fault.message).toContain(name);
    },
  );

  test('what is no text at all is unknown too', () => {
    for (const given of [undefined, null, 134, {}, ['R134a']]) {
      expect(codeOf(refrigerant(given as unknown as string))).toBe('refrigerant_unknown');
    }
  });

  test('seven are carried', () => {
    expect(REFRIGERANTS).toStrictEqual(['R134a', 'R1233zdE', 'R123', 'R1234zeE', 'R1234yf', 'R22', 'R11']);
  });
});

describe.each(REFRIGERANTS)('%s: edges of the range', (name) => {
  const fluid = must(refrigerant(name));
  const { T_min, T_max, p_min, p_max, saturation } = fluid.range;

  test('from 230 K up to the larger of 3 MPa and the saturation pressure at 0.99 of the critical temperature', () => {
    expect(T_min).toBe(230);
    expect(saturation.T_max).toBeCloseTo(0.99 * fluid.critical.T, 9);
    expect(p_max).toBeGreaterThanOrEqual(3e6);
    expect(p_max).toBeGreaterThanOrEqual(must(fluid.saturationPressure(0.99 * fluid.critical.T)));
    expect(p_min).toBeLessThanOrEqual(1000);
    expect(p_min).toBeLessThan(saturation.p_min);
  });

  test('the ends themselves are inside', () => {
    for (const T of [T_min, saturation.T_max]) {
      expect(fluid.saturationPressure(T).ok).toBe(true);
      for (const q of [0, 0.3, 1]) expect(fluid.TQ(T, q).ok).toBe(true);
    }
    for (const p of [saturation.p_min, saturation.p_max]) {
      expect(fluid.saturationTemperature(p).ok).toBe(true);
      for (const q of [0, 0.3, 1]) expect(fluid.PQ(p, q).ok).toBe(true);
    }
    for (const [T, p] of [
      [T_min, p_min],
      [T_min, p_max],
      [T_max, p_min],
      [T_max, p_max],
    ] as const) {
      const state = must(fluid.TP(T, p));
      expect(must(fluid.PH(p, state.h)).T).toBeCloseTo(T, 6);
      expect(must(fluid.PS(p, state.s)).T).toBeCloseTo(T, 6);
    }
  });

  test('beyond them is out of range', () => {
    const outside = [
      fluid.saturationPressure(T_min - 0.01),
      fluid.saturationPressure(saturation.T_max + 0.01),
      fluid.saturationTemperature(saturation.p_min * 0.9999),
      fluid.saturationTemperature(saturation.p_max * 1.0001),
      fluid.TQ(T_min - 0.01, 0),
      fluid.TQ(saturation.T_max + 0.01, 0.5),
      fluid.PQ(saturation.p_min * 0.9999, 1),
      fluid.PQ(saturation.p_max * 1.0001, 0.5),
      fluid.PQ(5e5, -1e-9),
      fluid.PQ(5e5, 1 + 1e-9),
      fluid.TQ(280, -0.1),
      fluid.TP(T_min - 0.01, 5e5),
      fluid.TP(T_max + 0.01, 5e5),
      fluid.TP(300, p_min * 0.99),
      fluid.TP(300, p_max * 1.0001),
      fluid.TP(300, -1e5),
      fluid.PH(p_max * 1.0001, 4e5),
      fluid.PH(5e5, must(fluid.TP(T_min, 5e5)).h - 10),
      fluid.PH(5e5, must(fluid.TP(T_max, 5e5)).h + 10),
      fluid.PS(5e5, must(fluid.TP(T_min, 5e5)).s - 0.1),
      fluid.PS(5e5, must(fluid.TP(T_max, 5e5)).s + 0.1),
      fluid.PH(1e3, must(fluid.TP(T_min, 1e3)).h - 10),
      fluid.PH(5e5, 1e300),
      fluid.PS(5e5, -1e300),
    ];
    outside.forEach((result, i) => {
      expect(codeOf(result), `case ${i}`).toBe('refrigerant_out_of_range');
    });
  });

  test('no number at all is out of range', () => {
    for (const bad of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]) {
      for (const result of everyCall(fluid, bad, bad)) expect(codeOf(result)).toBe('refrigerant_out_of_range');
    }
  });

  test('on the saturation line T and p leave the quality open, and the message says what to give', () => {
    const p = must(fluid.saturationPressure(280));
    const result = fluid.TP(280, p);
    expect(codeOf(result)).toBe('refrigerant_no_solution');
    if (!result.ok) expect(result.fault.message).toContain('give PQ or TQ');
    expect(must(fluid.TP(280, p * 1.0000001)).phase).toBe('liquid');
    expect(must(fluid.TP(280, p * 0.9999999)).phase).toBe('vapour');
  });

  test('saturated states have quality, heat capacities and sound speed; inside the dome the last are null', () => {
    expect(must(fluid.TQ(280, 0))).toMatchObject({
      q: 0,
      phase: 'liquid',
      cp: expect.any(Number),
      w: expect.any(Number),
    });
    expect(must(fluid.TQ(280, 1))).toMatchObject({
      q: 1,
      phase: 'vapour',
      cv: expect.any(Number),
      w: expect.any(Number),
    });
    expect(must(fluid.TQ(280, 0.4))).toMatchObject({ q: 0.4, phase: 'two-phase', cp: null, cv: null, w: null });
    expect(must(fluid.TP(280, Math.min(5e6, p_max)))).toMatchObject({ q: null, phase: 'liquid' });
  });

  test('bubble and dew point of a pure refrigerant are one', () => {
    const p = must(fluid.saturationPressure(290));
    expect(must(fluid.bubbleTemperature(p))).toBe(must(fluid.dewTemperature(p)));
    expect(must(fluid.bubblePressure(290))).toBe(p);
    expect(must(fluid.dewPressure(290))).toBe(p);
    expect(must(fluid.bubbleTemperature(p))).toBeCloseTo(290, 9);
  });
});

function everyCall(fluid: Refrigerant, a: number, b: number) {
  return [
    fluid.TP(a, b),
    fluid.TP(300, b),
    fluid.TP(a, 5e5),
    fluid.PH(a, b),
    fluid.PH(5e5, b),
    fluid.PS(a, b),
    fluid.PS(5e5, b),
    fluid.PQ(a, b),
    fluid.PQ(5e5, b),
    fluid.PQ(a, 0.5),
    fluid.TQ(a, b),
    fluid.TQ(300, b),
    fluid.TQ(a, 0.5),
    fluid.saturationTemperature(a),
    fluid.saturationPressure(a),
    fluid.bubbleTemperature(a),
    fluid.dewTemperature(a),
    fluid.bubblePressure(a),
    fluid.dewPressure(a),
  ];
}
