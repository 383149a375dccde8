/** Readings as inputs: points, and how fast the levels rise. */
import type { PointValue } from '../points/types.ts';
import { VESSELS, type Vessel } from './arrangements/type.ts';
import type { Input } from './interval.ts';
import type { ChillerParameters } from './parameters.ts';

/** A point as an input, or why it is none. */
export function measured(name: string, point: PointValue | undefined): Input {
  const none = (reason: string): Input => ({ name, value: Number.NaN, u: 0, barometer: 0, random: 0, reason });
  if (point === undefined) return none(`${name} is not measured`);
  if (point.quality === 'bad' || point.value === null) return none(`${name} is bad: ${point.reason ?? 'no value'}`);
  if (!Number.isFinite(point.value)) return none(`${name} is bad: not a number`);
  const size = (of: number | null | undefined) => (of != null && Number.isFinite(of) && of > 0 ? of : 0);
  const u = size(point.u);
  const barometer = Math.min(u, size(point.u_barometer));
  const random = Math.min(Math.sqrt(u ** 2 - barometer ** 2), size(point.u_random));
  return { name, value: point.value, u, barometer, random, reason: null };
}

/** Vessels whose area and range of level are configured. */
export function vesselsOf({ vessels }: ChillerParameters): Vessel[] {
  return VESSELS.filter((name) => vessels[name] !== undefined);
}

/** The point that an input is read from, whether it is mapped or not. */
export function pointOf(input: string): string {
  return input.endsWith(LEVEL_RATE) ? `${input.slice(0, -LEVEL_RATE.length)}.level` : input;
}

const LEVEL_RATE = '.level_rate';

/** How fast a level rises, parts of its range per second; what is not known of that is new in each interval. */
export function risen(vessel: Vessel, level: PointValue | undefined): Input {
  const { reason } = measured(`${vessel}.level`, level);
  const rate = level?.rate;
  const u = rate?.u ?? 0;
  const input = { name: `${vessel}${LEVEL_RATE}`, value: rate?.value ?? Number.NaN, u, barometer: 0, random: u };
  if (reason !== null) return { ...input, reason };
  if (level?.quality === 'uncertain')
    return { ...input, reason: `${vessel}.level is uncertain: ${level.reason ?? 'no reason given'}` };
  return { ...input, reason: rate === undefined ? `too few readings of ${vessel}.level for its rate` : null };
}
