/**
 * Polytropic efficiency of a real gas: eta = (integral of v dp)/(h2 - h1) along the path on which every small step has
 * that same efficiency. The path runs through Lobatto points of ln p, where enthalpy follows from the integral so far
 * (collocation, order 6); two thousand plain steps come within 1e-5 of it, their extrapolation within 1e-7. Schultz
 * 1962 / ASME PTC 10 is the cross-check of the tests. Paths may end or run inside the dome.
 */
import { fail, ok, type Result } from '../base/result.ts';
import type { Refrigerant, State } from '../refrigerant/types.ts';

/** Abscissae of 4-point Lobatto quadrature on 0..1, and the weights from 0 to each of them and to 1. */
const INNER = Math.sqrt(1 / 5);
const X1 = (1 - INNER) / 2;
const X2 = (1 + INNER) / 2;
const ABSCISSAE = [0, X1, X2, 1];
const ROUNDS_MAX = 40;
/** Of the enthalpy rise: where rounds end. */
const NEAR_ENOUGH = 1e-9;
const WEIGHTS = ABSCISSAE.slice(1).map((end) => weightsTo(end));

/** Integrals from 0 to `end` of the Lagrange polynomials through the abscissae. */
function weightsTo(end: number): number[] {
  return ABSCISSAE.map((own, index) => {
    // numerator polynomial, lowest power first
    let polynomial = [1];
    let scale = 1;
    ABSCISSAE.forEach((other, at) => {
      if (at === index) return;
      scale *= own - other;
      const next = new Array<number>(polynomial.length + 1).fill(0);
      polynomial.forEach((factor, power) => {
        next[power] = (next[power] as number) - factor * other;
        next[power + 1] = (next[power + 1] as number) + factor;
      });
      polynomial = next;
    });
    return polynomial.reduce((sum, factor, power) => sum + (factor * end ** (power + 1)) / (power + 1), 0) / scale;
  });
}

/** What joins between two stages: pressure `p` (Pa), `share` of all that is delivered by mass, enthalpy `h` (J/kg). */
export interface SideStream {
  readonly p: number;
  readonly share: number;
  readonly h: number;
}

/** One efficiency over all stages; enthalpies (J/kg) leaving each, and entering each after the mixing before it. */
export interface Staged {
  readonly efficiency: number;
  readonly leaving: readonly number[];
  readonly entering: readonly number[];
}

const NO_RISE = fail('cycle_impossible', 'pressure and enthalpy do not both rise over the compressor');

/** From state `from` to state `to` at a higher pressure; a fault where a state between them is not found. */
export function polytropicEfficiency(fluid: Refrigerant, from: State, to: State): Result<number> {
  const rise = to.h - from.h;
  if (!(to.p > from.p) || !(rise > 0)) return NO_RISE;
  const path = new Path(fluid, from.p, to.p);
  path.line(from.h, rise);
  path.known(0, from);
  path.end(to);
  let eta = Number.NaN;
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const fault = path.integrate();
    if (fault !== null) return fault;
    eta = path.part(3) / rise;
    if (path.move(from.h, eta) < NEAR_ENOUGH * rise) break;
  }
  return ok(eta);
}

/** The state at pressure `p` (Pa) to which a compression of polytropic efficiency `eta` leads from `from`. */
export function polytropicEnd(fluid: Refrigerant, from: State, p: number, eta: number): Result<State> {
  if (!(p > from.p) || !(eta > 0)) return NO_RISE;
  const path = new Path(fluid, from.p, p);
  path.line(from.h, ((from.p / from.rho) * path.span) / eta);
  path.known(0, from);
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const fault = path.integrate();
    if (fault !== null) return fault;
    if (path.move(from.h, eta) < (NEAR_ENOUGH * path.part(3)) / eta) break;
  }
  return fluid.PH(p, path.h[3] as number);
}

/**
 * One polytropic efficiency over all stages of a compressor that draws in at `from`, takes side streams between its
 * stages (from low pressure to high) and delivers at `to`: all paths and the mixing between them are closed together,
 * so that no measurement between the stages is needed.
 */
