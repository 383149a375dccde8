/**
 * The sensors of a machine that has stood for hours, against each other: everything inside then has one temperature,
 * and the refrigerant the pressure that belongs to it. Shows offsets that no running machine shows, and air in the
 * condenser as pressure above saturation. Pure; who calls it knows how long the machine stood.
 */
import type { PointName } from '../points/dictionary.ts';
import type { PointValue, Snapshot } from '../points/types.ts';
import type { Refrigerant } from '../refrigerant/types.ts';

/** What equal means: standard uncertainties (k = 1) of what is left between parts that have stood. */
export interface Equalisation {
  /** Between thermometers, K: layers of warm and cold. */
  readonly temperature_u: number;
  /** Between vessels, Pa: their vapour spaces are joined through the machine. */
  readonly pressure_u: number;
  /** Thermometers further apart than this, K, have not equalised yet. */
  readonly spread_max: number;
}

/** Common practice, no source. */
export const EQUALISED: Equalisation = { temperature_u: 0.3, pressure_u: 500, spread_max: 2.5 };

/** `sensor`: below saturation, or other pressures are off as well. */
export type Excess = 'none' | 'doubtful' | 'air' | 'sensor';
export type Verdict = 'agree' | 'doubtful' | 'differ';

/** Two sensors, or a sensor and the common temperature of all the others (`other` null). */
export interface Comparison {
  readonly kind: 'pressures' | 'saturation' | 'temperature';
  readonly point: PointName;
  readonly other: PointName | null;
  /** First less second: Pa between pressures, else K (a pressure counts as its saturation temperature). */
  readonly difference: number;
  /** Standard uncertainty (k = 1) of that difference. */
  readonly u: number;
  readonly verdict: Verdict;
}

export interface StandstillCheck {
  /** False with the reason where nothing can be said: not equalised, or too few sensors. */
  readonly ready: boolean;
  readonly reason: string | null;
  /** Common temperature, K, and its standard uncertainty; null where there is none. */
  readonly temperature: number | null;
  readonly u: number | null;
  readonly comparisons: readonly Comparison[];
  /** Sensors that differ from what the rest agree on, the worst first. `offset` in K, of a pressure in Pa. */
  readonly suspects: readonly { readonly point: PointName; readonly offset: number; readonly u: number }[];
  /** Pressure in the condenser above saturation, Pa: `air` where the other vessels do not show it too. */
  readonly excess: {
    readonly pressure: number;
    readonly u: number;
    readonly verdict: Excess;
  } | null;
}

/** Thermometers that take the temperature of what is inside. */
const THERMOMETERS: readonly PointName[] = [
  'condenser.liquid_temperature',
  'flash_tank.temperature',
  'main_compressor.suction_temperature',
  'economizer_compressor.suction_temperature',
  ...['chilled_water', 'condenser_water'].flatMap((side) => [
    `${side}.entering_temperature`,
    `${side}.leaving_temperature`,
  ]),
];
const VESSELS = ['evaporator', 'flash_tank', 'condenser'] as const;
/** The thermometer that sits in a vessel's own refrigerant. */
const INSIDE: Readonly<Record<string, PointName>> = {
  evaporator: 'main_compressor.suction_temperature',
  flash_tank: 'flash_tank.temperature',
  condenser: 'condenser.liquid_temperature',
};
const PAIRS: readonly (readonly [PointName, PointName])[] = [
  ['chilled_water.entering_temperature', 'chilled_water.leaving_temperature'],
  ['condenser_water.entering_temperature', 'condenser_water.leaving_temperature'],
];
/** Standard uncertainties from which a difference is doubted, and believed. */
const DOUBTFUL = 2;
const DIFFERENT = 3;

interface Sensed {
  readonly point: PointName;
  /** K, also of a pressure. */
  readonly T: number;
  readonly u: number;
}

