/** One chiller's readings judged: what each point says, what is odd about it and where that stands in the site file. */
import { must, ok, type Result } from './base/result.ts';
import { fromSi } from './base/units.ts';
import type { LearnedEfficiency } from './cycle/learning/learner.ts';
import { learnedFigures } from './cycle/learning/metrics.ts';
import type { OneMore } from './cycle/one-more.ts';
import { prepare } from './cycle/solve.ts';
import type { Solution } from './cycle/types.ts';
import { liveliness } from './diagnosis/liveliness.ts';
import type { MappingCode } from './diagnosis/mapping.ts';
import type { Reading } from './diagnosis/mistakes.ts';
import { type JudgedMapping, judgeMapping } from './diagnosis/refrigerant.ts';
import { type StandstillCheck, standstillCheck } from './diagnosis/standstill.ts';
import { amount } from './diagnosis/strain.ts';
import { type PointName, pointDefinition } from './points/dictionary.ts';
import { isRunning } from './points/running.ts';
import type { PointSamples } from './points/samples.ts';
import { takeSnapshot } from './points/snapshot.ts';
import type { PointValue, Snapshot } from './points/types.ts';
import { type ReadChiller, readChiller } from './reading.ts';
import { refrigerant } from './refrigerant/refrigerants.ts';
import { type Unarmed, unarmedAlarms, unobservable, whyNever } from './site/observable.ts';
import type { SitePoint } from './site/points.ts';
import type { ChillerSite } from './site/site.ts';
import { defaultSpan } from './site/spans.ts';
import { defaultUncertainty } from './site/uncertainty.ts';
import type { SourceMeans } from './sources/options.ts';

export type CheckCode =
  | MappingCode
  | 'frozen'
  | 'slow'
  | 'overridden'
  | 'controller'
  | 'refrigerant'
  | 'standstill_offset'
  | 'air_in_condenser';

export interface CheckFinding {
  readonly code: CheckCode;
  /** Empty where the whole controller is meant. */
  readonly points: readonly PointName[];
  /** file:line of what to correct, one for each point; of the source where the controller is meant. */
  readonly places: readonly string[];
  readonly message: string;
}

export interface CheckedPoint {
  readonly name: PointName;
  readonly raw: number | null;
  /** Catalogue unit. */
  readonly value: number | null;
  readonly unit: string;
  /** As the controller's panel should show it: after scale and offset, in the unit of the site file. */
  readonly reading: number | null;
  readonly reading_unit: string;
  readonly age_s: number | null;
  /** Seconds between true changes where they were seen. */
  readonly update_s: number | null;
  readonly quality: PointValue['quality'];
  readonly reason: string | null;
  readonly findings: readonly { readonly code: CheckCode; readonly message: string }[];
}

export interface CheckedChiller {
  readonly chiller: string;
  /** Null: no point says. */
  readonly running: boolean | null;
  readonly points: readonly CheckedPoint[];
  readonly findings: readonly CheckFinding[];
  /** Metrics that these points can give. */
  readonly solvable: readonly string[];
  readonly unobservable: readonly {
    readonly metric: string;
    readonly why: string;
    /** Sets of points each of which would give it. */
    readonly enough: readonly (readonly PointName[])[];
  }[];
  /** Alarms of the site file and shipped ones that are watched, and the shipped ones that are not, with the reason. */
  readonly alarms: { readonly armed: readonly string[]; readonly unarmed: readonly Unarmed[] };
  readonly solution: Solution;
  /** What each further sensor would bring to these readings. */
  readonly one_more: readonly OneMore[];
  /** Of a standing machine; null while it runs or nobody knows. */
  readonly standstill: StandstillCheck | null;
}

export interface CheckOptions {
  readonly chiller: ChillerSite;
  /** Pa */
  readonly barometer: number;
  /** What an agent at this site has learned so far. */
  readonly learned: LearnedEfficiency;
  readonly samples: number;
  readonly every_s: number;
  /** `file:line` of a key below the chiller. */
  readonly place: (keys: readonly string[]) => string;
  readonly means: SourceMeans;
  readonly stop: AbortSignal;
}

/** Kinds that the registers round a point may explain. */
const LOOK_AROUND: ReadonlySet<string> = new Set(['contradiction', 'out_of_range', 'sentinel']);

