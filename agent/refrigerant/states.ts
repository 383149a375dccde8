import type { Equation } from './equation.ts';
import type { Equilibrium } from './saturation.ts';
import type { State } from './types.ts';

/** The state that the equation last evaluated; `q` 0 or 1 marks saturated liquid or vapour. */
export function singlePhase(equation: Equation, p: number, phase: State['phase'], q: number | null): State {
  const { T, rho, h, s, cv, cp, w } = equation;
  return { T, p, rho, h, s, q, cp, cv, w, phase };
}

/** Saturated liquid (q = 0), saturated vapour (q = 1) or their mixture. */
export function saturatedState(equation: Equation, at: Equilibrium, q: number): State {
  if (q === 0) {
    equation.at(at.T, at.rhoLiquid);
    return singlePhase(equation, at.p, 'liquid', 0);
  }
  equation.at(at.T, at.rhoVapour);
  if (q === 1) return singlePhase(equation, at.p, 'vapour', 1);
  const { h, s } = equation;
  equation.at(at.T, at.rhoLiquid);
  return {
    T: at.T,
    p: at.p,
    rho: 1 / ((1 - q) / at.rhoLiquid + q / at.rhoVapour),
    h: (1 - q) * equation.h + q * h,
    s: (1 - q) * equation.s + q * s,
    q,
    cp: null,
    cv: null,
    w: null,
    phase: 'two-phase',
  };
}
