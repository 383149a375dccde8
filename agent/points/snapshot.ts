/**
 * All points of one chiller over one interval: mean, spread, count, age, quality and standard uncertainty. What
 * `solve` sees of the outside.
 */
import { type Slope, slopeOf } from '../base/slope.ts';
import { rfc3339 } from '../base/time.ts';
import { differenceToSi, unitOf } from '../base/units.ts';
import { type Atmosphere, convert, figure, readingToSi } from './convert.ts';
import { isLevel, type PointName } from './dictionary.ts';
import type { PointSamples } from './samples.ts';
import { scatterOf } from './scatter.ts';
import type { PointSpec, PointValue, Snapshot, SourceStatus } from './types.ts';

export interface SnapshotOptions {
  readonly specs: readonly PointSpec[];
  /** From `SampleTable.interval`. */
  readonly samples: ReadonlyMap<PointName, PointSamples>;
  /** End of the interval, ms since the epoch. */
  readonly to: number;
  readonly atmosphere: Atmosphere;
  /** The controller's link, to say why a point was never read. */
  readonly link?: Pick<SourceStatus, 'state' | 'reason'>;
}

/** Never throws for what a controller delivers: a bad point costs itself, the rest of the interval is complete. */
export function takeSnapshot(options: SnapshotOptions): Snapshot {
  const points: Record<PointName, PointValue> = {};
  for (const spec of options.specs) points[spec.name] = pointValue(spec, options);
  return { time: options.to, points };
}

function pointValue(spec: PointSpec, options: SnapshotOptions): PointValue {
  const samples = options.samples.get(spec.name);
  const n = samples?.times.length ?? 0;
  const latest = samples?.latest ?? null;
  const age_s = latest === null ? null : Math.max(0, (options.to - latest.time) / 1000);
  const seen = { age_s, n };
  if (samples === undefined || latest === null || age_s === null)
    return bad(samples?.failure?.reason ?? linkReason(options.link) ?? 'never read', seen);
  if (n === 0 && samples.failure !== null) return bad(samples.failure.reason, seen);
  if (age_s > spec.stale_s) {
    const why = linkReason(options.link);
    return bad(
      `stale: last read ${whole(age_s)} s ago (limit ${spec.stale_s} s)${why === null ? '' : `, ${why}`}`,
      seen,
    );
  }
  const frozen = frozenReason(spec, samples, options);
  if (frozen !== null) return bad(frozen, seen);
  const raws = n > 0 ? samples.raws : [latest.raw];
  const mean = believed(spec, raws, seen, options.atmosphere);
  const rate = mean.quality === 'good' ? rateOf(spec, samples, options.atmosphere) : null;
  const value = rate === null ? mean : { ...mean, rate };
  // The controller's own doubt (overridden by hand): kept as a value, never as a good one.
  if (samples.doubt === undefined || value.value === null) return value;
  const reason = value.reason === null ? samples.doubt : `${samples.doubt}; ${value.reason}`;
  return { ...value, quality: 'uncertain', reason };
}

/** Mean and uncertainty of what could be believed; doubt or refusal where too much could not. */
function believed(spec: PointSpec, raws: readonly number[], seen: Seen, atmosphere: Atmosphere): PointValue {
  const values: number[] = [];
  let refused = '';
  for (const raw of raws) {
    const converted = convert({ spec, raw, atmosphere });
    if (converted.value !== null) values.push(converted.value);
    else refused = converted.reason as string;
  }
  const rejected = raws.length - values.length;
  if (values.length === 0 || rejected > values.length) return bad(refused, seen);
  const discrete = DISCRETE.has(unitOf(spec.unit).dimension);
  const value = discrete ? (values[values.length - 1] as number) : average(values);
  const scatter = discrete ? null : scatterOf(values, value);
  const spread = scatter?.spread ?? null;
  const fromSpec = Math.hypot(spec.uncertainty.absolute, spec.uncertainty.relative * Math.abs(value));
  // The sensor's own part, a bias, dominates and does not average out; the scatter adds the standard error of the mean.
  const u = Math.hypot(fromSpec, scatter?.u ?? 0);
  if (!Number.isFinite(value) || !Number.isFinite(u)) return bad('the readings have no finite mean', seen);
  const doubt = rejected === 0 ? null : `${rejected} of ${raws.length} readings refused: ${refused}`;
  const { barometer } = spec.uncertainty;
  const shared = {
    ...(barometer === undefined ? {} : { u_barometer: barometer }),
    ...(scatter === null || scatter.u_random === 0 ? {} : { u_random: scatter.u_random }),
  };
  return { ...seen, value, u, ...shared, quality: doubt === null ? 'good' : 'uncertain', reason: doubt, spread };
}