/** Faults: `source_settings`. A controller that does not answer is a finding. */
export async function checkChiller(options: CheckOptions): Promise<Result<CheckedChiller>> {
  const { chiller, barometer, samples, every_s, means, stop } = options;
  const look = { chiller, samples, every_s, means, stop };
  const read = await readChiller({ ...look, around: false });
  if (!read.ok) return read;
  const air = { local: barometer };
  const taken = read.value.samples.interval(read.value.from, read.value.to);
  const snapshot = takeSnapshot({
    specs: chiller.points,
    samples: taken,
    to: read.value.to,
    atmosphere: air,
    link: read.value.link,
  });
  const running = isRunning(snapshot, chiller.running);
  const fluid = must(refrigerant(chiller.machine.refrigerant));
  const judge = (one: ReadChiller): JudgedMapping =>
    judgeMapping({
      readings: chiller.points.map((point) => readingOf(point, taken, one)),
      refrigerant: fluid,
      rated_capacity: chiller.machine.rated_capacity,
      air,
      running,
    });
  let mapping = judge(read.value);
  if (
    read.value.link.state === 'connected' &&
    mapping.findings.some(({ code }) => LOOK_AROUND.has(code)) &&
    !stop.aborted
  ) {
    // Something does not fit: one more look, at the registers beside, for a list that counts from one.
    const around = await readChiller({ ...look, samples: 1, around: true });
    if (around.ok) mapping = judge(around.value);
  }
  const controller = controllerFinding(read.value, options);
  const told = nothingRead(read.value) ? [] : mapping.findings;
  const standstill = running === false ? standstillCheck({ snapshot, refrigerant: fluid }) : null;
  const findings = [
    ...controller,
    ...refrigerantFinding(mapping.rather, options),
    ...told.map(({ code, points, key, message }) => ({
      code,
      points,
      places: placesOf(points, key, options),
      message,
    })),
    ...pointwise(snapshot, taken, options),
    ...(standstill === null ? [] : stoodFindings(standstill, options)),
  ];
  return ok({
    chiller: chiller.id,
    running,
    points: chiller.points.map((point) => checkedPoint(point, snapshot, taken, findings)),
    findings,
    ...givenBy(chiller),
    alarms: { armed: chiller.alarms.map(({ id }) => id), unarmed: unarmedAlarms(chiller) },
    ...solved(chiller, snapshot, options.learned),
    standstill,
  });
}

function solved(
  chiller: ChillerSite,
  snapshot: Snapshot,
  { cells }: LearnedEfficiency,
): Pick<CheckedChiller, 'solution' | 'one_more'> {
  const solver = must(prepare(chiller.machine));
  const fluid = must(refrigerant(chiller.machine.refrigerant));
  const uncertaintyOf = (name: PointName, value: number): number => {
    const definition = pointDefinition(name);
    const span = definition.dimension === 'pressure' ? defaultSpan(name.split('.')[0] as string, fluid) : null;
    const { absolute, relative } = defaultUncertainty(definition, span?.ok === true ? span.value : null);
    return Math.hypot(absolute, relative * value);
  };
  const solution = solver.solve(snapshot);
  const minute = { solution, figures: solution.metrics, parameters: chiller.machine };
  const metrics = { ...solution.metrics, ...learnedFigures(cells, minute) };
  return { solution: { ...solution, metrics }, one_more: solver.oneMore(snapshot, uncertaintyOf) };
}

function readingOf(point: SitePoint, taken: ReadonlyMap<PointName, PointSamples>, read: ReadChiller): Reading {
  const samples = taken.get(point.name);
  return {
    spec: point,
    raw: samples?.failure === null ? (samples.latest?.raw ?? null) : null,
    reason: samples?.failure?.reason ?? 'no reply',
    otherwise: read.otherwise.get(point.name) ?? [],
  };
}

function placesOf(points: readonly PointName[], key: string | null, { place }: CheckOptions): string[] {
  return points.map((name) => place(['points', name, ...(key?.split('.') ?? [])]));
}

function nothingRead({ samples, from, to }: ReadChiller): boolean {
  return [...samples.interval(from, to).values()].every(({ times }) => times.length === 0);
}

