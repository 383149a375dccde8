/**
 * Seasons of the emulated plant in which every sensor is wrong by one and the same error all through and by a new one
 * at each reading, and every assumption by one; the readings taken the agent's own way from samples to sums.
 */
import { must } from '../../agent/base/result.ts';
import { toSi, type UnitName } from '../../agent/base/units.ts';
import { loadSite } from '../../agent/config/load.ts';
import type { ChillerParameters } from '../../agent/cycle/parameters.ts';
import { prepare, type Solver } from '../../agent/cycle/solve.ts';
import { randomShares, roundFigure, splitFigures } from '../../agent/metrics/figures.ts';
import { CH1 } from '../../agent/plant/kestrel-quay/ch1.ts';
import { MinuteTruth } from '../../agent/plant/minutes.ts';
import { ParallelMachine } from '../../agent/plant/parallel-machine.ts';
import { Plant } from '../../agent/plant/plant.ts';
import { readingFromSi } from '../../agent/points/convert.ts';
import { pointDefinition } from '../../agent/points/dictionary.ts';
import { sampleTable } from '../../agent/points/samples.ts';
import { takeSnapshot } from '../../agent/points/snapshot.ts';
import type { PointSpec } from '../../agent/points/types.ts';
import { type EnergyFigure, energyFigure } from '../../agent/season/energy.ts';
import { addSums, NO_SUMS, type Sums, seasonMinute, sumsOf } from '../../agent/season/sums.ts';
import { normal, withAssumed } from './consistent.ts';

const SITE = new URL('../../config/kestrel-quay.yaml', import.meta.url).pathname;
const MINUTE = 60_000;
const SAMPLES = 12;
export const FIGURES = ['kwh', 'ton_hours', 'kw_per_ton'] as const;
/** As the agent's `cycle/inputs.ts` has them: of a drive efficiency, and of what losses do at part load. */
const DRIVE = 0.01;
const LASTING_LOSS = 0.25;
const RATED_POWER = 0.17;
const AUXILIARY = 0.25;

const WATER = [
  'chilled_water.entering_temperature',
  'chilled_water.leaving_temperature',
  'chilled_water.flow',
  'unit.power',
  'economizer_compressor.running',
];
const CIRCUIT = [
  'evaporator.pressure',
  'condenser.pressure',
  'flash_tank.pressure',
  'condenser.liquid_temperature',
  'main_compressor.discharge_temperature',
];
const CONDENSER = ['entering_temperature', 'leaving_temperature', 'flow'].map((name) => `condenser_water.${name}`);

export interface Case {
  readonly points: readonly string[];
  /** Lasting errors, of what the site file states. */
  readonly accuracy: number;
  /** Standard deviation of a reading about the sensor's own error, of what the site file states. */
  readonly scatter: number;
}

export const CASES: Readonly<Record<string, Case>> = {
  'water side and power meter': { points: WATER, accuracy: 1, scatter: 1 },
  'the same, sensors ten times as good': { points: WATER, accuracy: 0.1, scatter: 3 },
  'with the circuit, reconciled': { points: [...WATER, ...CIRCUIT], accuracy: 1, scatter: 1 },
  'and the condenser water': { points: [...WATER, ...CIRCUIT, ...CONDENSER], accuracy: 1, scatter: 1 },
};

interface Truth {
  readonly points: Readonly<Record<string, number | null>>;
  readonly metrics: Readonly<Record<string, number | null>>;
}

let halfDay: Truth[] | null = null;

/** True minutes from the least load of the plant's day to the greatest; the same ones each time. */
function truths(count: number): Truth[] {
  halfDay ??= minutesOfPlant();
  const all = halfDay;
  return Array.from({ length: count }, (_, i) => all[Math.floor(((i + 0.5) * all.length) / count)] as Truth);
}

function minutesOfPlant(): Truth[] {
  const machine = new ParallelMachine(CH1, 1);
  const plant = new Plant({ machine, seed: 1, start: Date.UTC(2026, 6, 1, 4), faults: [], warmUp: 3600 });
  const all: Truth[] = [];
  plant.listeners.push(new MinuteTruth((line) => all.push(line as unknown as Truth)));
  plant.advance(12 * 3600);
  return all;
}

/** One sensor's errors: the lasting one, and what each reading adds; SI. */
interface Errs {
  lasting(value: number): number;
  fresh(value: number): number;
}

const NO_ERROR: Errs = { lasting: () => 0, fresh: () => 0 };

/** `uncertainty`: with the accuracy of the case. */
function errsOf({ uncertainty }: PointSpec, of: Case, air: number, next: () => number): Errs {
  const { absolute, relative, barometer = 0 } = uncertainty;
  const own = Math.sqrt(absolute ** 2 - barometer ** 2);
  const [offset, gain] = [own * next(), relative * next()];
  return {
    lasting: (value) => offset + gain * value + barometer * air,
    fresh: (value) => (of.scatter / of.accuracy) * Math.hypot(own, relative * value) * next(),
  };
}

/** As the agent has it, and with all of each minute's uncertainty as lasting. */
interface Season {
  readonly figure: EnergyFigure;
  readonly whole: EnergyFigure;
}

export class Seasons {
  readonly #case: Case;
  readonly #specs: readonly PointSpec[];
  readonly #truths: readonly Truth[];
  readonly #machine: ChillerParameters;
  readonly #solver: Solver;
  readonly #next: () => number;
  readonly #atmosphere: { readonly local: number };