export function standstillCheck(options: {
  readonly snapshot: Snapshot;
  readonly refrigerant: Refrigerant;
  readonly equalisation?: Equalisation;
}): StandstillCheck {
  const { snapshot, refrigerant, equalisation = EQUALISED } = options;
  const read = (point: PointName): PointValue | null => {
    const value = snapshot.points[point];
    return value === undefined || value.value === null || value.u === null ? null : value;
  };
  const thermometers = THERMOMETERS.flatMap((point): Sensed[] => {
    const value = read(point);
    return value === null ? [] : [{ point, T: value.value as number, u: value.u as number }];
  });
  const pressures = VESSELS.flatMap((vessel): Sensed[] => {
    const sensed = saturated(`${vessel}.pressure`, read(`${vessel}.pressure`), refrigerant);
    return sensed === null ? [] : [sensed];
  });
  const nothing = (reason: string): StandstillCheck => ({
    ready: false,
    reason,
    temperature: null,
    u: null,
    comparisons: [],
    suspects: [],
    excess: null,
  });
  if (thermometers.length + pressures.length < 3) return nothing('fewer than three sensors to compare');
  const spread = spreadOf(thermometers);
  if (spread > equalisation.spread_max)
    return nothing(`the temperatures are still ${spread.toFixed(1)} K apart: the machine has not stood long enough`);
  // Air raises the condenser's pressure: it is judged by the others and does not judge them.
  const judges = [...thermometers, ...pressures.filter(({ point }) => point !== 'condenser.pressure')];
  const { agreed, suspects } = agreement(judges, equalisation);
  const common = mean(agreed);
  const excess = excessOf(read('condenser.pressure'), common, refrigerant, suspects, equalisation);
  return {
    ready: true,
    reason: null,
    temperature: common.T,
    u: common.u,
    comparisons: [
      ...betweenPressures(read, equalisation),
      ...againstInside(pressures, thermometers, equalisation),
      ...PAIRS.flatMap(([a, b]) =>
        compared('temperature', [find(thermometers, a), find(thermometers, b)], equalisation),
      ),
      ...[...thermometers, ...pressures].flatMap((sensed) =>
        compared('temperature', [sensed, without(agreed, sensed)], equalisation),
      ),
    ],
    suspects: suspects.map((sensed) => offsetOf(sensed, common, snapshot, refrigerant)),
    excess,
  };
}

function saturated(point: PointName, value: PointValue | null, refrigerant: Refrigerant): Sensed | null {
  if (value === null) return null;
  const [p, u] = [value.value as number, value.u as number];
  const T = refrigerant.dewTemperature(p);
  const slope = slopeAt(p, refrigerant);
  return T.ok && slope !== null ? { point, T: T.value, u: u * slope } : null;
}

/** dT/dp of saturation, K/Pa. */
function slopeAt(p: number, refrigerant: Refrigerant): number | null {
  const [low, high] = [refrigerant.dewTemperature(p * 0.999), refrigerant.dewTemperature(p * 1.001)];
  return low.ok && high.ok ? (high.value - low.value) / (0.002 * p) : null;
}

/** Width of the middle: one sensor that is far off does not make the rest restless. */
function spreadOf(sensed: readonly Sensed[]): number {
  const sorted = sensed.map(({ T }) => T).sort((a, b) => a - b);
  const inner = sorted.length > 3 ? sorted.slice(1, -1) : sorted;
  return inner.length === 0 ? 0 : (inner[inner.length - 1] as number) - (inner[0] as number);
}

interface Common {
  readonly T: number;
  readonly u: number;
}

function mean(sensed: readonly Sensed[]): Common {
  const weights = sensed.map(({ u }) => 1 / Math.max(u, 1e-3) ** 2);
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const T = sensed.reduce((sum, each, index) => sum + each.T * (weights[index] as number), 0) / total;
  return { T, u: 1 / Math.sqrt(total) };
}

/** Takes out the sensor that differs most from the rest until the rest agree, or only two are left. */
function agreement(
  sensed: readonly Sensed[],
  equalisation: Equalisation,
): { readonly agreed: readonly Sensed[]; readonly suspects: readonly Sensed[] } {
  let agreed = [...sensed];
  const suspects: Sensed[] = [];
  while (agreed.length > 2) {
    const judged = agreed.map((each) => ({ each, z: zOf(each, mean(others(agreed, each)), equalisation) }));
    const worst = judged.reduce((a, b) => (b.z > a.z ? b : a));
    if (worst.z <= DIFFERENT) break;
    suspects.push(worst.each);
    agreed = others(agreed, worst.each);
  }
  return { agreed, suspects };
}

function others(sensed: readonly Sensed[], one: Sensed): Sensed[] {
  return sensed.filter(({ point }) => point !== one.point);
}

