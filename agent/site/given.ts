/**
 * One interval's points as a record gives them, each with its unit, instead of a bus: what the verb `solve` reads line
 * by line and the Node-RED node message by message, and the answer of the cycle to it. Pure; a bad record is a fault.
 */
import { z } from 'zod';
import { recordIssues } from '../base/record-issues.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { parseRfc3339 } from '../base/time.ts';
import { differenceToSi, isUnit, type UnitName, unitOf } from '../base/units.ts';
import { standstill } from '../cycle/inputs.ts';
import type { ChillerParameters } from '../cycle/parameters.ts';
import { prepare } from '../cycle/solve.ts';
import { catalogue } from '../metrics/catalogue.ts';
import { type Atmosphere, convert, readingFromSi, readingToSi } from '../points/convert.ts';
import { isLevel, isPoint, POINTS, pointDefinition } from '../points/dictionary.ts';
import type { PointSpec, PointValue, Snapshot } from '../points/types.ts';
import { refrigerant } from '../refrigerant/refrigerants.ts';
import { nearest } from './nearest.ts';
import { defaultSpan } from './spans.ts';
import { defaultUncertainty } from './uncertainty.ts';

const pointRecord = z.strictObject({
  value: z.number().nullable(),
  unit: z.string(),
  u: z.number().min(0).optional(),
  rate: z.number().optional(),
  rate_u: z.number().min(0).optional(),
  quality: z.enum(['good', 'uncertain', 'bad']).optional(),
  reason: z.string().optional(),
});
const intervalRecord = z.strictObject({ time: z.string(), points: z.record(z.string(), pointRecord) });
type PointRecord = z.output<typeof pointRecord>;

/** What must be known of a chiller to solve a record of it. */
export interface GivenChiller {
  readonly machine: ChillerParameters;
  /** The site's word on points, where it has one: uncertainty, sealed transmitter. */
  readonly points: readonly PointSpec[];
  /** Pa absolute. */
  readonly barometer: number;
}

/**
 * Answers a record `{time, points: {name: {value, unit, u}}}` with `{time, state, economizer, states, ghost, metrics,
 * ...}`, units of the catalogue, uncertainties expanded (k = 2). Faults: `bad_record`, naming the point.
 */
export type SolveRecord = (record: unknown) => Result<object>;

interface Around {
  readonly chiller: GivenChiller;
  readonly air: Atmosphere;
}

/** Once per chiller. Faults: `refrigerant_unknown`. */
export function recordSolver(chiller: GivenChiller): Result<SolveRecord> {
  const solver = prepare(chiller.machine);
  if (!solver.ok) return solver;
  const around = { chiller, air: { local: chiller.barometer } };
  return ok((record) => {
    const parsed = intervalRecord.safeParse(record);
    if (!parsed.success) return fail('bad_record', recordIssues(parsed.error));
    const snapshot = snapshotOf(parsed.data, around);
    if (!snapshot.ok) return snapshot;
    const { economizer, states, ghost, metrics, reconciliation, unobservable } = solver.value.solve(snapshot.value);
    const { corrections, suspects, chi_square, redundant } = reconciliation;
    const units = catalogue();
    return ok({
      time: parsed.data.time,
      state: standstill(snapshot.value, chiller.machine) === null ? 'running' : 'off',
      economizer,
      states,
      ghost,
      metrics: Object.fromEntries(
        Object.entries(metrics).map(([name, { value, ...rest }]) => [
          name,
          { value, unit: units[name]?.unit ?? '1', ...rest },
        ]),
      ),
      corrections,
      suspects,
      chi_square,
      redundant,
      unobservable,
    });
  });
}

function snapshotOf(record: z.output<typeof intervalRecord>, around: Around): Result<Snapshot> {
  const time = parseRfc3339(record.time);
  if (time === null) return fail('bad_record', `time '${record.time}' is not RFC 3339`);
  const points: Record<string, PointValue> = {};
  for (const [name, given] of Object.entries(record.points)) {
    const point = pointValue(name, given, around);
    if (!point.ok) return fail(point.fault.code, `${name}: ${point.fault.message}`);
    points[name] = point.value;
  }
  return ok({ time, points });
}

