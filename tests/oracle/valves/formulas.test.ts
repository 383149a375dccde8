/** Published measures of oscillation against values that follow from their definitions by hand. */
import { describe, expect, test } from 'vitest';
import { autocorrelation, decayRatio, regularity, zeroCrossings } from '../../../agent/valves/autocorrelation.ts';
import { halfCycles, oscillationNear } from '../../../agent/valves/oscillation.ts';
import { shapeIndex } from '../../../agent/valves/shape.ts';
import { median } from '../../../agent/valves/statistics.ts';
import { normal, uniform } from '../../unit/valves/loops.ts';

const wave = (n: number, of: (t: number) => number): Float64Array => Float64Array.from({ length: n }, (_, t) => of(t));
const sine = (amplitude: number, period: number, phase = 0.3) =>
  wave(600, (t) => amplitude * Math.sin((2 * Math.PI * t) / period + phase));
/** Triangle of height 1. */
const triangle = (t: number, period: number): number => 1 - 4 * Math.abs(((t / period + 0.25) % 1) - 0.5);

describe('Hagglund 1995: integral of the absolute error between zero crossings (definition; by hand)', () => {
  test.each([
    [1, 20],
    [0.03, 47.3],
    [12, 113],
  ])('of a sine of amplitude %d and period %d it is A T / pi', (amplitude, period) => {
    const halves = halfCycles(sine(amplitude, period), 0.1 * amplitude);
    expect(halves.length).toBeGreaterThan(8);
    for (const { from, to, amplitude: found } of halves) {
      // The half-cycle keeps IAE as an amplitude: A = pi IAE / T, so IAE = A T / pi with T twice the half.
      const iae = (found * 2 * (to - from)) / Math.PI;
      expect(iae / ((amplitude * period) / Math.PI)).toBeCloseTo(1, 1);
    }
    const mean = halves.reduce((sum, half) => sum + half.amplitude, 0) / halves.length;
    // Trapezia of a sine give (w / 2) cot(w / 2) of its area.
    const trapezia = Math.PI / period / Math.tan(Math.PI / period);
    expect(mean / amplitude / trapezia).toBeCloseTo(1, 2);
  });
  test('a sine of 1 % at the ultimate frequency lies on his limit 2 a / w', () => {
    const [a, period] = [0.01, 60];
    const [half] = halfCycles(sine(a, period, 0), 0.1 * a).slice(1);
    const iae = ((half?.amplitude ?? 0) * period) / Math.PI;
    expect(iae).toBeCloseTo((2 * a) / ((2 * Math.PI) / period), 3);
  });
  test('a triangle of height a has the area of a sine of pi a / 4', () => {
    const [half] = halfCycles(
      wave(600, (t) => triangle(t, 100)),
      0.1,
    ).slice(1);
    expect(half?.amplitude).toBeCloseTo(Math.PI / 4, 2);
  });
});

describe('Miao & Seborg 1999: decay ratio of the autocorrelation', () => {
  test('an undamped sine gives 1', () => {
    expect(decayRatio(autocorrelation(sine(1, 20), 150))).toBeCloseTo(1, 2);
  });
  test.each([0.002, 0.01, 0.03])('e^(-%d t) cos(w t) gives what its extremes give', (damping) => {
    const omega = (2 * Math.PI) / 40;
    // Extremes where tan(w t) = -damping / w.
    const phi = Math.atan(damping / omega);
    const at = (k: number): number => (k * Math.PI - phi) / omega;
    const value = (k: number): number => (-1) ** k * Math.exp(-damping * at(k)) * Math.cos(phi);
    const line = (t: number, t0: number, v0: number, t1: number, v1: number) => v0 + ((t - t0) / (t1 - t0)) * (v1 - v0);
    const a = value(2) - line(at(2), at(1), value(1), at(3), value(3));
    const b = line(at(1), 0, 1, at(2), value(2)) - value(1);
    const acf = wave(300, (t) => Math.exp(-damping * t) * Math.cos(omega * t));
    expect(decayRatio(acf)).toBeCloseTo(a / b, 2);
    expect(decayRatio(acf)).toBeLessThan(1);
  });
});

