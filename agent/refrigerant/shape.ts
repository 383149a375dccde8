/**
 * Shape of a refrigerant's data file: what is needed of a Helmholtz equation of state, with its source. Reduced
 * Helmholtz energy a(tau, delta) = a0 + ar, tau = T_reducing / T, delta = rho / rho_reducing; a0 carries ln(delta)
 * besides the terms listed.
 */

/** Ideal part. The meaning of each kind is in `ideal.ts`. */
export type IdealTerm =
  | { readonly kind: 'linear'; readonly constant: number; readonly slope: number; readonly reference_state?: string }
  | { readonly kind: 'logarithm'; readonly n: number }
  | { readonly kind: 'power'; readonly terms: readonly { readonly n: number; readonly t: number }[] }
  | { readonly kind: 'planck_einstein'; readonly terms: readonly { readonly n: number; readonly t: number }[] }
  | {
      /** Ideal-gas heat capacity c_p0 / R = sum of c T^t (T in K), integrated from `T_reference_K`. */
      readonly kind: 'heat_capacity';
      readonly T_reference_K: number;
      /** tau of these terms is `T_scale_K` / T_reference_K at the reference. */
      readonly T_scale_K: number;
      readonly terms: readonly { readonly c: number; readonly t: number }[];
    };

/** n tau^t delta^d exp(-delta^l); no exponential where l = 0. */
export interface PowerTerm {
  readonly n: number;
  readonly t: number;
  readonly d: number;
  readonly l: number;
}

/** n tau^t delta^d exp(-eta (delta - epsilon)^2 - beta (tau - gamma)^2). */
export interface GaussianTerm {
  readonly n: number;
  readonly t: number;
  readonly d: number;
  readonly eta: number;
  readonly epsilon: number;
  readonly beta: number;
  readonly gamma: number;
}

/** A state printed in the paper, to check the equation as implemented. Molar, as papers print. */
export interface CheckPoint {
  readonly source: string;
  readonly T_K: number;
  readonly rho_mol_per_m3: number;
  readonly p_Pa?: number;
  readonly cv_J_per_mol_K?: number;
  readonly cp_J_per_mol_K?: number;
  readonly w_m_per_s?: number;
}

export interface RefrigerantData {
  readonly name: string;
  /** As the trade writes it. */
  readonly label: string;
  readonly formula: string;
  readonly source: Readonly<Record<string, string>>;
  readonly validity: { readonly T_triple_K: number; readonly T_max_K: number; readonly p_max_Pa: number };
  readonly molar_mass_kg_per_mol: number;
  readonly gas_constant_J_per_mol_K: number;
  readonly acentric_factor: number;
  readonly critical: { readonly T_K: number; readonly p_Pa: number; readonly rho_mol_per_m3: number };
  readonly reducing: { readonly T_K: number; readonly rho_mol_per_m3: number };
  readonly ideal: readonly IdealTerm[];
  readonly residual: { readonly power: readonly PowerTerm[]; readonly gaussian: readonly GaussianTerm[] };
  readonly checks: readonly CheckPoint[];
  /** Why there are no check points, where there are none. */
  readonly checks_note?: string;
}
