/**
 * Finds how points are mapped wrongly from one reading of all of them: looks for the fewest ordinary mistakes without
 * which the readings agree with each other. Each round takes the mistake that relieves most strain, until none does
 * enough; what then still contradicts is said without a cause. Silence is no proof: a small error fits everywhere.
 */
import { toSi } from '../base/units.ts';
import { type Atmosphere, convert, figure, readingToSi } from '../points/convert.ts';
import { type PointName, pointDefinition } from '../points/dictionary.ts';
import type { Refrigerant } from '../refrigerant/types.ts';
import { type Mistake, type MistakeCode, possibleMistakes, type Reading, wouldBe } from './mistakes.ts';
import { strains } from './relations.ts';
import { amount, type Facts, STRAIN_MAX, type Strain, words } from './strain.ts';

export type MappingCode = MistakeCode | 'sentinel' | 'no_measurement' | 'not_read' | 'out_of_range' | 'contradiction';

export interface MappingFinding {
  readonly code: MappingCode;
  /** Those concerned; of a contradiction: those that cannot be told apart as the culprit. */
  readonly points: readonly PointName[];
  /**
   * Key of the points' entries in the site file to look at: `unit`, `address.order`; null where it is not the file's.
   */
  readonly key: string | null;
  /** What is wrong, with figures, and what would fit. */
  readonly message: string;
}

export interface MappingInput {
  readonly readings: readonly Reading[];
  readonly refrigerant: Refrigerant;
  /** W */
  readonly rated_capacity: number;
  readonly air: Atmosphere;
  /** Null: not known; judged as standing. */
  readonly running: boolean | null;
}

/** Raw numbers by which controllers say that they have no measurement (common practice, no source). */
const SENTINELS: readonly number[] = [
  32_767, -32_768, -32_767, 65_535, 65_534, 2_147_483_647, -2_147_483_648, 4_294_967_295, -999, 999, -9999, 9999,
  99_999, 999.9, 3276.7, -3276.8,
];
/** Sum of squared strains that a mistake must relieve beyond its cost: more than three standard deviations. */
const RELIEF_LEAST = 10;
/** A contradiction without a cause takes more to be said. */
const COST_OF_NONE = 14;
/** Explanations that relieve as much to within this are told beside the first. */
const RIVAL_WITHIN = 6;
const ROUNDS_MAX = 24;
const RIVALS_MAX = 2;
const REASONS_MAX = 2;
/**
 * Words in the wrong order leave numbers below this; so does a filter that dies away, which no other order makes sense
 * of.
 */
const TINY = 1e-30;
const SENSIBLE = 1e-4;

export function findMappingMistakes(input: MappingInput): MappingFinding[] {
  const found: MappingFinding[] = [];
  const open: Reading[] = [];
  for (const given of input.readings) {
    // No number and no end of it are nothing to compare: as if nothing had been read.
    const finite = given.raw === null || Number.isFinite(given.raw);
    const reading = finite ? given : { ...given, raw: null, reason: 'not a number' };
    const told = unread(reading, input.air);
    if (told === null) open.push(reading);
    else found.push(told);
  }
  const values = new Map<PointName, number | null>(
    open.map((reading) => [reading.spec.name, siValue(reading, input.air)]),
  );
  const settled = new Set<PointName>();
  const search = new Search(open, input);
  for (let round = 0; round < ROUNDS_MAX; round += 1) {
    const best = search.best(values, settled);
    if (best === null) break;
    found.push(search.told(best, values));
    const named = best.mistake === null ? best.points : [...best.mistake.values.keys()];
    for (const name of named) {
      values.set(name, best.mistake?.values.get(name) ?? null);
      settled.add(name);
    }
  }
  const named = new Set(found.flatMap(({ points }) => points));
  return [...found, ...open.flatMap((reading) => refused(reading, input.air, named))];
}

function siValue({ spec, raw }: Reading, air: Atmosphere): number | null {
  return raw === null ? null : readingToSi(raw * spec.scale + spec.offset, spec, air);
}

