/**
 * Minute means of the plant: `MinuteTruth` of true values and metrics, `MinuteRecord` of what the sensors say. A minute
 * is that of the plant's clock, second 1 to 60; its time is its end. Catalogue units.
 */
import { slopeOf } from '../base/slope.ts';
import { rfc3339 } from '../base/time.ts';
import {
  type Dimension,
  differenceFromSi,
  differenceToSi,
  fromSi,
  toSi,
  type UnitName,
  unitOf,
} from '../base/units.ts';
import type { MetricValues } from './machine.ts';
import type { Plant, SecondListener } from './plant.ts';
import { type PlantPoint, standardUncertainty } from './point-map.ts';

const MINUTE = 60;
/** Seconds between looks at the metrics within a minute. */
const METRIC_EVERY = 5;
/** What the barometer of the site is taken to be, and its standard uncertainty, Pa: common practice, no source. */
const BAROMETER = 101_325;
const BAROMETER_UNCERTAINTY = 1000;

const CATALOGUE: Partial<Record<Dimension, UnitName>> = {
  temperature: 'degC',
  pressure: 'kPa',
  pressure_difference: 'delta_kPa',
  volume_flow: 'm3/s',
  fraction: '1',
  power: 'kW',
  current: 'A',
  voltage: 'V',
  speed: 'rpm',
  state: 'state',
  count: 'count',
  time: 'h',
};

export function catalogueUnit(unit: UnitName): UnitName {
  return CATALOGUE[unitOf(unit).dimension] ?? unit;
}

/** States and counters are not averaged: the last value stands for the minute. */
function lastCounts(point: PlantPoint): boolean {
  return point.uncertainty.kind === 'none';
}

/** A power meter's energy over the minute is what matters; a few figures are ratios of means, not means of ratios. */
function ratiosOfMeans(metrics: MetricValues): void {
  const capacity = metrics['unit.capacity'];
  const power = metrics['unit.power'];
  if (capacity == null || power == null) return;
  metrics['unit.cop'] = capacity / power;
  metrics['unit.kw_per_ton'] = fromSi(power / capacity, 'kw_per_ton');
}

export type Line = (line: Record<string, unknown>) => void;

/** NDJSON `{t, points, metrics}` a minute. */
export class MinuteTruth implements SecondListener {
  private readonly line: Line;
  private readonly sums = new Map<string, number>();
  private readonly metricSums = new Map<string, number>();
  private readonly now: MetricValues = {};
  private n = 0;
  private looks = 0;

  constructor(line: Line) {
    this.line = line;
  }

  second(plant: Plant): void {
    this.n += 1;
    for (const { point } of plant.sensors.values()) {
      const si = plant.machine.readings[point.name]!();
      this.sums.set(point.name, lastCounts(point) ? si : (this.sums.get(point.name) ?? 0) + si);
    }
    if (plant.clock % METRIC_EVERY === 0) this.look(plant);
    if (plant.clock % MINUTE === 0) this.close(plant);
  }

  private look(plant: Plant): void {
    this.looks += 1;
    plant.machine.metrics(this.now);
    for (const [name, value] of Object.entries(this.now))
      this.metricSums.set(name, value === null ? Number.NaN : (this.metricSums.get(name) ?? 0) + value);
  }

  private close(plant: Plant): void {
    // A minute begun in the middle is not one.
    if (this.n === MINUTE) {
      const points: Record<string, number> = {};
      for (const { point } of plant.sensors.values()) {
        const sum = this.sums.get(point.name)!;
        const unit = catalogueUnit(point.unit);
        points[point.name] = fromSi(lastCounts(point) ? sum : sum / this.n, unit);
      }
      const metrics: MetricValues = {};
      for (const [name, sum] of this.metricSums) metrics[name] = Number.isNaN(sum) ? null : sum / this.looks;
      ratiosOfMeans(metrics);
      this.line({ t: rfc3339(plant.clock * 1000), points, metrics });
    }
    this.sums.clear();
    this.metricSums.clear();
    this.n = 0;
    this.looks = 0;
  }
}

/** `u`: standard uncertainty in `unit`; absent where there is no value. */
interface RecordedPoint {
  readonly value: number | null;
  readonly unit: UnitName;
  readonly u?: number;
  /** Levels: how fast it rose, per second, and the standard uncertainty of that. */
  readonly rate?: number;
  readonly rate_u?: number;
  readonly reason?: string;
}

/** Seconds between samples from which a rate is told: as a gateway polls its fast points. */
const FAST = 2;

/**
 * NDJSON `{time, points: {name: {value, unit, u}}}` a minute: what the sensors showed, as the verb `solve` reads it.
 */
export class MinuteRecord implements SecondListener {
  private readonly line: Line;
  private readonly redraw: boolean;
  private readonly sums = new Map<string, number>();
  private readonly levels = new Map<string, { times: number[]; shown: number[] }>();
  private n = 0;

  /** `redraw`: every minute shows another machine's sensors, so that offsets average out over many minutes. */
  constructor(line: Line, options: { redraw: boolean }) {
    this.line = line;
    this.redraw = options.redraw;
  }

  second(plant: Plant): void {
    this.n += 1;
    for (const { point, published } of plant.sensors.values())
      this.sums.set(point.name, lastCounts(point) ? published : (this.sums.get(point.name) ?? 0) + published);
    if (plant.clock % FAST === 0) this.look(plant);
    if (plant.clock % MINUTE !== 0) return;
    if (this.n === MINUTE) this.line({ time: rfc3339(plant.clock * 1000), points: this.points(plant) });
    this.sums.clear();
    this.levels.clear();
    this.n = 0;
  }

  private look(plant: Plant): void {
    for (const { point, published } of plant.sensors.values()) {
      if (!point.name.endsWith('.level')) continue;
      const seen = this.levels.get(point.name) ?? { times: [], shown: [] };
      this.levels.set(point.name, seen);
      seen.times.push(plant.clock * 1000);
      seen.shown.push(fromSi(toSi(published, point.unit), catalogueUnit(point.unit)));
    }
  }

  private rate(point: PlantPoint): Pick<RecordedPoint, 'rate' | 'rate_u'> {
    const seen = this.levels.get(point.name);
    if (seen === undefined) return {};
    const step = differenceFromSi(differenceToSi(point.resolution || point.scale, point.unit), '1');
    const slope = slopeOf(seen.times, seen.shown, step);
    return slope === null ? {} : { rate: slope.value, rate_u: slope.u };
  }

  private points(plant: Plant): Record<string, RecordedPoint> {
    const points: Record<string, RecordedPoint> = {};
    for (const sensor of plant.sensors.values()) {
      const { point } = sensor;
      const sum = this.sums.get(point.name)!;
      let shown = lastCounts(point) ? sum : sum / this.n;
      if (this.redraw && sensor.busFault === null) shown = sensor.withDraw(shown, sensor.nextDraw());
      const unit = catalogueUnit(point.unit);
      points[point.name] = Number.isFinite(shown)
        ? {
            value: fromSi(toSi(shown, point.unit, BAROMETER), unit),
            unit,
            u: catalogueUncertainty(point, shown, unit),
            ...this.rate(point),
          }
        : { value: null, unit, reason: 'the register shows no number' };
    }
    return points;
  }
}

function catalogueUncertainty(point: PlantPoint, value: number, unit: UnitName): number {
  const own = differenceToSi(standardUncertainty(point, value), point.unit);
  const barometer = point.reference === 'vented_gauge' ? BAROMETER_UNCERTAINTY : 0;
  return differenceFromSi(Math.hypot(own, barometer), unit);
}