function zOf(sensed: Sensed, common: Common, { temperature_u }: Equalisation): number {
  return Math.abs(sensed.T - common.T) / Math.hypot(sensed.u, common.u, temperature_u);
}

function find(sensed: readonly Sensed[], point: PointName): Sensed | null {
  return sensed.find((each) => each.point === point) ?? null;
}

/** The common temperature of all but one, as a sensor without a name. */
function without(agreed: readonly Sensed[], one: Sensed): (Common & { readonly point: null }) | null {
  const rest = others(agreed, one);
  return rest.length === 0 ? null : { ...mean(rest), point: null };
}

function compared(
  kind: Comparison['kind'],
  [a, b]: readonly [Sensed | null, (Common & { readonly point: PointName | null }) | null],
  { temperature_u }: Equalisation,
): Comparison[] {
  if (a === null || b === null) return [];
  const [difference, u] = [a.T - b.T, Math.hypot(a.u, b.u, temperature_u)];
  return [{ kind, point: a.point, other: b.point, difference, u, verdict: verdictOf(difference, u) }];
}

function verdictOf(difference: number, u: number): Verdict {
  const z = Math.abs(difference) / u;
  return z <= DOUBTFUL ? 'agree' : z <= DIFFERENT ? 'doubtful' : 'differ';
}

/** Each pair of vessels. One barometer common to two vented gauges cancels between them. */
function betweenPressures(read: (point: PointName) => PointValue | null, { pressure_u }: Equalisation): Comparison[] {
  const names = VESSELS.map((vessel) => `${vessel}.pressure`);
  return names.flatMap((other, index) =>
    names.slice(index + 1).flatMap((point): Comparison[] => {
      const [a, b] = [read(point), read(other)];
      if (a === null || b === null) return [];
      const [air, own] = [a.u_barometer ?? 0, b.u_barometer ?? 0];
      const squares = (a.u as number) ** 2 - air ** 2 + (b.u as number) ** 2 - own ** 2 + (air - own) ** 2;
      const difference = (a.value as number) - (b.value as number);
      const u = Math.hypot(Math.sqrt(Math.max(0, squares)), pressure_u);
      return [{ kind: 'pressures', point, other, difference, u, verdict: verdictOf(difference, u) }];
    }),
  );
}

function againstInside(
  pressures: readonly Sensed[],
  thermometers: readonly Sensed[],
  equalisation: Equalisation,
): Comparison[] {
  return pressures.flatMap((pressure) => {
    const inside = INSIDE[pressure.point.split('.')[0] as string] as PointName;
    return compared('saturation', [pressure, find(thermometers, inside)], equalisation);
  });
}

function offsetOf(
  sensed: Sensed,
  common: Common,
  snapshot: Snapshot,
  refrigerant: Refrigerant,
): StandstillCheck['suspects'][number] {
  const { point } = sensed;
  const u = Math.hypot(sensed.u, common.u);
  const value = snapshot.points[point]?.value ?? null;
  const slope = point.endsWith('.pressure') && value !== null ? slopeAt(value, refrigerant) : null;
  const saturation = refrigerant.dewPressure(common.T);
  if (slope === null || value === null || !saturation.ok) return { point, offset: sensed.T - common.T, u };
  return { point, offset: value - saturation.value, u: u / slope };
}

function excessOf(
  condenser: PointValue | null,
  common: Common,
  refrigerant: Refrigerant,
  suspects: readonly Sensed[],
  { temperature_u }: Equalisation,
): StandstillCheck['excess'] {
  const saturation = refrigerant.dewPressure(common.T);
  if (condenser === null || !saturation.ok) return null;
  const slope = slopeAt(saturation.value, refrigerant);
  if (slope === null) return null;
  const pressure = (condenser.value as number) - saturation.value;
  const u = Math.hypot(condenser.u as number, Math.hypot(common.u, temperature_u) / slope);
  const told = verdictOf(pressure, u);
  if (told !== 'differ') return { pressure, u, verdict: told === 'agree' ? 'none' : told };
  // Below saturation nothing but a sensor can be; above it, where other pressures are off as well, it is not told.
  const alone = !suspects.some(({ point }) => point.endsWith('.pressure'));
  return { pressure, u, verdict: pressure > 0 && alone ? 'air' : 'sensor' };
}
