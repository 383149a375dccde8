/**
 * Readings that are each believable but cannot be true together: exchanged sensors, pressures out of order, a flow in
 * the wrong unit. Thin on purpose; feeds the alarm 'sensor implausible'. Only a running machine is judged: at
 * standstill any order is possible.
 */
import type { PointName } from './dictionary.ts';
import type { PointValue, Snapshot } from './types.ts';

export type FindingCode =
  | 'chilled_water_reversed'
  | 'condenser_water_reversed'
  | 'pressures_out_of_order'
  | 'chilled_water_flow_unit'
  | 'no_cooling_for_the_power';

/**
 * `message`: one phrase for people with the figures found. `points`: those that cannot be told apart as the culprit.
 */
export interface Finding {
  readonly code: FindingCode;
  readonly message: string;
  readonly points: readonly PointName[];
}

/**
 * Expanded uncertainty by which a disorder must exceed its points' own doubt (k = 3: one false finding in several
 * hundred).
 */
const COVERAGE = 3;

/**
 * Cooling over electrical power that a running water-cooled centrifugal machine can show: well outside what the trade
 * sees, 2.5 to 12 (common practice, no source).
 */
const COP_LEAST = 1;
const COP_MOST = 25;
/** Where a mistaken unit must bring the figure to be named. */
const COP_LIKELY: readonly [number, number] = [2.5, 12];

/**
 * Density times heat capacity of water near 10 degC, J/(m3 K) (1000 kg/m3 x 4190 J/(kg K), from memory): good to 1 %,
 * enough for factors of 3.6 and more.
 */
const WATER_J_PER_M3_K = 4.19e6;

/** Mistakes between the flow units of the trade: true flow over the flow as read. Exact from the units' definitions. */
const FLOW_MISTAKES: readonly (readonly [factor: number, words: string])[] = [
  [60, 'a flow per minute taken as per hour'],
  [1 / 60, 'a flow per hour taken as per minute'],
  [3.6, 'l/s taken as m3/h'],
  [1 / 3.6, 'm3/h taken as l/s'],
  [15.850323, 'l/s taken as gpm'],
  [1 / 15.850323, 'gpm taken as l/s'],
  [4.402868, 'm3/h taken as gpm'],
  [1 / 4.402868, 'gpm taken as m3/h'],
];

/**
 * Findings of one interval; an empty list where nothing contradicts. Needs a running machine, best after its first
 * minutes.
 */
export function plausibility(options: { readonly snapshot: Snapshot; readonly running: boolean }): readonly Finding[] {
  if (!options.running) return [];
  const { points } = options.snapshot;
  const findings: Finding[] = [];
  const add = (finding: Finding | null): void => {
    if (finding !== null) findings.push(finding);
  };
  add(waterOrder(points, 'chilled_water'));
  add(waterOrder(points, 'condenser_water'));
  add(pressureOrder(points, 'evaporator.pressure', 'flash_tank.pressure'));
  add(pressureOrder(points, 'flash_tank.pressure', 'condenser.pressure'));
  if (usable(points['flash_tank.pressure']) === null)
    add(pressureOrder(points, 'evaporator.pressure', 'condenser.pressure'));
  add(coolingForPower(points));
  return findings;
}

type Points = Snapshot['points'];
type Usable = { readonly value: number; readonly u: number };

function usable(point: PointValue | undefined): Usable | null {
  if (point === undefined || point.value === null || point.u === null) return null;
  return { value: point.value, u: point.u };
}

/** A machine that cools takes heat from the chilled water and gives it to the condenser water. */
function waterOrder(points: Points, side: 'chilled_water' | 'condenser_water'): Finding | null {
  const [enteringName, leavingName] = [`${side}.entering_temperature`, `${side}.leaving_temperature`];
  const [entering, leaving] = [usable(points[enteringName]), usable(points[leavingName])];
  if (entering === null || leaving === null) return null;
  const sign = side === 'chilled_water' ? 1 : -1;
  const wrongBy = sign * (leaving.value - entering.value);
  if (wrongBy <= COVERAGE * Math.hypot(entering.u, leaving.u)) return null;
  const relation = sign > 0 ? 'warmer' : 'colder';
  return {
    code: `${side}_reversed`,
    message:
      `${words(side)} leaves ${wrongBy.toFixed(1)} K ${relation} than it enters while the machine runs: ` +
      'sensors exchanged, or one is wrong',
    points: [enteringName, leavingName],
  };
}

function pressureOrder(points: Points, lower: PointName, upper: PointName): Finding | null {
  const [low, high] = [usable(points[lower]), usable(points[upper])];
  if (low === null || high === null) return null;
  if (low.value - high.value <= COVERAGE * Math.hypot(low.u, high.u)) return null;
  const kPa = (pressure: number): string => `${(pressure / 1000).toFixed(1)} kPa`;
  return {
    code: 'pressures_out_of_order',
    message:
      `${words(lower)} ${kPa(low.value)} is above ${words(upper)} ${kPa(high.value)} (absolute) ` +
      'while the machine runs',
    points: [lower, upper],
  };
}

/** Cooling by the water against electrical power: a figure no machine reaches is most often a flow in another unit. */
function coolingForPower(points: Points): Finding | null {
  const names = ['chilled_water.flow', 'chilled_water.entering_temperature', 'chilled_water.leaving_temperature'];
  const [flow, entering, leaving] = names.map((name) => usable(points[name]));
  const powerName = usable(points['unit.power']) === null ? 'main_compressor.power' : 'unit.power';
  const power = usable(points[powerName]);
  if (!flow || !entering || !leaving || power === null || power.value <= 0) return null;
  const difference = entering.value - leaving.value;
  if (difference <= COVERAGE * Math.hypot(entering.u, leaving.u)) return null;
  const cooling = WATER_J_PER_M3_K * flow.value * difference;
  const cop = cooling / power.value;
  if (cop >= COP_LEAST && cop <= COP_MOST) return null;
  const figures = `COP ${Number(cop.toPrecision(2))}`;
  const found = `${kilowatts(cooling)} of cooling for ${kilowatts(power.value)} of power (${figures})`;
  const mistake = likeliestMistake(cop);
  if (mistake === undefined)
    return { code: 'no_cooling_for_the_power', message: `${found} cannot be`, points: [...names, powerName] };
  const [factor, taken] = mistake;
  return {
    code: 'chilled_water_flow_unit',
    message:
      `${found} cannot be; with ${taken} it would be COP ${Number((cop * factor).toPrecision(2))}: ` +
      'check the unit of chilled_water.flow',
    points: ['chilled_water.flow'],
  };
}

/** The mistake that brings the figure nearest to an ordinary one, or none that brings it near. */
function likeliestMistake(cop: number): (typeof FLOW_MISTAKES)[number] | undefined {
  const [least, most] = COP_LIKELY;
  const distance = (factor: number): number => Math.abs(Math.log((cop * factor) / Math.sqrt(least * most)));
  return FLOW_MISTAKES.filter(([factor]) => cop * factor >= least && cop * factor <= most).sort(
    ([a], [b]) => distance(a) - distance(b),
  )[0];
}

function kilowatts(watts: number): string {
  return `${Number((watts / 1000).toPrecision(3))} kW`;
}

function words(name: string): string {
  return name.replaceAll('_', ' ').replaceAll('.', ' ');
}
