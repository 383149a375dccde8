/** Relations between named quantities compiled to numbers: residuals and exact derivatives. */

import { type Vector, zeros } from '../vector.ts';
import type { Linearized } from './adjust.ts';
import { isUnmeasured, namesOf, type Relation } from './model.ts';

interface Compiled {
  readonly scale: number;
  readonly terms: readonly { readonly sign: number; readonly at: readonly number[] }[];
}

/** Sizes that make every equation and every unknown about one. */
export interface Sizes {
  /** W */
  readonly heat: number;
}

/** J/kg: what a kilogram of refrigerant carries, near enough for scaling. */
const CARRIED = 1.5e5;

export class Equations {
  /** Quantities that measurements give, and those that none does, by name. */
  readonly known: readonly string[];
  readonly unknown: readonly string[];
  readonly relations: readonly Relation[];
  readonly #rows: readonly Compiled[];
  readonly #unknownSize: Vector;

  /** `free`: enthalpies (`h:2`) that no sensor gives, though their node has a state. */
  constructor(relations: readonly Relation[], free: ReadonlySet<string>, { heat }: Sizes) {
    const names = namesOf(relations);
    const isUnknown = (name: string): boolean => free.has(name) || isUnmeasured(name);
    this.known = names.filter((name) => !isUnknown(name));
    this.unknown = names.filter(isUnknown);
    this.relations = relations;
    const index = new Map([...this.known, ...this.unknown].map((name, at) => [name, at]));
    const size = { mass: heat / CARRIED, energy: heat, ratio: 1 };
    this.#rows = relations.map(({ kind, terms }) => ({
      scale: 1 / size[kind],
      terms: terms.map(({ sign, factors }) => ({ sign, at: factors.map((name) => index.get(name) as number) })),
    }));
    this.#unknownSize = this.unknown.map((name) =>
      name.startsWith('m:') ? size.mass : name.startsWith('h:') ? CARRIED : heat,
    );
  }

  residual(known: Vector, unknown: Vector): Vector {
    return this.#residual(this.#together(known, unknown));
  }

  #residual(z: Vector): Vector {
    const residual = zeros(this.#rows.length);
    for (let row = 0; row < residual.length; row++) {
      const { scale, terms } = this.#rows[row] as Compiled;
      let sum = 0;
      for (const { sign, at } of terms) {
        let product = sign;
        for (const i of at) product *= z[i] as number;
        sum += product;
      }
      residual[row] = sum * scale;
    }
    return residual;
  }

  /**
   * Derivatives by each input (`moves`: how the known quantities move with it, null where they do not) and by each
   * unknown, which count in their sizes.
   */
  linearized(known: Vector, unknown: Vector, moves: readonly (Vector | null)[]): Linearized {
    const z = this.#together(known, unknown);
    const rows = this.#rows.length;
    const by = this.#derivatives(z);
    const split = this.known.length;
    const still = zeros(rows);
    return {
      residual: this.#residual(z),
      measured: moves.map((move) => (move === null ? still : combined(by, move, rows))),
      unmeasured: by.slice(split).map((column, at) => column.map((value) => value * (this.#unknownSize[at] as number))),
    };
  }

  /** Of each relation, a column for each quantity. */
  #derivatives(z: Vector): Vector[] {
    const by = Array.from({ length: z.length }, () => zeros(this.#rows.length));
    for (let row = 0; row < this.#rows.length; row++) {
      const { scale, terms } = this.#rows[row] as Compiled;
      for (const { sign, at } of terms)
        for (let place = 0; place < at.length; place++) {
          let product = sign * scale;
          for (let k = 0; k < at.length; k++) if (k !== place) product *= z[at[k] as number] as number;
          (by[at[place] as number] as Vector)[row]! += product;
        }
    }
    return by;
  }

  /** Residuals in W, kg/s or as ratios. */
  unscaled(residual: Vector): number[] {
    return this.#rows.map(({ scale }, row) => (residual[row] as number) / scale);
  }

  /** Unknowns from a step in their sizes. */
  stepped(unknown: Vector, step: Vector): Vector {
    return unknown.map((value, at) => value + (step[at] as number) * (this.#unknownSize[at] as number));
  }

  #together(known: Vector, unknown: Vector): Vector {
    return known.concat(unknown);
  }
}

/** Sum of the first columns, each as often as `times` says. */
function combined(columns: readonly Vector[], times: Vector, rows: number): Vector {
  const sum = zeros(rows);
  for (let k = 0; k < times.length; k++) {
    const often = times[k] as number;
    if (often === 0) continue;
    const column = columns[k] as Vector;
    for (let row = 0; row < rows; row++) sum[row]! += (column[row] as number) * often;
  }
  return sum;
}
