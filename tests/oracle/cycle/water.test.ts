/**
 * Liquid water against IAPWS R7-97 region 1, written out here (coefficients from memory, proven by the release's own
 * check state).
 */
import { describe, expect, test } from 'vitest';
import { waterDensity, waterHeatCapacity } from '../../../agent/cycle/water.ts';

/** I, J, n of equation 7. */
const TERMS: readonly (readonly [number, number, number])[] = [
  [0, -2, 0.14632971213167],
  [0, -1, -0.84548187169114],
  [0, 0, -3.756360367204],
  [0, 1, 3.3855169168385],
  [0, 2, -0.95791963387872],
  [0, 3, 0.15772038513228],
  [0, 4, -0.016616417199501],
  [0, 5, 0.81214629983568e-3],
  [1, -9, 0.28319080123804e-3],
  [1, -7, -0.60706301565874e-3],
  [1, -1, -0.018990068218419],
  [1, 0, -0.032529748770505],
  [1, 1, -0.021841717175414],
  [1, 3, -0.5283835796993e-4],
  [2, -3, -0.47184321073267e-3],
  [2, 0, -0.30001780793026e-3],
  [2, 1, 0.47661393906987e-4],
  [2, 3, -0.44141845330846e-5],
  [2, 17, -0.72694996297594e-15],
  [3, -4, -0.31679644845054e-4],
  [3, 0, -0.28270797985312e-5],
  [3, 6, -0.85205128120103e-9],
  [4, -5, -0.22425281908e-5],
  [4, -2, -0.65171222895601e-6],
  [4, 10, -0.14341729937924e-12],
  [5, -8, -0.40516996860117e-6],
  [8, -11, -0.12734301741641e-8],
  [8, -6, -0.17424871230634e-9],
  [21, -29, -0.68762131295531e-18],
  [23, -31, 0.14478307828521e-19],
  [29, -38, 0.26335781662795e-22],
  [30, -39, -0.11947622640071e-22],
  [31, -40, 0.18228094581404e-23],
  [32, -41, -0.93537087292458e-25],
];
const R = 461.526;

function region1(T: number, p: number): { v: number; h: number; cp: number } {
  const pi = p / 16.53e6;
  const tau = 1386 / T;
  let [byPi, byTau, byTauTau] = [0, 0, 0];
  for (const [i, j, n] of TERMS) {
    const a = (7.1 - pi) ** i;
    const b = (tau - 1.222) ** j;
    byPi -= (n * i * a * b) / (7.1 - pi);
    byTau += (n * a * j * b) / (tau - 1.222);
    byTauTau += (n * a * j * (j - 1) * b) / (tau - 1.222) ** 2;
  }
  return { v: (R * T * pi * byPi) / p, h: R * T * tau * byTau, cp: -R * tau ** 2 * byTauTau };
}

test('the formulation written out here is the published one: 300 K, 3 MPa', () => {
  const { v, h, cp } = region1(300, 3e6);
  expect(Math.abs(v / 0.00100215168 - 1)).toBeLessThan(5e-9);
  expect(Math.abs(h / 115_331.273 - 1)).toBeLessThan(5e-9);
  expect(Math.abs(cp / 4173.01218 - 1)).toBeLessThan(5e-9);
});

describe('0 to 50 degC', () => {
  const temperatures = Array.from({ length: 51 }, (_, t) => t + 273.15);

  test('density: 0.01 % at one atmosphere, 0.03 % at 5 bar', () => {
    for (const T of temperatures) {
      expect(Math.abs(waterDensity(T) * region1(T, 101_325).v - 1)).toBeLessThan(1e-4);
      expect(Math.abs(waterDensity(T) * region1(T, 5e5).v - 1)).toBeLessThan(3e-4);
    }
  });

  test('heat capacity: 0.002 % at 4 bar, 0.04 % at 1 bar, 0.08 % at 10 bar', () => {
    for (const T of temperatures) {
      expect(Math.abs(waterHeatCapacity(T) / region1(T, 4e5).cp - 1)).toBeLessThan(2e-5);
      expect(Math.abs(waterHeatCapacity(T) / region1(T, 1e5).cp - 1)).toBeLessThan(4e-4);
      expect(Math.abs(waterHeatCapacity(T) / region1(T, 1e6).cp - 1)).toBeLessThan(8e-4);
    }
  });
});
