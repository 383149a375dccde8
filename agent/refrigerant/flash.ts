import { densityAt } from './density.ts';
import type { Caloric, Dome } from './dome.ts';
import type { Equation } from './equation.ts';

const NEWTON_MAX = 25;
const BRACKET_MAX = 200;
/** A step below this is the error of the state that the equation holds: Newton's method need not take it. */
const LAST_STEP = 1e-10;

/**
 * Single-phase T and density of the given pressure and enthalpy or entropy, by Newton's method in both from the state
 * that `equation` holds (the start). True: `equation` holds the solution. False where it does not settle or leaves
 * [T_low, T_high].
 */
export function newton(
  equation: Equation,
  kind: Caloric,
  p: number,
  target: number,
  T_low: number,
  T_high: number,
): boolean {
  let { T, rho } = equation;
  for (let i = 0; i < NEWTON_MAX; i++) {
    const { p_T, p_rho, cv } = equation;
    const missingP = p - equation.p;
    const missingY = target - (kind === 'h' ? equation.h : equation.s);
    const y_T = kind === 'h' ? cv + p_T / rho : cv / T;
    const y_rho = kind === 'h' ? p_rho / rho - (T * p_T) / (rho * rho) : -p_T / (rho * rho);
    const determinant = p_T * y_rho - p_rho * y_T;
    const dT = (missingP * y_rho - p_rho * missingY) / determinant;
    const dRho = (p_T * missingY - y_T * missingP) / determinant;
    if (!(Math.abs(dT) < 0.3 * T && Math.abs(dRho) < 0.6 * rho && p_rho > 0)) return false;
    if (Math.abs(dT) < LAST_STEP * T && Math.abs(dRho) < LAST_STEP * rho) return T >= T_low && T <= T_high;
    T += dT;
    rho += dRho;
    equation.at(T, rho);
  }
  return false;
}

/**
 * The same by halving a bracket of temperature: enthalpy and entropy rise with temperature along an isobar. Slow and
 * sure; for the few states from which Newton's method strays. `outside`: the target is not in the bracket; `lost`: no
 * answer though it is.
 */
export function bracket(
  equation: Equation,
  dome: Dome,
  given: { readonly kind: Caloric; readonly p: number; readonly target: number; readonly phase: 'liquid' | 'vapour' },
  T_low: number,
  T_high: number,
): 'found' | 'outside' | 'lost' {
  const { kind, p, target, phase } = given;
  const above = (T: number): boolean | null => {
    const rho = densityAt(equation, dome, T, p, phase);
    if (rho === null) return null;
    equation.complete();
    return (kind === 'h' ? equation.h : equation.s) > target;
  };
  let low = T_low;
  let high = T_high;
  const atLow = above(low);
  const atHigh = above(high);
  if (atLow === null || atHigh === null) return 'lost';
  if (atLow || !atHigh) return 'outside';
  for (let i = 0; i < BRACKET_MAX && high - low > 1e-6 * low; i++) {
    const middle = 0.5 * (low + high);
    const answer = above(middle);
    if (answer === null) return 'lost';
    if (answer) high = middle;
    else low = middle;
  }
  return newton(equation, kind, p, target, T_low, T_high) ? 'found' : 'lost';
}