function pointValue(name: string, given: PointRecord, { chiller, air }: Around): Result<PointValue> {
  if (!isPoint(name)) {
    const near = nearest(name, Object.keys(POINTS));
    return fail('bad_record', `no such point${near === null ? '' : `; the nearest known is '${near}'`}`);
  }
  const definition = pointDefinition(name);
  const { unit } = given;
  if (!isUnit(unit) || unitOf(unit).dimension !== definition.dimension)
    return fail('bad_record', `'${unit}' does not measure ${definition.dimension.replaceAll('_', ' ')}`);
  const seen = { age_s: 0, spread: null, n: 1 };
  if (given.value === null || given.quality === 'bad')
    return ok({ ...seen, value: null, u: null, quality: 'bad', reason: given.reason ?? 'no value' });
  const mapped = chiller.points.find((point) => point.name === name);
  const gauge = unitOf(unit).gauge === true;
  const reference = gauge ? (mapped?.reference === 'sealed_gauge' ? 'sealed_gauge' : 'vented_gauge') : 'absolute';
  const spec = specOf(name, { unit, reference }, mapped, { chiller, air });
  const converted = convert({ spec, raw: given.value, atmosphere: air });
  if (converted.value === null) return ok({ ...seen, value: null, u: null, quality: 'bad', reason: converted.reason });
  const { absolute, relative } = spec.uncertainty;
  const u = given.u === undefined ? Math.hypot(absolute, relative * converted.value) : differenceToSi(given.u, unit);
  const quality = given.quality ?? 'good';
  const reason = quality === 'good' ? null : (given.reason ?? 'no reason given');
  const { barometer } = spec.uncertainty;
  const shared = barometer === undefined ? {} : { u_barometer: Math.min(barometer, u) };
  const rate = rateOf(name, given);
  return rate.ok ? ok({ ...seen, value: converted.value, u, ...shared, ...rate.value, quality, reason }) : rate;
}

/** How fast a level rises, in its unit per second: only with what is known of that. */
function rateOf(name: string, { rate, rate_u, unit }: PointRecord): Result<Pick<PointValue, 'rate'>> {
  if (rate === undefined && rate_u === undefined) return ok({});
  if (!isLevel(name)) return fail('bad_record', 'only a level has a rate: leave it out');
  if (rate === undefined || rate_u === undefined)
    return fail('bad_record', 'rate and rate_u (standard uncertainty) go together');
  const per = unit as UnitName;
  const value = differenceToSi(rate, per);
  return ok({ rate: { value, u: differenceToSi(rate_u, per) } });
}

/** The site's word on the point where it is mapped, read in the unit of the record; else the dictionary's. */
function specOf(
  name: string,
  read: Pick<PointSpec, 'unit' | 'reference'>,
  mapped: PointSpec | undefined,
  { chiller, air }: Around,
): PointSpec {
  const definition = pointDefinition(name);
  const from = mapped ?? { unit: definition.unit, reference: 'absolute', valid: [definition.low, definition.high] };
  const ends = from.valid.map((end) => readingFromSi(readingToSi(end, from as PointSpec, air), read, air));
  const fluid = refrigerant(chiller.machine.refrigerant);
  const span =
    fluid.ok && definition.dimension === 'pressure' ? defaultSpan(name.split('.')[0] as string, fluid.value) : null;
  return {
    name,
    ...read,
    scale: 1,
    offset: 0,
    sentinels: [],
    valid: [Math.min(...ends), Math.max(...ends)],
    uncertainty: mapped?.uncertainty ?? defaultUncertainty(definition, span?.ok === true ? span.value : null),
    fast: false,
    stale_s: 1,
    frozen_s: null,
  };
}
