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
    const z = this.#together(known, unknown);
    return Float64Array.from(this.#rows, ({ scale, terms }) => {
      let sum = 0;
      for (const { sign, at } of terms) sum += at.reduce((product, i) => product * (z[i] as number), sign);
      return sum * scale;
    });
  }

  /**
   * Derivatives by each input (`moves`: how the known quantities move with it) and by each unknown, which count in
   * their sizes.
   */
  linearized(known: Float64Array, unknown: Float64Array, moves: readonly Float64Array[]): Linearized {
    const z = this.#together(known, unknown);
    const rows = this.#rows.length;
    const by = Array.from({ length: z.length }, () => new Float64Array(rows));
    this.#rows.forEach(({ scale, terms }, row) => {
      for (const { sign, at } of terms)
        at.forEach((own, place) => {
          let product = sign * scale;
          at.forEach((other, k) => {
            if (k !== place) product *= z[other] as number;
          });
          (by[own] as Float64Array)[row]! += product;
        });
    });
    const split = this.known.length;
    let last = new Float64Array(rows);
    return {
      residual: this.residual(known, unknown),
      measured: moves.map((move, at) => {
        // inputs that move nothing share one list
        if (at > 0 && move === moves[at - 1]) return last;
        const column = new Float64Array(rows);
        for (let k = 0; k < split; k++) {
          const moved = move[k] as number;
          if (moved === 0) continue;
          const own = by[k] as Float64Array;
          for (let row = 0; row < rows; row++) column[row]! += (own[row] as number) * moved;
        }
        last = column;
        return column;
      }),
      unmeasured: by.slice(split).map((column, at) => column.map((value) => value * (this.#unknownSize[at] as number))),
    };
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
