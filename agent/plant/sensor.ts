/**
 * A sensor as it stands on the machine: lag, offset drawn once from its stated uncertainty, noise, resolution, and what
 * can go wrong with it.
 */
import { STANDARD_ATMOSPHERE, unitOf } from '../base/units.ts';
import { type PlantPoint, standardUncertainty } from './point-map.ts';
import { RandomStream } from './random.ts';

const LIMITS_BY_TYPE = {
  int16: [-32_768, 32_767],
  uint16: [0, 65_535],
  uint32: [0, 4_294_967_295],
  float32: [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY],
} as const;

/** What a fault does to the value on the bus; the controllers' own inputs stay. */
export type BusFault =
  | { readonly kind: 'frozen' }
  | { readonly kind: 'nan' }
  | { readonly kind: 'raw'; readonly raw: number };

/** What a BACnet object says of itself. */
export interface ObjectFault {
  /** 0: no fault detected. */
  readonly reliability: number;
  readonly outOfService: boolean;
}

const SOUND: ObjectFault = { reliability: 0, outOfService: false };

export class Sensor {
  readonly point: PlantPoint;
  /** As the controller sees it, in the point's unit. */
  reading = 0;
  /** As the bus shows it: value in the point's unit, and the raw number that carries it. */
  published = 0;
  raw = 0;
  /** Added by a fault, in the point's unit. */
  drift = 0;
  busFault: BusFault | null = null;
  objectFault: ObjectFault = SOUND;
  private readonly truth: () => number;
  private readonly factor: number;
  private readonly shift: number;
  private readonly offsets: RandomStream;
  private readonly noise: RandomStream;
  private readonly absolute: number;
  private readonly relative: number;
  private readonly barometer: () => number;
  /** Draws of this machine's sensor, in standard uncertainties; and the noise of one sample in its terms. */
  private draw: number;
  private lagged = Number.NaN;
  private frozenAt = Number.NaN;

  /** `truth` gives the SI value, `barometer` the absolute pressure of the day (Pa). */
  constructor(point: PlantPoint, options: { truth: () => number; barometer: () => number; seed: number }) {
    this.point = point;
    this.truth = options.truth;
    this.barometer = options.barometer;
    const { factor, shift = 0 } = unitOf(point.unit);
    this.factor = factor;
    this.shift = shift;
    this.offsets = new RandomStream(options.seed, `offset/${point.name}`);
    this.noise = new RandomStream(options.seed, `noise/${point.name}`);
    this.relative = point.uncertainty.kind === 'relative' ? point.uncertainty.value : 0;
    this.absolute = point.uncertainty.kind === 'absolute' ? standardUncertainty(point, 0) : 0;
    this.draw = this.offsets.normal();
  }

  /** The true value in the point's unit. */
  trueValue(): number {
    const { reference } = this.point;
    const si = this.truth();
    if (reference === 'vented_gauge') return (si - this.barometer()) / this.factor;
    if (reference === 'sealed_gauge') return (si - STANDARD_ATMOSPHERE) / this.factor;
    return si / this.factor - this.shift;
  }

  /** What the controller sees, in SI; gauge pressures over their reference. */
  get readingSi(): number {
    return (this.reading + this.shift) * this.factor;
  }

  step(dt: number): void {
    const { point } = this;
    const value = this.trueValue();
    if (Number.isNaN(this.lagged) || point.lag <= 0) this.lagged = value;
    else this.lagged += (value - this.lagged) * (1 - Math.exp(-dt / point.lag));
    let seen = this.lagged * (1 + this.draw * this.relative) + this.draw * this.absolute + this.drift;
    if (point.noise > 0) seen += this.noise.normal() * point.noise * this.noiseScale();
    if (point.resolution > 0) seen = Math.round(seen / point.resolution) * point.resolution;
    this.reading = this.clip(seen);
    this.publish(this.reading);
  }

  /** Levels and positions end at their stops. */
  private clip(value: number): number {
    return this.point.unit === '%' ? Math.min(100, Math.max(0, value)) : value;
  }

  /** Noise is stated in the terms of the uncertainty: of the value, or in its unit. */
  private noiseScale(): number {
    const { uncertainty } = this.point;
    if (uncertainty.kind === 'relative') return Math.abs(this.lagged);
    if (uncertainty.kind === 'absolute') return this.absolute / uncertainty.value;
    return 0;
  }

  private publish(value: number): void {
    const { point, busFault } = this;
    if (busFault === null || busFault.kind !== 'frozen') this.frozenAt = Number.NaN;
    if (busFault?.kind === 'raw') this.raw = busFault.raw;
    else if (busFault?.kind === 'nan') this.raw = Number.NaN;
    else if (busFault?.kind === 'frozen') {
      if (Number.isNaN(this.frozenAt)) this.frozenAt = this.raw;
      this.raw = this.frozenAt;
    } else this.raw = this.encode(value);
    this.published = this.raw * point.scale + point.offset;
  }

  private encode(value: number): number {
    const { type, scale, offset } = this.point;
    const raw = (value - offset) / scale;
    if (type === 'float32') return raw;
    const [low, high] = LIMITS_BY_TYPE[type];
    return Math.min(high, Math.max(low, Math.round(raw)));
  }

  /** What a value would read if the sensor's offset had been drawn as `draw` (in standard uncertainties) instead. */
  withDraw(value: number, draw: number): number {
    const free = (value - this.draw * this.absolute) / (1 + this.draw * this.relative);
    return this.clip(free * (1 + draw * this.relative) + draw * this.absolute);
  }

  nextDraw(): number {
    return this.offsets.normal();
  }
}
