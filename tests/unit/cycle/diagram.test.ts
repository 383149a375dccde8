import { describe, expect, it } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { diagram } from '../../../agent/cycle/diagram.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';

describe('isotherms of the diagram', () => {
  const { isotherms } = diagram(must(refrigerant('R1233zdE')), [40e3, 262e3]);
  const celsius = isotherms.map(({ T }) => T - 273.15);
  const round = (x: number, step: number): boolean => Math.abs(x / step - Math.round(x / step)) < 1e-9;

  it('are round in degrees Celsius or in degrees Fahrenheit, and each scale has all of its own', () => {
    for (const t of celsius) expect(round(t, 10) || round(t * 1.8 + 32, 20), `${t}`).toBe(true);
    const spans = [celsius.filter((t) => round(t, 10)), celsius.filter((t) => round(t * 1.8 + 32, 20))];
    for (const [i, step] of [10, 20 / 1.8].entries()) {
      const span = spans[i] as number[];
      expect(span.length).toBeGreaterThan(6);
      for (const [k, t] of span.slice(1).entries()) expect(t - (span[k] as number)).toBeCloseTo(step, 9);
    }
  });
  it('stand in order, and one that is round in both scales (60 °C, 140 °F) stands once', () => {
    expect([...celsius].sort((a, b) => a - b)).toEqual(celsius);
    expect(celsius.filter((t) => Math.abs(t - 60) < 1e-6)).toHaveLength(1);
  });
});