/** What needs no comparison: not read, or a mark for 'no measurement'. */
function unread({ spec, raw, reason, otherwise }: Reading, air: Atmosphere): MappingFinding | null {
  const { name } = spec;
  const say = (code: MappingCode, key: string | null, message: string): MappingFinding => ({
    code,
    points: [name],
    key,
    message,
  });
  if (raw === null) {
    const orders = otherwise.some((each) => each.raw !== null && Math.abs(each.raw) > TINY);
    if (reason === 'not a number' && orders) return null;
    return say('not_read', 'address', `nothing is read: ${reason ?? 'no reply'}`);
  }
  if (spec.sentinels.includes(raw))
    return say('no_measurement', null, `the controller marks no measurement (raw ${raw})`);
  if (!SENTINELS.includes(raw) || convert({ spec, raw, atmosphere: air }).value !== null) return null;
  const reading = figure(raw * spec.scale + spec.offset, spec);
  const message = `raw ${raw} is most likely a mark for 'no measurement', not ${reading}: write sentinels: [${raw}] and see what the sensor has`;
  return say('sentinel', 'sentinels', message);
}

/** Refused by the point's own range, and nothing said yet. */
function refused({ spec, raw }: Reading, air: Atmosphere, named: ReadonlySet<PointName>): MappingFinding[] {
  if (named.has(spec.name) || raw === null) return [];
  const { value, reason } = convert({ spec, raw, atmosphere: air });
  if (value !== null || reason === null) return [];
  return [{ code: 'out_of_range', points: [spec.name], key: 'address', message: `${reason} (raw ${raw})` }];
}

interface Explanation {
  /** Null: a contradiction without a cause. */
  readonly mistake: Mistake | null;
  readonly points: readonly PointName[];
  readonly relief: number;
  /** The worst that it relieves, for people. */
  readonly reasons: readonly string[];
  readonly rivals: readonly Explanation[];
}

class Search {
  readonly #readings: readonly Reading[];
  readonly #byName: ReadonlyMap<PointName, Reading>;
  readonly #mistakes: readonly Mistake[];
  readonly #input: MappingInput;
  readonly #saturation = new Map<number, number | null>();

  constructor(readings: readonly Reading[], input: MappingInput) {
    this.#readings = readings;
    this.#byName = new Map(readings.map((reading) => [reading.spec.name, reading]));
    this.#mistakes = possibleMistakes(readings, input.air);
    this.#input = input;
  }

