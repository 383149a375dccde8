/** Relations between named quantities compiled to numbers: residuals and exact derivatives. */
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
  readonly #unknownSize: Float64Array;

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
    this.#unknownSize = Float64Array.from(this.unknown, (name) =>
      name.startsWith('m:') ? size.mass : name.startsWith('h:') ? CARRIED : heat,
    );
  }

  residual(known: Float64Array, unknown: Float64Array): Float64Array {
    return this.#residual(this.#together(known, unknown));
  }

  #residual(z: Float64Array): Float64Array {
    const residual = new Float64Array(this.#rows.length);
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
  linearized(known: Float64Array, unknown: Float64Array, moves: readonly (Float64Array | null)[]): Linearized {
    const z = this.#together(known, unknown);
    const rows = this.#rows.length;
    const by = this.#derivatives(z);
    const split = this.known.length;
    const still = new Float64Array(rows);
    return {
      residual: this.#residual(z),
      measured: moves.map((move) => (move === null ? still : combined(by, move, rows))),
      unmeasured: by.slice(split).map((column, at) => column.map((value) => value * (this.#unknownSize[at] as number))),
    };
  }

  /** Of each relation, a column for each quantity. */
  #derivatives(z: Float64Array): Float64Array[] {
    const by = Array.from({ length: z.length }, () => new Float64Array(this.#rows.length));
    for (let row = 0; row < this.#rows.length; row++) {
      const { scale, terms } = this.#rows[row] as Compiled;
      for (const { sign, at } of terms)
        for (let place = 0; place < at.length; place++) {
          let product = sign * scale;
          for (let k = 0; k < at.length; k++) if (k !== place) product *= z[at[k] as number] as number;
          (by[at[place] as number] as Float64Array)[row]! += product;
        }
    }
    return by;
  }

  /** Residuals in W, kg/s or as ratios. */
  unscaled(residual: Float64Array): number[] {
    return this.#rows.map(({ scale }, row) => (residual[row] as number) / scale);
  }

  /** Unknowns from a step in their sizes. */
  stepped(unknown: Float64Array, step: Float64Array): Float64Array {
    return unknown.map((value, at) => value + (step[at] as number) * (this.#unknownSize[at] as number));
  }

  #together(known: Float64Array, unknown: Float64Array): Float64Array {
    const z = new Float64Array(known.length + unknown.length);
    z.set(known);
    z.set(unknown, known.length);
    return z;
  }
}

/** Sum of the first columns, each as often as `times` says. */
function combined(columns: readonly Float64Array[], times: Float64Array, rows: number): Float64Array {
  const sum = new Float64Array(rows);
  for (let k = 0; k < times.length; k++) {
    const often = times[k] as number;
    if (often === 0) continue;
    const column = columns[k] as Float64Array;
    for (let row = 0; row < rows; row++) sum[row]! += (column[row] as number) * often;
  }
  return sum;
}
