/**
 * The calculation of one interval as a ledger of named quantities, each computed once when first asked for. It notes
 * which inputs each entry came from: that gives the quality of a figure, and lets a second ledger with one input
 * shifted recompute only what depends on it.
 */
import { type Missing, missing } from '../base/metric.ts';
import { assert } from '../base/result.ts';
import type { Refrigerant, State } from '../refrigerant/types.ts';
import type { Circuit } from './arrangements/type.ts';
import type { Flows } from './balances.ts';
import type { CapacityMethod, CycleContext, Quantity, Value } from './context.ts';
import type { Input, Interval } from './interval.ts';
import type { ChillerParameters } from './parameters.ts';
import { type Vector, zeros } from './vector.ts';

/** Inputs are numbered; a set of them is two words of 30 bits. */
const WORD = 30;
export const INPUTS_MAX = 2 * WORD;
const DOUBTS_MAX = WORD;

const NOTHING: State = Object.freeze({
  T: Number.NaN,
  p: Number.NaN,
  rho: Number.NaN,
  h: Number.NaN,
  s: Number.NaN,
  q: null,
  cp: null,
  cv: null,
  w: null,
  phase: 'two-phase',
});

const NO_FLOWS: Flows = Object.freeze({});
/** Stands where an entry is being computed. */
const OPEN: Missing = Object.freeze(missing('being computed'));

export class Ledger implements CycleContext {
  readonly parameters: ChillerParameters;
  readonly refrigerant: Refrigerant;
  readonly circuit: Circuit;
  readonly other: Circuit | null;
  capacityMethod: CapacityMethod | null = null;
  /** Doubts raised so far, in order. */
  readonly doubts: string[] = [];
  readonly #interval: Interval;
  readonly #base: Ledger | null;
  readonly #shift: Vector | null;
  readonly #shiftedLow: number;
  readonly #shiftedHigh: number;
  readonly #values: (Value | undefined)[];
  readonly #low: number[];
  readonly #high: number[];
  readonly #doubtful: number[];
  // of the entry being computed
  #fromLow = 0;
  #fromHigh = 0;
  #fromDoubts = 0;
  #reason: string | null = null;

  constructor(interval: Interval, shifted?: { readonly base: Ledger; readonly by: ReadonlyMap<number, number> }) {
    this.#interval = interval;
    this.parameters = interval.parameters;
    this.refrigerant = interval.refrigerant;
    this.circuit = interval.table.circuit;
    this.other = interval.table.other;
    assert(interval.inputs.length <= INPUTS_MAX, 'inputs fit the two words that note them');
    const size = interval.table.quantities.length;
    this.#values = new Array<Value | undefined>(size).fill(undefined);
    const base = shifted?.base ?? null;
    this.#base = base;
    // a shifted ledger is asked for values alone: what they came from stands in the base
    this.#low = base === null ? zeros(size) : base.#low;
    this.#high = base === null ? zeros(size) : base.#high;
    this.#doubtful = base === null ? zeros(size) : base.#doubtful;
    this.#shift = null;
    let low = 0;
    let high = 0;
    if (shifted !== undefined) {
      this.#shift = zeros(interval.inputs.length);
      this.capacityMethod = shifted.base.capacityMethod;
      for (const [index, by] of shifted.by) {
        this.#shift[index] = by;
        if (index < WORD) low |= 1 << index;
        else high |= 1 << (index - WORD);
      }
    }
    this.#shiftedLow = low;
    this.#shiftedHigh = high;
  }