  /** The explanation that relieves most, or null where none relieves enough. */
  best(values: ReadonlyMap<PointName, number | null>, settled: ReadonlySet<PointName>): Explanation | null {
    const before = this.#strains(values, new Map());
    const total = sum(before);
    if (total < RELIEF_LEAST) return null;
    const touched = new Set(before.flatMap(({ points }) => points));
    const judge = (changes: ReadonlyMap<PointName, number | null>, cost: number): number | null => {
      const names = [...changes.keys()];
      if (names.some((name) => settled.has(name)) || !names.some((name) => touched.has(name))) return null;
      const relief = total - sum(this.#strains(values, changes)) - cost;
      return relief < RELIEF_LEAST ? null : relief;
    };
    const explanations: Explanation[] = [];
    for (const possible of this.#mistakes) {
      const mistake = withoutInnocent(possible, touched);
      const points = [...mistake.values.keys()];
      // A slip shared with points that nothing speaks against is the less likely for each of them.
      const innocent = points.filter((name) => !touched.has(name)).length;
      const relief = judge(mistake.values, mistake.cost + innocent);
      if (relief !== null) explanations.push({ mistake, points, relief, reasons: worst(before, points), rivals: [] });
    }
    for (const name of touched) {
      const relief = judge(new Map([[name, null]]), COST_OF_NONE);
      if (relief !== null)
        explanations.push({ mistake: null, points: [name], relief, reasons: worst(before, [name]), rivals: [] });
    }
    explanations.sort((a, b) => b.relief - a.relief || a.points.length - b.points.length);
    const [first, ...rest] = explanations;
    if (first === undefined) return null;
    const rivals = rest.filter(
      (each) => each.relief > first.relief - RIVAL_WITHIN && each.mistake?.write !== first.mistake?.write,
    );
    if (first.mistake !== null) return { ...first, rivals: rivals.filter(({ mistake }) => mistake !== null) };
    const also = rest.filter(({ mistake, relief }) => mistake === null && relief > first.relief - RIVAL_WITHIN);
    const points = [first, ...also].flatMap((each) => (each.mistake === null ? each.points : []));
    return { ...first, points: [...new Set(points)], rivals: [] };
  }

  /** The explanation in words. */
  told(best: Explanation, values: ReadonlyMap<PointName, number | null>): MappingFinding {
    const { mistake, points, reasons, rivals } = best;
    const because = reasons.join('; ');
    const code = points.every((name) => this.#byName.get(name)?.raw === null) ? 'not_read' : 'contradiction';
    if (mistake === null) return { code, points, key: 'address', message: because };
    const now = points.slice(0, 4).map((name) => this.#read(name, values.get(name) ?? null));
    const more = points.length > 4 ? ` and ${points.length - 4} more` : '';
    const others = rivals.slice(0, RIVALS_MAX).map((each) => {
      const other = each.mistake as Mistake;
      return `${other.code === 'swapped' ? '' : `${each.points.join(', ')} `}${other.write}`;
    });
    const or = others.length === 0 ? '' : `; as likely: ${others.join(' or ')}`;
    const fix = `${mistake.write} would make it ${wouldBe(mistake)}`;
    return {
      code: mistake.code,
      points,
      key: mistake.key,
      message: `${now.join(', ')}${more}: ${because}; ${fix}${or}`,
    };
  }

  #read(name: PointName, value: number | null): string {
    const { spec, raw } = this.#byName.get(name) as Reading;
    if (raw === null || value === null) return `${words(name)} is no number`;
    const reading = figure(raw * spec.scale + spec.offset, spec);
    const own = amount(value, name);
    return `${words(name)} reads ${reading}${spec.unit === pointDefinition(name).unit ? '' : ` (${own})`}`;
  }

  #strains(
    values: ReadonlyMap<PointName, number | null>,
    changes: ReadonlyMap<PointName, number | null>,
  ): readonly Strain[] {
    const value = (name: PointName): number | null =>
      changes.has(name) ? (changes.get(name) ?? null) : (values.get(name) ?? null);
    const facts: Facts = {
      value,
      saturation: (pressure) => this.#saturationOf(pressure),
      rated_capacity: this.#input.rated_capacity,
      running: this.#input.running === true,
    };
    const own = this.#readings.flatMap((reading) => {
      const { name } = reading.spec;
      // Changed to nothing: the point is out of the comparison.
      if (changes.has(name) && changes.get(name) === null) return [];
      const strain = unbelievable(reading, value(name), changes.has(name));
      return strain === null ? [] : [strain];
    });
    return [...own, ...strains(facts)];
  }

  #saturationOf(pressure: number): number | null {
    const known = this.#saturation.get(pressure);
    if (known !== undefined) return known;
    const found = this.#input.refrigerant.dewTemperature(pressure);
    const T = found.ok ? found.value : null;
    this.#saturation.set(pressure, T);
    return T;
  }
}

/**
 * Of a wrong unit or scale shared by many points those that something speaks against; the order of a device's words and
 * the first number of its list hold for all.
 */
function withoutInnocent(mistake: Mistake, touched: ReadonlySet<PointName>): Mistake {
  if (mistake.code === 'swapped' || mistake.code === 'word_order' || mistake.code === 'register') return mistake;
  if (mistake.values.size === 1) return mistake;
  return { ...mistake, values: new Map([...mistake.values].filter(([name]) => touched.has(name))) };
}

/** Outside the widest range of such a point, or no number. */
function unbelievable({ spec, raw, otherwise }: Reading, value: number | null, changed: boolean): Strain | null {
  const { name } = spec;
  if (value === null) {
    if (raw !== null) return null;
    return { points: [name], z: STRAIN_MAX, words: `${words(name)} is no number` };
  }
  const other = otherwise.some(
    (each) => each.raw !== null && Math.abs(each.raw) > SENSIBLE && Math.abs(each.raw) < 1 / TINY,
  );
  if (!changed && raw !== null && raw !== 0 && Math.abs(raw) < TINY && other)
    return { points: [name], z: STRAIN_MAX, words: `${words(name)}: raw ${raw.toExponential(1)} is no measurement` };
  const { low, high, unit } = pointDefinition(name);
  if (value >= toSi(low, unit) && value <= toSi(high, unit)) return null;
  return { points: [name], z: STRAIN_MAX, words: `${words(name)} ${amount(value, name)} is out of any range` };
}

function sum(strained: readonly Strain[]): number {
  return strained.reduce((total, { z }) => total + Math.min(z, STRAIN_MAX) ** 2, 0);
}

/** The strongest strains on these points, in words. */
function worst(strained: readonly Strain[], points: readonly PointName[]): string[] {
  return strained
    .filter((each) => each.points.some((name) => points.includes(name)))
    .sort((a, b) => b.z - a.z)
    .slice(0, REASONS_MAX)
    .map((each) => each.words);
}
