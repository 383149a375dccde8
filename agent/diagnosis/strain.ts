/** Relations between points, and by how much one is broken: in standard deviations of what the trade sees. */
import { fromSi, unitOf } from '../base/units.ts';
import { type PointName, pointDefinition } from '../points/dictionary.ts';

export interface Facts {
  /** SI; null where there is none. */
  value(point: PointName): number | null;
  /** Saturation temperature, K, of a pressure, Pa; null outside the equation. */
  saturation(pressure: number): number | null;
  /** W */
  readonly rated_capacity: number;
  /** Relations of a running machine are judged only while it runs. */
  readonly running: boolean;
}

/** A broken relation. */
export interface Strain {
  readonly points: readonly PointName[];
  /** Above 0: standard deviations beyond the window. */
  readonly z: number;
  /** What is odd, with figures, for people. */
  readonly words: string;
}

/** No single relation counts for more: ten standard deviations are as impossible as a thousand. */
export const STRAIN_MAX = 10;

/** `below`: deviation at the lower end, where that is a limit of physics and not of habit. */
export type Window = readonly [low: number, high: number, deviation: number, below?: number];

/** What stands alone and is out of its window. */
export function temperature(facts: Facts, name: PointName, [low, high, s]: Window): Strain | null {
  const value = facts.value(name);
  if (value === null) return null;
  const celsius = value - 273.15;
  return strain([name], beyond(celsius, [low, high, s]), () => `${words(name)} ${degrees(value)} cannot be`);
}

export function magnitude(facts: Facts, name: PointName, [low, high, s]: Window): Strain | null {
  const value = facts.value(name);
  if (value === null) return null;
  // Nothing and less has no logarithm: as far off as a thousandth of the window's end.
  const z = value <= 0 ? Math.log(1000) / s : beyond(Math.log(value), [Math.log(low), Math.log(high), s]);
  return strain([name], z, () => `${words(name)} ${amount(value, name)} cannot be while the machine runs`);
}

/** The difference a - b of two temperatures in K. */
export function difference(
  facts: Facts,
  [a, b]: readonly [Temperature, Temperature],
  window: Window,
  odd: string,
): Strain | null {
  const [high, low] = [a.of(facts), b.of(facts)];
  if (high === null || low === null) return null;
  return strain(
    [...a.points, ...b.points],
    beyond(high - low, window),
    () => `${a.words} ${degrees(high)}, ${b.words} ${degrees(low)}: ${odd}`,
  );
}

export interface Temperature {
  readonly points: readonly PointName[];
  readonly words: string;
  of(facts: Facts): number | null;
}
export const measured = (name: PointName): Temperature => ({
  points: [name],
  words: words(name),
  of: (facts) => facts.value(name),
});
export const saturated = (component: string): Temperature => ({
  points: [`${component}.pressure`],
  words: `saturation of ${words(`${component}.pressure`)}`,
  of: (facts) => {
    const pressure = facts.value(`${component}.pressure`);
    // A pressure without saturation is worse than none.
    return pressure === null ? null : (facts.saturation(pressure) ?? Number.NaN);
  },
});

export function ratio(facts: Facts, points: readonly [PointName, PointName], [low, high, s]: Window): Strain | null {
  const [a, b] = points.map((name) => facts.value(name));
  if (typeof a !== 'number' || typeof b !== 'number') return null;
  const z = a <= 0 || b <= 0 ? Math.log(1000) / s : beyond(Math.log(a / b), [Math.log(low), Math.log(high), s]);
  const [over, under] = points;
  return strain(
    points,
    z,
    () => `${words(over)} ${amount(a, over)} over ${words(under)} ${amount(b, under)} cannot be while the machine runs`,
  );
}

export function balance(
  [a, b]: readonly [number, number],
  points: readonly PointName[],
  [low, high, s]: Window,
  what: string,
): Strain | null {
  const z = a <= 0 || b <= 0 ? Math.log(1000) / s : beyond(Math.log(a / b), [Math.log(low), Math.log(high), s]);
  return strain(points, z, () => `${what}: ${kilowatts(a)} and ${kilowatts(b)}`);
}

export function beyond(x: number, [low, high, s, below = s]: Window): number {
  if (Number.isNaN(x)) return STRAIN_MAX;
  return x < low ? (low - x) / below : x > high ? (x - high) / s : 0;
}

export function strain(points: readonly PointName[], z: number, text: () => string): Strain | null {
  return z > 0 ? { points, z, words: text() } : null;
}

export function words(name: string): string {
  return name.replaceAll('_', ' ').replaceAll('.', ' ');
}

function degrees(kelvin: number): string {
  return Number.isNaN(kelvin) ? 'outside any saturation' : `${(kelvin - 273.15).toFixed(1)} °C`;
}

export function kilowatts(watts: number): string {
  return `${Number((watts / 1000).toPrecision(4))} kW`;
}

/** An SI value in the catalogue's unit of the point. */
export function amount(value: number, name: PointName): string {
  const definition = pointDefinition(name);
  if (definition.unit === '1') return `${Number((value * 100).toPrecision(4))} %`;
  const { label } = unitOf(definition.unit);
  const shown = String(Number(fromSi(value, definition.unit).toPrecision(4)));
  return label === '' ? shown : `${shown} ${label}`;
}
