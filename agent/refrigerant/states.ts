import type { Dome } from './dome.ts';
import type { Equation } from './equation.ts';
import type { State } from './types.ts';

/** The state that the equation last evaluated; `q` 0 or 1 marks saturated liquid or vapour. */
export function singlePhase(equation: Equation, p: number, phase: State['phase'], q: number | null): State {
  const { T, rho, h, s, cv, cp, w } = equation;
  return { T, p, rho, h, s, q, cp, cv, w, phase };
}

/** Saturated liquid (q = 0), saturated vapour (q = 1) or their mixture, of the equilibrium that the dome found last. */
export function saturatedState(equation: Equation, dome: Dome, q: number): State {
  const { T, p, rhoLiquid, rhoVapour } = dome.found;
  if (q === 0) {
    equation.at(T, rhoLiquid);
    return singlePhase(equation, p, 'liquid', 0);
  }
  if (q === 1) {
    equation.at(T, rhoVapour);
    return singlePhase(equation, p, 'vapour', 1);
  }
  const rho = 1 / ((1 - q) / rhoLiquid + q / rhoVapour);
  const h = (1 - q) * dome.liquid('h', T) + q * dome.vapour('h', T);
  const s = (1 - q) * dome.liquid('s', T) + q * dome.vapour('s', T);
  return { T, p, rho, h, s, q, cp: null, cv: null, w: null, phase: 'two-phase' };
}