function refrigerantFinding(rather: readonly string[], { chiller, place }: CheckOptions): CheckFinding[] {
  if (rather.length === 0) return [];
  const message =
    `pressures and temperatures do not belong to ${chiller.machine.refrigerant}; they fit ${rather.join(' or ')}: ` +
    'see the name plate. What follows is judged with that';
  return [{ code: 'refrigerant', points: [], places: [place(['machine', 'refrigerant'])], message }];
}

/** A controller that gives nothing is one finding, not one for each point. */
function controllerFinding(read: ReadChiller, options: CheckOptions): CheckFinding[] {
  const { link } = read;
  const nothing = nothingRead(read);
  if (!nothing && link.reason === null) return [];
  const reason = link.reason ?? 'no reply';
  const message = nothing ? `nothing was read: ${reason}` : `the controller answers, but: ${reason}`;
  return [{ code: 'controller', points: [], places: [options.place(['source'])], message }];
}

/** What the sensors of a machine that stood for hours show against each other. */
function stoodFindings({ suspects, excess, temperature }: StandstillCheck, options: CheckOptions): CheckFinding[] {
  const found = suspects.map(({ point, offset, u }): CheckFinding => {
    const unit = point.endsWith('.pressure') ? 'kPa' : 'K';
    const [by, doubt] = [offset, 2 * u].map((value) => Number(((unit === 'kPa' ? 1e-3 : 1) * value).toPrecision(2)));
    const rest = temperature === null ? '' : `, which agree on ${(temperature - 273.15).toFixed(1)} °C`;
    const message = `the machine stands and this sensor differs by ${by} +- ${doubt} ${unit} from the others${rest}`;
    return { code: 'standstill_offset', points: [point], places: placesOf([point], null, options), message };
  });
  if (excess?.verdict !== 'air') return found;
  const message =
    `the condenser stands ${amount(excess.pressure, 'condenser.pressure')} above saturation ` +
    `(+- ${amount(2 * excess.u, 'condenser.pressure')}) and no other pressure does: air, or its transmitter`;
  const points = ['condenser.pressure'];
  return [...found, { code: 'air_in_condenser', points, places: placesOf(points, null, options), message }];
}

/** What each point shows by itself. */
function pointwise(
  snapshot: Snapshot,
  taken: ReadonlyMap<PointName, PointSamples>,
  options: CheckOptions,
): CheckFinding[] {
  return options.chiller.points.flatMap((point): CheckFinding[] => {
    const samples = taken.get(point.name);
    if (samples === undefined || snapshot.points[point.name]?.value === null) return [];
    const found: CheckFinding[] = [];
    const say = (code: CheckCode, message: string, key: string): void => {
      const points = [point.name];
      found.push({ code, points, places: placesOf(points, key, options), message });
    };
    const { code, message } = liveliness(point, samples);
    if (code !== null && message !== null) say(code, message, 'address');
    if (samples.doubt !== undefined) say('overridden', samples.doubt, 'address');
    return found;
  });
}

function checkedPoint(
  point: SitePoint,
  snapshot: Snapshot,
  taken: ReadonlyMap<PointName, PointSamples>,
  findings: readonly CheckFinding[],
): CheckedPoint {
  const { name } = point;
  const { unit } = pointDefinition(name);
  const samples = taken.get(name);
  const raw = samples?.failure === null ? (samples.latest?.raw ?? null) : null;
  const value = snapshot.points[name] as PointValue;
  return {
    name,
    raw,
    value: value.value === null ? null : fromSi(value.value, unit),
    unit,
    reading: raw === null ? null : raw * point.scale + point.offset,
    reading_unit: point.unit,
    age_s: value.age_s,
    update_s: samples === undefined ? null : liveliness(point, samples).update_s,
    quality: value.quality,
    reason: value.reason,
    findings: findings.filter(({ points }) => points.includes(name)).map(({ code, message }) => ({ code, message })),
  };
}

function givenBy(chiller: ChillerSite): Pick<CheckedChiller, 'solvable' | 'unobservable'> {
  const never = unobservable(chiller);
  const solver = must(prepare(chiller.machine));
  const all = Object.keys(solver.solve({ time: 0, points: {} }).metrics);
  return {
    solvable: all.filter((metric) => !never.some((one) => one.metric === metric)),
    unobservable: never.map((one) => ({ metric: one.metric, why: whyNever(one), enough: one.enough })),
  };
}
