/** What is published of the level loops. Words (verdict, cause, flags) travel in the message of the valves. */
import { type Figure, isMissing, type MetricDefinition, type Missing, missing } from '../base/metric.ts';
import { differenceFromSi, fromSi, type UnitName } from '../base/units.ts';
import type { Estimate, LoopVerdict } from './types.ts';

export type LoopName = 'condenser_valve' | 'tank_valve' | 'tank_valve_2';

export const LOOP_NAMES: readonly LoopName[] = ['condenser_valve', 'tank_valve', 'tank_valve_2'];

/** Of the loops that a machine has. */
export type LoopVerdicts = Readonly<Partial<Record<LoopName, LoopVerdict>>>;

export interface ValveContext {
  readonly loops: LoopVerdicts;
}

export interface ValveMetric extends MetricDefinition<ValveContext> {
  /** Expanded (k = 2), as an SI difference; null: none is stated. */
  uncertainty(context: ValveContext): number | null;
}

const LEVEL: Readonly<Record<LoopName, string>> = {
  condenser_valve: 'condenser.level',
  tank_valve: 'flash_tank.level',
  tank_valve_2: 'flash_tank_2.level',
};

const WORDS: Readonly<Record<LoopName, string>> = {
  condenser_valve: 'condenser',
  tank_valve: 'flash tank',
  tank_valve_2: 'second flash tank',
};

interface Quantity {
  readonly name: string;
  readonly unit: UnitName;
  readonly meaning: (loop: LoopName) => string;
  readonly formula: string;
  readonly of: (verdict: LoopVerdict) => Estimate | number | null;
  readonly without: string;
}

const QUANTITIES: readonly Quantity[] = [
  {
    name: 'hunting_index',
    unit: '1',
    meaning: (loop) => `how regularly the ${WORDS[loop]} level swings: 0 not at all, above 0.5 it hunts`,
    formula:
      'sqrt(r / (1 + r) x R x evenness of the amplitudes), r and R from the autocorrelation; below 0.5 unless it hunts',
    of: ({ index }) => index,
    without: 'nothing to judge',
  },
  {
    name: 'period',
    unit: 's',
    meaning: (loop) => `period of the hunting of the ${WORDS[loop]} level`,
    formula: 'twice the mean distance of the zero crossings of the autocorrelation of the level',
    of: ({ period_s }) => period_s,
    without: 'the loop does not hunt',
  },
  {
    name: 'level_amplitude',
    unit: '1',
    meaning: (loop) => `amplitude of the hunting of the ${WORDS[loop]} level`,
    formula: 'pi x IAE / T over half-cycles of the level without its drift: the sine of the same area',
    of: ({ level_amplitude }) => level_amplitude,
    without: 'the loop does not hunt',
  },
  {
    name: 'position_amplitude',
    unit: '1',
    meaning: (loop) => `amplitude of the valve at the period of the ${WORDS[loop]} level`,
    formula: 'sqrt(2) x root mean square of the position over half-cycles of the level; the command without a position',
    of: ({ position_amplitude }) => position_amplitude,
    without: 'the loop does not hunt, or neither position nor command is read',
  },
  {
    name: 'travel_per_hour',
    unit: 'per_hour',
    meaning: (loop) => `full strokes that the ${WORDS[loop]} valve travels in an hour`,
    formula: 'sum of the movements of position (else command) beyond noise and resolution / time',
    of: ({ travel_per_hour }) => (travel_per_hour === null ? null : travel_per_hour / 3600),
    without: 'neither position nor command is read fast',
  },
  {
    name: 'reversals_per_hour',
    unit: 'per_hour',
    meaning: (loop) => `changes of direction of the ${WORDS[loop]} valve in an hour`,
    formula: 'number of reversals of position (else command) beyond noise and resolution / time',
    of: ({ reversals_per_hour }) => (reversals_per_hour === null ? null : reversals_per_hour / 3600),
    without: 'neither position nor command is read fast',
  },
];

function define(loop: LoopName, quantity: Quantity): ValveMetric {
  const { name, unit, meaning, formula, of, without } = quantity;
  return {
    name: `${loop}.${name}`,
    unit,
    meaning: meaning(loop),
    formula,
    inputs: [LEVEL[loop], `${loop}.position`, `${loop}.command`],
    compute({ loops }): number | Missing {
      const verdict = loops[loop];
      if (verdict === undefined) return missing(`this machine has no ${WORDS[loop]}`);
      const found = of(verdict);
      if (found === null) return missing(verdict.reason ?? without);
      return typeof found === 'number' ? found : found.value;
    },
    uncertainty({ loops }) {
      const verdict = loops[loop];
      const found = verdict === undefined ? null : of(verdict);
      return found === null || typeof found === 'number' ? null : found.uncertainty;
    },
  };
}

export const VALVE_METRICS: readonly ValveMetric[] = LOOP_NAMES.flatMap((loop) =>
  QUANTITIES.map((quantity) => define(loop, quantity)),
);

/** Catalogue units, expanded uncertainty. */
export function valveFigures(context: ValveContext): Record<string, Figure> {
  return Object.fromEntries(
    VALVE_METRICS.map((metric): [string, Figure] => {
      const value = metric.compute(context);
      if (isMissing(value))
        return [metric.name, { value: null, uncertainty: null, quality: 'bad', reason: value.missing }];
      const u = metric.uncertainty(context);
      return [
        metric.name,
        {
          value: fromSi(value, metric.unit),
          uncertainty: u === null || u === 0 ? null : differenceFromSi(u, metric.unit),
          quality: 'good',
          reason: null,
        },
      ];
    }),
  );
}