export function throughStages(
  fluid: Refrigerant,
  from: State,
  to: State,
  sides: readonly SideStream[],
): Result<Staged> {
  const drawn = sides.reduce((rest, side) => rest - side.share, 1);
  // of all that is delivered: its enthalpy less what it brought along
  const rise = to.h - drawn * from.h - sides.reduce((sum, side) => sum + side.share * side.h, 0);
  const pressures = [from.p, ...sides.map((side) => side.p), to.p];
  if (!(rise > 0) || !(drawn > 0) || pressures.some((p, at) => at > 0 && !(p > (pressures[at - 1] as number))))
    return NO_RISE;
  const stages = pressures.length - 1;
  const paths = pressures.slice(1).map((p, at) => new Path(fluid, pressures[at] as number, p));
  paths.forEach((path, at) => {
    path.line(from.h + ((to.h - from.h) * at) / stages, rise / stages);
  });
  (paths[0] as Path).known(0, from);
  (paths.at(-1) as Path).end(to);
  let eta = Number.NaN;
  const entering = new Array<number>(stages).fill(from.h);
  for (let round = 0; round < ROUNDS_MAX; round++) {
    for (const path of paths) {
      const fault = path.integrate();
      if (fault !== null) return fault;
    }
    let flow = drawn;
    let ideal = 0;
    paths.forEach((path, at) => {
      if (at > 0) flow += (sides[at - 1] as SideStream).share;
      ideal += flow * path.part(3);
    });
    eta = ideal / rise;
    if (moveAll(paths, { drawn, sides, entering }, eta) < NEAR_ENOUGH * rise) break;
  }
  return ok({ efficiency: eta, leaving: paths.map((path) => path.h[3] as number), entering });
}

/** Each stage from where the one before it and its side stream leave off; how far the farthest enthalpy moved. */
function moveAll(
  paths: readonly Path[],
  at: { readonly drawn: number; readonly sides: readonly SideStream[]; readonly entering: number[] },
  eta: number,
): number {
  let most = 0;
  let flow = at.drawn;
  paths.forEach((path, stage) => {
    const side = at.sides[stage - 1];
    const before = paths[stage - 1];
    if (side !== undefined && before !== undefined) {
      at.entering[stage] = (flow * (before.h[3] as number) + side.share * side.h) / (flow + side.share);
      flow += side.share;
    }
    most = Math.max(most, path.move(at.entering[stage] as number, eta));
  });
  return most;
}

/** Enthalpies at the Lobatto points of one compression, and the integral of v dp up to each. */
class Path {
  readonly span: number;
  readonly h = new Float64Array(4);
  readonly #fluid: Refrigerant;
  readonly #p: readonly number[];
  /** p v, and the enthalpy it is of. */
  readonly #f = new Float64Array(4);
  readonly #known = new Float64Array(4).fill(Number.NaN);
  #fixed = false;

  constructor(fluid: Refrigerant, from: number, to: number) {
    this.#fluid = fluid;
    this.span = Math.log(to / from);
    this.#p = ABSCISSAE.map((x) => from * Math.exp(this.span * x));
  }

  /** First guess: a straight line. */
  line(from: number, rise: number): void {
    ABSCISSAE.forEach((x, at) => {
      this.h[at] = from + rise * x;
    });
  }

  /** The end is known: it stays. */
  end(to: State): void {
    this.h[3] = to.h;
    this.known(3, to);
    this.#fixed = true;
  }

  /** Spares a property call where the state is at hand. */
  known(at: number, { h, p, rho }: State): void {
    this.#f[at] = p / rho;
    this.#known[at] = h;
  }

  integrate(): ReturnType<typeof fail> | null {
    for (let at = 0; at < 4; at++) {
      if (this.#known[at] === this.h[at]) continue;
      const state = this.#fluid.PH(this.#p[at] as number, this.h[at] as number);
      if (!state.ok) return state;
      this.known(at, state.value);
      this.#known[at] = this.h[at] as number;
    }
    return null;
  }

  /** Integral of v dp from the start to point `at`, J/kg. */
  part(at: 1 | 2 | 3): number {
    const [a, b, c, d] = WEIGHTS[at - 1] as [number, number, number, number];
    const [f0, f1, f2, f3] = this.#f as unknown as [number, number, number, number];
    return this.span * (a * f0 + b * f1 + c * f2 + d * f3);
  }

  /** Enthalpies to where the integrals and `eta` put them; how far the farthest moved, J/kg. */
  move(from: number, eta: number): number {
    let most = Math.abs(from - (this.h[0] as number));
    this.h[0] = from;
    for (const at of this.#fixed ? ([1, 2] as const) : ([1, 2, 3] as const)) {
      const next = from + this.part(at) / eta;
      most = Math.max(most, Math.abs(next - (this.h[at] as number)));
      this.h[at] = next;
    }
    return most;
  }
}
