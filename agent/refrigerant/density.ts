import type { Dome } from './dome.ts';
import type { Equation } from './equation.ts';

const ITERATIONS_MAX = 100;
/** A step below this is the error of the state that the equation holds: Newton's method need not take it. */
const LAST_STEP = 1e-10;

/**
 * Density (kg/m3) of single-phase vapour or liquid at T, p by Newton's method, null where it does not settle; the
 * equation then holds pressure and its slope at it. The starts are on the side from which Newton's method cannot
 * overshoot: below the root for vapour, where p(rho) bends down; at saturation or above for liquid, where it bends up.
 */
export function densityAt(
  equation: Equation,
  dome: Dome,
  T: number,
  p: number,
  phase: 'liquid' | 'vapour',
): number | null {
  let rho = phase === 'liquid' ? dome.liquidDensity(T) : vapourStart(equation, dome, T, p);
  for (let i = 0; i < ITERATIONS_MAX; i++) {
    equation.pressureAt(T, rho);
    let step = (p - equation.p) / (equation.p_rho * rho);
    if (Math.abs(step) < LAST_STEP) return rho;
    if (!(equation.p_rho > 0)) step = phase === 'liquid' ? 0.05 : -0.2;
    if (step > 0.5) step = 0.5;
    if (step < -0.5) step = -0.5;
    rho *= 1 + step;
  }
  return null;
}

function vapourStart(equation: Equation, dome: Dome, T: number, p: number): number {
  const ideal = p / (equation.R * T);
  if (T >= dome.T_max) return ideal;
  // The compressibility falls about linearly with pressure down to that of saturated vapour.
  const pressure = dome.pressure(T);
  const saturated = dome.vapourDensity(T);
  return ideal / (1 - (p / pressure) * (1 - pressure / (saturated * equation.R * T)));
}