describe('Thornhill, Huang & Zhang 2003: r = mean / (3 x standard deviation) of the periods', () => {
  test('by hand for crossings at 5, 15, 27, 37, 49, 59', () => {
    const at = [5, 15, 27, 37, 49, 59];
    const acf = wave(62, (t) => (at.filter((each) => each <= t).length % 2 === 0 ? 1 : -1) * (at.includes(t) ? 0 : 1));
    expect(zeroCrossings(acf, 11)).toEqual(at);
    // Intervals 10, 12, 10, 12, 10: mean 10.8, s = sqrt(4.8 / 4) = 1.0954; r = 10.8 / 3 / 1.0954.
    expect(regularity(acf)?.r).toBeCloseTo(3.286, 3);
    expect(regularity(acf)?.period).toBeCloseTo(21.6, 6);
  });
  test('white noise of 600 samples hardly reaches 1 (60 runs; simulated elsewhere: median 0.53)', () => {
    const found = Array.from({ length: 60 }, (_, run) => {
      const draw = uniform(1000 + run);
      return regularity(
        autocorrelation(
          wave(600, () => normal(draw)),
          150,
        ),
      )?.r as number;
    });
    expect(median(found)).toBeGreaterThan(0.43);
    expect(median(found)).toBeLessThan(0.63);
    expect(found.filter((r) => r > 1).length).toBeLessThanOrEqual(3);
  });
  test('a sine in noise of half its amplitude is above 1 in every run (simulated elsewhere: median 41)', () => {
    const found = Array.from({ length: 60 }, (_, run) => {
      const draw = uniform(2000 + run);
      return regularity(
        autocorrelation(
          sine(1, 20).map((value) => value + 0.5 * normal(draw)),
          150,
        ),
      )?.r as number;
    });
    expect(Math.min(...found)).toBeGreaterThan(1);
    expect(median(found)).toBeGreaterThan(20);
    expect(median(found)).toBeLessThan(90);
  });
});

describe('He et al. 2007: shape of half-cycles, triangular above 0.6, sine below 0.4', () => {
  const index = (of: (t: number) => number, noise = 0, seed = 3): number => {
    const draw = uniform(seed);
    const values = wave(1200, (t) => of(t) + noise * normal(draw));
    return shapeIndex(values, halfCycles(values, 0.3), noise * noise) as number;
  };
  test('a triangle', () => expect(index((t) => triangle(t, 60))).toBeGreaterThan(0.9));
  test('a sine', () => expect(index((t) => Math.sin((2 * Math.PI * t) / 60))).toBeLessThan(0.1));
  test('an uneven triangle: slow up, fast down', () => {
    const saw = (t: number): number => {
      const share = (t / 60) % 1;
      return share < 0.7 ? -1 + (2 * share) / 0.7 : 1 - (2 * (share - 0.7)) / 0.3;
    };
    expect(index(saw)).toBeGreaterThan(0.6);
  });
  test('noise pulls both towards the middle and leaves them on their sides', () => {
    const mean = (of: (t: number) => number): number =>
      Array.from({ length: 20 }, (_, seed) => index(of, 0.15, seed)).reduce((sum, each) => sum + each, 0) / 20;
    expect(mean((t) => triangle(t, 60))).toBeGreaterThan(0.55);
    expect(mean((t) => Math.sin((2 * Math.PI * t) / 60))).toBeLessThan(0.45);
  });
});

describe('one oscillation as a whole', () => {
  test.each([5.2, 7.3, 20, 64, 200.5])(
    'period and amplitude of a sine of period %d on a slope, within what is stated',
    (period) => {
      const draw = uniform(Math.round(period));
      const values = wave(2500, (t) => 3 + 1e-4 * t + 0.2 * Math.sin((2 * Math.PI * t) / period) + 0.05 * normal(draw));
      const found = oscillationNear(values, 1.1 * period);
      expect(Math.abs((found?.period.value as number) - period)).toBeLessThan(
        Math.max(0.02, found?.period.uncertainty ?? 0),
      );
      expect(found?.amplitude.value as number).toBeCloseTo(0.2, 1);
      expect(Math.abs((found?.amplitude.value as number) - 0.2)).toBeLessThan(0.012);
      expect(found?.sustained).toBe(true);
    },
  );
  /** Share of 150 runs whose period and amplitude lie within what is stated. */
  const within = (wander: number, noise: number): { period: number; amplitude: number } => {
    let [period, amplitude] = [0, 0];
    for (let seed = 1; seed <= 150; seed++) {
      const draw = uniform(seed);
      const true_period = 20 + 40 * draw();
      let [length, left] = [true_period, 0];
      const values = wave(1200, () => {
        if (left <= 0) {
          length = true_period * (1 + wander * normal(draw));
          left += length;
        }
        left -= 1;
        return Math.sin(2 * Math.PI * (1 - left / length)) + noise * normal(draw);
      });
      const found = oscillationNear(values, true_period);
      if (found === null) continue;
      if (Math.abs(found.period.value - true_period) <= found.period.uncertainty) period++;
      if (Math.abs(found.amplitude.value - 1) <= found.amplitude.uncertainty) amplitude++;
    }
    return { period: period / 150, amplitude: amplitude / 150 };
  };
  test.each([0.1, 0.25, 0.5])(
    'stated uncertainties (k = 2) hold for sines in noise of %d of the amplitude',
    (noise) => {
      const { period, amplitude } = within(0, noise);
      expect(period).toBeGreaterThanOrEqual(0.93);
      expect(amplitude).toBeGreaterThanOrEqual(0.85);
    },
  );
  test('and for cycles that truly differ by a tenth: the normal law wants 0.95, four in a hundred either way', () => {
    const { period } = within(0.1, 0.1);
    expect(period).toBeGreaterThanOrEqual(0.88);
    expect(period).toBeLessThan(1);
  });
});