/** Part of its range to which a level is taken to be rounded where its register does not say: common practice. */
const LEVEL_STEP = 0.001;
/** A whole number of steps no larger than this is a rounded level; larger: 0 or 1 by chance. */
const COUNTED_STEP_MOST = 0.02;

/** Of a level, per second; null where it is none, or the samples do not tell. */
function rateOf(spec: PointSpec, { times, raws }: PointSamples, atmosphere: Atmosphere): Slope | null {
  if (!isLevel(spec.name)) return null;
  const values: number[] = [];
  for (const raw of raws) values.push(convert({ spec, raw, atmosphere }).value ?? Number.NaN);
  const step = differenceToSi(Math.abs(spec.scale), spec.unit);
  const counted = step <= COUNTED_STEP_MOST && raws.every((raw) => Number.isInteger(raw));
  return slopeOf(times, values, counted ? step : LEVEL_STEP);
}

/** Counted or numbered: a mean of two modes is no mode. */
const DISCRETE: ReadonlySet<string> = new Set(['state', 'count', 'time']);

/** What may rest at its zero (or a fraction at its end) for days: a stopped machine is not a frozen register. */
const RESTS_AT_ZERO: ReadonlySet<string> = new Set([
  'power',
  'current',
  'voltage',
  'speed',
  'volume_flow',
  'mass_flow',
  'pressure_difference',
  'fraction',
]);

function frozenReason(spec: PointSpec, samples: PointSamples, options: SnapshotOptions): string | null {
  const { latest, unchanged_since } = samples;
  if (spec.frozen_s === null || latest === null || unchanged_since === null) return null;
  // Counted between readings, not to the interval's end: time without a reading is no evidence.
  if (latest.time - unchanged_since < spec.frozen_s * 1000) return null;
  const reading = latest.raw * spec.scale + spec.offset;
  const { dimension } = unitOf(spec.unit);
  const si = readingToSi(reading, spec, options.atmosphere);
  if (RESTS_AT_ZERO.has(dimension) && (si === 0 || (dimension === 'fraction' && si === 1))) return null;
  // A register stuck at no number is already refused for what it holds.
  if (convert({ spec, raw: latest.raw, atmosphere: options.atmosphere }).value === null) return null;
  return `frozen since ${rfc3339(unchanged_since)} at ${figure(reading, spec)} (limit ${spec.frozen_s} s)`;
}

type Seen = Pick<PointValue, 'age_s' | 'n'>;

function bad(reason: string, seen: Seen): PointValue {
  return { ...seen, value: null, u: null, quality: 'bad', reason, spread: null };
}

function linkReason(link: SnapshotOptions['link']): string | null {
  if (link === undefined || link.state === 'connected') return null;
  if (link.state === 'connecting') return 'the controller has not answered yet';
  if (link.state === 'stopped') return link.reason ?? 'the source is stopped';
  return link.reason === null
    ? 'the link to the controller is lost'
    : `the link to the controller is lost: ${link.reason}`;
}

function average(values: readonly number[]): number {
  let sum = 0;
  for (const value of values) sum += value;
  return sum / values.length;
}

function whole(seconds: number): string {
  return String(Math.round(seconds));
}