  static async open(of: Case, { minutes, seed }: { readonly minutes: number; readonly seed: number }) {
    const loaded = await loadSite(SITE, { env: {} });
    if (!loaded.ok) throw new Error('the example site is a good one');
    return new Seasons(of, loaded.value, { minutes, seed });
  }

  private constructor(
    of: Case,
    site: {
      readonly barometer: number;
      readonly chillers: readonly { machine: ChillerParameters; points: readonly PointSpec[] }[];
    },
    { minutes, seed }: { readonly minutes: number; readonly seed: number },
  ) {
    const chiller = site.chillers[0] as (typeof site.chillers)[number];
    this.#case = of;
    this.#machine = chiller.machine;
    this.#solver = must(prepare(chiller.machine));
    this.#atmosphere = { local: site.barometer };
    this.#truths = truths(minutes);
    this.#next = normal(seed);
    this.#specs = chiller.points.filter(({ name }) => of.points.includes(name)).map((spec) => this.#spec(spec));
  }

  /** As the site file has it, with the accuracy of the case; nothing stands still here for long. */
  #spec(spec: PointSpec): PointSpec {
    const { absolute, relative, barometer } = spec.uncertainty;
    const { accuracy } = this.#case;
    const uncertainty = {
      absolute: accuracy * absolute,
      relative: accuracy * relative,
      ...(barometer === undefined ? {} : { barometer: accuracy * barometer }),
    };
    return { ...spec, frozen_s: null, uncertainty };
  }

  /** What the plant's books say of the minutes of every season. */
  get books(): Pick<EnergyFigure, 'kwh' | 'ton_hours' | 'kw_per_ton'> {
    const sum = (name: string): number => this.#truths.reduce((all, { metrics }) => all + (metrics[name] ?? 0), 0) / 60;
    const [kwh, ton_hours] = [sum('unit.power'), sum('unit.capacity') / 3.51685284];
    return { kwh, ton_hours, kw_per_ton: kwh / ton_hours };
  }

  /** What the agent sums when no sensor errs. */
  exact(): Season {
    return this.#season(
      () => this.#solver,
      () => NO_ERROR,
    );
  }

  drawn(): Season {
    const air = this.#next();
    // Water side and power meter ask for no assumption.
    const solverOf = this.#case.points === WATER ? () => this.#solver : this.#assumed();
    return this.#season(solverOf, (spec) => errsOf(spec, this.#case, air, this.#next));
  }

  /** The machine as the site file would have it wrong, by the load: less load, less is known of a drive's losses. */
  #assumed(): (truth: Truth) => Solver {
    const next = this.#next;
    const [main, economizer, part, auxiliary] = [next(), next(), next(), next()];
    const wrong = withAssumed(this.#machine, (name, old, u) => (name.endsWith('_drive') ? old : old + u * next()));
    const { drive_efficiency: drive } = this.#machine.main_compressor;
    return ({ metrics }) => {
      const power = 1000 * (metrics['unit.power'] as number);
      const load = Math.min(1, Math.max(0.1, power / (RATED_POWER * this.#machine.rated_capacity)));
      const lost = LASTING_LOSS * (1 - drive) * (1 / load - 1);
      return must(
        prepare({
          ...wrong,
          auxiliary_power: wrong.auxiliary_power * (1 + AUXILIARY * auxiliary),
          main_compressor: { ...wrong.main_compressor, drive_efficiency: drive + DRIVE * main + lost * part },
          economizer_compressor: {
            ...wrong.economizer_compressor,
            drive_efficiency: wrong.economizer_compressor.drive_efficiency + DRIVE * economizer,
          },
        }),
      );
    };
  }

  #season(solverOf: (truth: Truth) => Solver, errors: (spec: PointSpec) => Errs): Season {
    const sensors = this.#specs.map((spec) => ({ spec, errs: errors(spec) }));
    const table = sampleTable(this.#specs.map(({ name }) => name));
    let [sums, whole]: [Sums, Sums] = [NO_SUMS, NO_SUMS];
    this.#truths.forEach((truth, index) => {
      const from = Date.UTC(2026, 6, 1) + index * MINUTE;
      for (const { spec, errs } of sensors) {
        const value = toSi(truth.points[spec.name] as number, pointDefinition(spec.name).unit as UnitName);
        const lasting = errs.lasting(value);
        for (let k = 1; k <= SAMPLES; k++) {
          const si = value + lasting + errs.fresh(value);
          const raw = (readingFromSi(si, spec, this.#atmosphere) - spec.offset) / spec.scale;
          table.record({ point: spec.name, time: from + (k * MINUTE) / SAMPLES, raw });
        }
      }
      const to = from + MINUTE;
      const samples = table.interval(from, to);
      const snapshot = takeSnapshot({ specs: this.#specs, samples, to, atmosphere: this.#atmosphere });
      const { metrics, economizer } = solverOf(truth).solve(snapshot);
      const figures = Object.fromEntries(Object.entries(metrics).map(([name, found]) => [name, roundFigure(found)]));
      const record = {
        interval_s: 60,
        state: 'steady',
        economizer,
        ...splitFigures(figures),
        random_share: randomShares(figures),
      };
      const stored = JSON.parse(JSON.stringify(record)) as typeof record;
      sums = added(sums, stored, to);
      whole = added(whole, { ...stored, random_share: {} }, to);
    });
    if (sums.energy.s !== 60 * this.#truths.length) throw new Error('every minute has power and capacity');
    return { figure: energyFigure(sums.energy), whole: energyFigure(whole.energy) };
  }
}

function added(sums: Sums, record: unknown, time: number): Sums {
  const minute = seasonMinute(record, time);
  return minute === null ? sums : addSums(sums, sumsOf(minute));
}
