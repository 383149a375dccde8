/**
 * Raw registers to SI: the one place where scale, unit, pressure reference, sentinel values and the believable range
 * are applied.
 */
import type { Quality } from '../base/quality.ts';
import { fromSi, STANDARD_ATMOSPHERE, toSi, unitOf } from '../base/units.ts';
import type { PointSpec, PressureReference } from './types.ts';

/** The air around the machine. */
export interface Atmosphere {
  /** Local barometric pressure, Pa absolute. */
  readonly local: number;
}

/** One reading in SI, or why there is none. `reason` is null where the quality is good. */
export interface Converted {
  readonly value: number | null;
  readonly quality: Quality;
  readonly reason: string | null;
}

/**
 * The absolute pressure (Pa) that the zero of a gauge reading stands for. A vented transmitter breathes the local
 * air; a sealed one has the standard atmosphere (101,325 Pa) locked in, wherever it stands, so the local barometer
 * would be an error there.
 */
export function zeroPressure(reference: PressureReference, atmosphere: Atmosphere): number {
  return reference === 'vented_gauge' ? atmosphere.local : STANDARD_ATMOSPHERE;
}

/**
 * One raw value to SI. Never throws and never answers NaN: what cannot be believed is `bad`, with the figure found
 * and its limit.
 */
export function convert(options: {
  readonly spec: PointSpec;
  readonly raw: number;
  readonly atmosphere: Atmosphere;
}): Converted {
  const { spec, raw } = options;
  if (!Number.isFinite(raw)) return bad(`the register holds no number (${raw})`);
  if (spec.sentinels.includes(raw)) return bad(`the controller marks no measurement (raw value ${raw})`);
  const reading = raw * spec.scale + spec.offset;
  const [low, high] = spec.valid;
  // Written so that a reading that overflowed to infinity is caught too.
  if (!(reading >= low)) return bad(`${figure(reading, spec)} is below ${figure(low, spec)}`);
  if (!(reading <= high)) return bad(`${figure(reading, spec)} is above ${figure(high, spec)}`);
  const value = readingToSi(reading, spec, options.atmosphere);
  if (!Number.isFinite(value)) return bad(`${figure(reading, spec)} is not a finite value`);
  if (unitOf(spec.unit).dimension === 'pressure' && value <= 0)
    return bad(`${figure(reading, spec)} is below vacuum (${figure(fromVacuum(spec, options.atmosphere), spec)})`);
  return { value, quality: 'good', reason: null };
}

/** A reading in the point's unit (after scale and offset) to SI. */
export function readingToSi(reading: number, spec: Pick<PointSpec, 'unit' | 'reference'>, air: Atmosphere): number {
  return unitOf(spec.unit).gauge === true
    ? toSi(reading, spec.unit, zeroPressure(spec.reference, air))
    : toSi(reading, spec.unit);
}

/** An SI value as the point's own unit counts it. */
export function readingFromSi(value: number, spec: Pick<PointSpec, 'unit' | 'reference'>, air: Atmosphere): number {
  return unitOf(spec.unit).gauge === true
    ? fromSi(value, spec.unit, zeroPressure(spec.reference, air))
    : fromSi(value, spec.unit);
}

/** A figure with the point's unit, for reasons that people read: five significant digits. */
export function figure(reading: number, spec: Pick<PointSpec, 'unit'>): string {
  const { label } = unitOf(spec.unit);
  const text = Number.isFinite(reading) ? String(Number(reading.toPrecision(5))) : String(reading);
  return label === '' ? text : `${text} ${label}`;
}

function fromVacuum(spec: PointSpec, air: Atmosphere): number {
  return readingFromSi(0, spec, air);
}

function bad(reason: string): Converted {
  return { value: null, quality: 'bad', reason };
}
