import type { Equation } from './equation.ts';

/** Saturated liquid and vapour in equilibrium; a workbench that searches write into (K, Pa, kg/m3). */
export interface Equilibrium {
  T: number;
  p: number;
  rhoLiquid: number;
  rhoVapour: number;
}

const ITERATIONS_MAX = 60;
/** Newton's method doubles the digits each step: once a step is below this, its result is at rounding level. */
const LAST_STEP = 1e-8;

/**
 * Equal pressure and Gibbs energy at a temperature, by Newton's method in (p, both densities) from the start in
 * `state`. At a common pressure p the linearised phases have g + v (p - p_phase), which gives p at once. False where
 * it does not settle.
 */
export function saturateAtTemperature(equation: Equation, T: number, state: Equilibrium): boolean {
  let { rhoLiquid, rhoVapour } = state;
  for (let i = 0; i < ITERATIONS_MAX; i++) {
    equation.at(T, rhoLiquid);
    const { p: pLiquid, g: gLiquid, p_rho: slopeLiquid } = equation;
    equation.at(T, rhoVapour);
    const { p: pVapour, g: gVapour, p_rho: slopeVapour } = equation;
    const vLiquid = 1 / rhoLiquid;
    const vVapour = 1 / rhoVapour;
    const p = (gLiquid - gVapour - vLiquid * pLiquid + vVapour * pVapour) / (vVapour - vLiquid);
    const stepLiquid = limited((p - pLiquid) / (slopeLiquid * rhoLiquid));
    const stepVapour = limited((p - pVapour) / (slopeVapour * rhoVapour));
    if (Number.isNaN(stepLiquid + stepVapour)) return false;
    rhoLiquid *= 1 + stepLiquid;
    rhoVapour *= 1 + stepVapour;
    if (Math.abs(stepLiquid) < LAST_STEP && Math.abs(stepVapour) < LAST_STEP) {
      state.T = T;
      state.p = p;
      state.rhoLiquid = rhoLiquid;
      state.rhoVapour = rhoVapour;
      return p > 0 && rhoLiquid > 1.001 * rhoVapour;
    }
  }
  return false;
}

/**
 * The same at a pressure, in (T, both densities): at pressure p the linearised Gibbs energies change by -s dT, so that
 * dT = (difference of Gibbs energies) / (difference of entropies).
 */
export function saturateAtPressure(equation: Equation, p: number, state: Equilibrium): boolean {
  let { T, rhoLiquid, rhoVapour } = state;
  for (let i = 0; i < ITERATIONS_MAX; i++) {
    equation.at(T, rhoLiquid);
    const { p: pLiquid, g: gLiquid, s: sLiquid, p_rho: slopeLiquid, p_T: warmingLiquid } = equation;
    equation.at(T, rhoVapour);
    const { p: pVapour, g: gVapour, s: sVapour, p_rho: slopeVapour, p_T: warmingVapour } = equation;
    const difference = gVapour + (p - pVapour) / rhoVapour - gLiquid - (p - pLiquid) / rhoLiquid;
    const dT = T * limited(difference / ((sVapour - sLiquid) * T));
    const stepLiquid = limited((p - pLiquid - warmingLiquid * dT) / (slopeLiquid * rhoLiquid));
    const stepVapour = limited((p - pVapour - warmingVapour * dT) / (slopeVapour * rhoVapour));
    if (Number.isNaN(dT + stepLiquid + stepVapour)) return false;
    T += dT;
    rhoLiquid *= 1 + stepLiquid;
    rhoVapour *= 1 + stepVapour;
    if (Math.abs(dT) < LAST_STEP * T && Math.abs(stepLiquid) < LAST_STEP && Math.abs(stepVapour) < LAST_STEP) {
      state.T = T;
      state.p = p;
      state.rhoLiquid = rhoLiquid;
      state.rhoVapour = rhoVapour;
      return rhoLiquid > 1.001 * rhoVapour;
    }
  }
  return false;
}

/** Keeps a relative step from throwing a bad start out of reach. */
function limited(step: number): number {
  return Math.max(-0.2, Math.min(0.2, step));
}
