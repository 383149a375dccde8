import type { Equation } from './equation.ts';

export interface CriticalPoint {
  readonly T: number;
  readonly p: number;
  readonly rho: number;
}

/**
 * The critical point of the equation itself: dp/drho = 0 and d2p/drho2 = 0 by Newton's method from the published one
 * (which some papers give rounded, or apart from the equation). Where Newton leaves its neighbourhood the published
 * point stands.
 */
export function criticalPoint(equation: Equation): CriticalPoint {
  const { critical, molar_mass_kg_per_mol } = equation.data;
  const published = { T: critical.T_K, rho: critical.rho_mol_per_m3 * molar_mass_kg_per_mol };
  let { T, rho } = published;
  for (let i = 0; i < 60; i++) {
    const here = curvature(equation, T, rho);
    const alongT = 1e-5 * T;
    const alongRho = 1e-3 * rho;
    const warm = curvature(equation, T + alongT, rho);
    const cold = curvature(equation, T - alongT, rho);
    const dense = curvature(equation, T, rho + alongRho);
    const thin = curvature(equation, T, rho - alongRho);
    const a = (warm.first - cold.first) / (2 * alongT);
    const b = here.second;
    const c = (warm.second - cold.second) / (2 * alongT);
    const d = (dense.second - thin.second) / (2 * alongRho);
    const determinant = a * d - b * c;
    const dT = (b * here.second - d * here.first) / determinant;
    const dRho = (c * here.first - a * here.second) / determinant;
    T += dT;
    rho += dRho;
    const near = Math.abs(T / published.T - 1) < 2e-3 && Math.abs(rho / published.rho - 1) < 0.1;
    if (!near) break;
    if (Math.abs(dT) < 1e-8 * T && Math.abs(dRho) < 1e-6 * rho) {
      equation.pressureAt(T, rho);
      return { T, p: equation.p, rho };
    }
  }
  equation.pressureAt(published.T, published.rho);
  return { T: published.T, p: equation.p, rho: published.rho };
}

/** First and second slope of pressure with density; the second from central differences of the first. */
function curvature(equation: Equation, T: number, rho: number): { first: number; second: number } {
  const step = 1e-4 * rho;
  equation.pressureAt(T, rho + step);
  const dense = equation.p_rho;
  equation.pressureAt(T, rho - step);
  const thin = equation.p_rho;
  equation.pressureAt(T, rho);
  return { first: equation.p_rho, second: (dense - thin) / (2 * step) };
}