  economizing(): boolean {
    for (const name of this.#interval.economizingFrom) this.#note(this.#inputAt(name));
    if (this.#interval.economizingDoubt !== null) this.doubt(this.#interval.economizingDoubt);
    return this.#interval.economizing;
  }

  point(name: string): number {
    const at = this.#interval.inputIndex.get(name);
    const input = at === undefined ? undefined : this.#interval.inputs[at];
    if (at === undefined || input === undefined) {
      this.#reason ??= `${name} is not measured`;
      return Number.NaN;
    }
    this.#note(at);
    if (input.reason !== null) this.#reason ??= input.reason;
    return this.#shift === null ? input.value : input.value + (this.#shift[at] as number);
  }

  assumed(name: string): number {
    assert(this.#interval.inputIndex.has(name), `${name} is an assumption of the cycle`);
    return this.point(name);
  }

  hasPoint(name: string): boolean {
    return this.whyPoint(name) === null;
  }

  whyPoint(name: string): string | null {
    const at = this.#interval.inputIndex.get(name);
    return at === undefined ? `${name} is not measured` : (this.#interval.inputs[at] as Input).reason;
  }

  has(name: string): boolean {
    return this.why(name) === null;
  }

  why(name: string): string | null {
    const value = this.entry(name);
    return typeof value === 'object' && 'missing' in value ? (value.missing as string) : null;
  }

  figure(name: string): number {
    const value = this.#ask(name);
    if (typeof value === 'number') return value;
    assert('missing' in value, `${name} is a number`);
    return Number.NaN;
  }

  state(name: string): State {
    const value = this.#ask(name);
    if (typeof value === 'object' && 'missing' in value) return NOTHING;
    assert(typeof value === 'object' && 'h' in value, `${name} is a state`);
    return value as State;
  }

  flows(name: string): Flows {
    const value = this.#ask(name);
    if (typeof value === 'object' && 'missing' in value) return NO_FLOWS;
    assert(typeof value === 'object', `${name} is a set of flows`);
    return value as Flows;
  }

  missing(reason: string): Missing {
    this.#reason ??= reason;
    return missing(this.#reason);
  }

  take(result: ReturnType<Refrigerant['TP']>): State {
    if (result.ok) return result.value;
    this.#reason ??= result.fault.message;
    return NOTHING;
  }

  doubt(reason: string): void {
    let at = this.doubts.indexOf(reason);
    if (at < 0 && this.doubts.length < DOUBTS_MAX) at = this.doubts.push(reason) - 1;
    // where the list is full the last doubt stands for the rest: still uncertain
    this.#fromDoubts |= 1 << (at < 0 ? DOUBTS_MAX - 1 : at);
  }

  /** The entry of that name, computed now if it was not yet. Whoever is being computed takes nothing over from it. */
  entry(name: string): Value {
    return this.entryAt(this.find(name));
  }

  /** Number of the entry of that name, the same in all ledgers of this way of running. */
  find(name: string): number {
    const at = this.#interval.table.index.get(name);
    assert(at !== undefined, `${name} is a quantity of the cycle`);
    return at;
  }

  /** Whether this way of running has a quantity of that name. */
  knows(name: string): boolean {
    return this.#interval.table.index.has(name);
  }

  /** Whether the entry came, directly or not, from that input. */
  dependsOn(name: string, input: number): boolean {
    return this.comesFrom(this.find(name), input);
  }

  /** The same of an entry's number. */
  comesFrom(at: number, input: number): boolean {
    const word = input < WORD ? this.#low : this.#high;
    return ((word[at] as number) & (1 << (input % WORD))) !== 0;
  }

  /** The inputs an entry came from. */
  inputsOf(name: string): Input[] {
    return this.#interval.inputs.filter((_, input) => this.dependsOn(name, input));
  }

  doubtsOf(name: string): readonly string[] {
    if (this.doubts.length === 0) return this.doubts;
    const at = this.find(name);
    return this.doubts.filter((_, index) => ((this.#doubtful[at] as number) & (1 << index)) !== 0);
  }

  #dependsAt(at: number, shifted: Ledger): boolean {
    return (
      ((this.#low[at] as number) & shifted.#shiftedLow) !== 0 ||
      ((this.#high[at] as number) & shifted.#shiftedHigh) !== 0
    );
  }

  #inputAt(name: string): number {
    const at = this.#interval.inputIndex.get(name);
    assert(at !== undefined, `${name} is an input`);
    return at;
  }

  #note(at: number): void {
    if (at < WORD) this.#fromLow |= 1 << at;
    else this.#fromHigh |= 1 << (at - WORD);
  }

  /** An entry asked for by the one being computed: its inputs, doubts and reason pass on. */
  #ask(name: string): Value {
    const at = this.find(name);
    const value = this.entryAt(at);
    this.#fromLow |= this.#low[at] as number;
    this.#fromHigh |= this.#high[at] as number;
    this.#fromDoubts |= this.#doubtful[at] as number;
    if (typeof value === 'object' && 'missing' in value) this.#reason ??= value.missing as string;
    return value;
  }

  /** As `entry`, by number. */
  entryAt(at: number): Value {
    const known = this.#values[at];
    if (known !== undefined) {
      assert(known !== OPEN, `${this.#interval.table.quantities[at]?.name} does not lead back to itself`);
      return known;
    }
    const base = this.#base;
    if (base !== null) {
      const before = base.entryAt(at);
      if (!base.#dependsAt(at, this)) {
        this.#values[at] = before;
        return before;
      }
    }
    this.#values[at] = OPEN;
    const [low, high, doubts, reason] = [this.#fromLow, this.#fromHigh, this.#fromDoubts, this.#reason];
    this.#fromLow = 0;
    this.#fromHigh = 0;
    this.#fromDoubts = 0;
    this.#reason = null;
    const value = this.#compute(this.#interval.table.quantities[at] as Quantity);
    this.#values[at] = value;
    if (base === null) {
      this.#low[at] = this.#fromLow;
      this.#high[at] = this.#fromHigh;
      this.#doubtful[at] = this.#fromDoubts;
    }
    this.#fromLow = low;
    this.#fromHigh = high;
    this.#fromDoubts = doubts;
    this.#reason = reason;
    return value;
  }

  #compute(quantity: Quantity): Value {
    const value = this.#interval.given.get(quantity.name) ?? quantity.compute(this);
    if (this.#reason !== null && this.#reason !== '') return missing(this.#reason);
    if (this.#reason === '') return missing('the points give no finite figure');
    if (typeof value === 'number' && !Number.isFinite(value)) return missing('the points give no finite figure');
    return value;
  }
}
