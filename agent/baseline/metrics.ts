/** What the baseline says of a minute. Published only where one is declared and has passed its tests. */
import { type Figure, isMissing, type MetricDefinition, type Missing, missing } from '../base/metric.ts';
import { worse } from '../base/quality.ts';
import { differenceFromSi, fromSi } from '../base/units.ts';
import { type Line, onLine } from './exchangers.ts';
import { type Expected, expected } from './expect.ts';
import type { CleanMachine } from './fit.ts';

/** Baseline of the present way of the economizer, at the level of the time. */
export interface Clean {
  /** Null: none applies now, and why. */
  readonly machine: CleanMachine | null;
  readonly reason: string | null;
  readonly level: number;
  /** k = 1 */
  readonly level_deviation: number;
  readonly evaporator_ua: Line | null;
  readonly condenser_ua: Line | null;
  readonly subcooling: Line | null;
}

/** A minute as far as a baseline needs it; catalogue units, temperatures in degC. */
export interface BaselineContext {
  readonly clean: Clean;
  /** By metric and point. */
  readonly figures: Readonly<Record<string, Figure>>;
  /** Saturation pressure of the refrigerant, kPa, at a temperature in degC; null where there is none. */
  readonly saturationPressure: (temperature: number) => number | null;
}

interface BaselineMetric extends MetricDefinition<BaselineContext> {
  /** Expanded (k = 2), an SI difference; null: none is stated. */
  uncertainty(context: BaselineContext): number | null;
}

const COLD = 'chilled_water.leaving_temperature';
const WARM = 'condenser_water.entering_temperature';
const ASKED = ['unit.capacity', COLD, WARM];
const KELVIN = 273.15;

function need(c: BaselineContext, name: string): number | Missing {
  const figure = c.figures[name];
  if (figure === undefined) return missing(`${name} is not measured`);
  return figure.value ?? missing(figure.reason ?? `${name} is missing`);
}

interface Found {
  readonly power: number;
  /** k = 2: prediction interval of an hour, with the level's uncertainty. */
  readonly interval: number;
  readonly capacity: number;
}

function expectation(c: BaselineContext): Found | Missing {
  const { machine, reason, level, level_deviation } = c.clean;
  if (machine === null) return missing(reason ?? 'no baseline applies');
  const values = ASKED.map((name) => need(c, name));
  const lacking = values.find((value) => isMissing(value));
  if (lacking !== undefined && isMissing(lacking)) return lacking;
  const [capacity, chilled, condenser] = values as [number, number, number];
  const by: Expected | null = expected(machine, {
    capacity,
    chilled: chilled + KELVIN,
    condenser: condenser + KELVIN,
  });
  if (by === null) return missing('load or water temperatures lie beyond the fitted ones');
  return {
    power: level * by.power,
    interval: Math.hypot(level * by.interval, 2 * level_deviation * by.power),
    capacity,
  };
}

function from(c: BaselineContext, of: (found: Found) => number | Missing): number | Missing {
  const found = expectation(c);
  return 'missing' in found ? found : of(found);
}

function spread(c: BaselineContext, of: (found: Found) => number | Missing): number | null {
  const value = from(c, of);
  return isMissing(value) ? null : value;
}

const MADE = 'clean machine of the declared period at this load, leaving chilled and entering condenser water';

const POWER_METRICS: readonly BaselineMetric[] = [
  {
    name: 'unit.power_expected',
    unit: 'kW',
    meaning: `electrical power that the ${MADE} would take; uncertainty: prediction interval of an hour`,
    formula: 'baseline(unit.capacity, chilled_water.leaving_temperature, condenser_water.entering_temperature)',
    inputs: ASKED,
    compute: (c) => from(c, ({ power }) => 1000 * power),
    uncertainty: (c) => spread(c, ({ interval }) => 1000 * interval),
  },
  {
    name: 'unit.kw_per_ton_expected',
    unit: 'kw_per_ton',
    meaning: `power per ton that the ${MADE} would take, without pumps and tower`,
    formula: 'unit.power_expected/unit.capacity',
    inputs: ['unit.power_expected', 'unit.capacity'],
    compute: (c) => from(c, ({ power, capacity }) => (capacity > 0 ? power / capacity : missing('no cooling is made'))),
    uncertainty: (c) => spread(c, ({ interval, capacity }) => interval / capacity),
  },
  {
    name: 'unit.kw_per_ton_deviation',
    unit: '1',
    meaning: `power over that of the ${MADE}, less 1: above zero it takes more. What the sensors are wrong by is in both`,
    formula: 'unit.power/unit.power_expected - 1',
    inputs: ['unit.power', 'unit.power_expected'],
    compute(c) {
      const used = need(c, 'unit.power');
      return isMissing(used) ? used : from(c, ({ power }) => used / power - 1);
    },
    uncertainty(c) {
      const used = need(c, 'unit.power');
      return isMissing(used) ? null : spread(c, ({ power, interval }) => (used * interval) / power ** 2);
    },
  },
];

/** Value of a line at this minute's duty and, where the line has it, flow. */
function clean(
  c: BaselineContext,
  line: Line | null,
  names: readonly string[],
): { readonly value: number; readonly interval: number } | Missing {
  if (line === null) return missing('the declared period gives no clean value');
  const values: number[] = [];
  for (const name of names.slice(0, line.range.length)) {
    const value = need(c, name);
    if (isMissing(value)) return value;
    values.push(value);
  }
  return onLine(line, values) ?? missing('duty or flow lies beyond that of the declared period');
}

interface Side {
  readonly name: 'evaporator' | 'condenser';
  readonly line: (of: Clean) => Line | null;
  readonly asked: readonly string[];
}

/** Duty first, then the flow: a line through hours without flow has the duty alone. */
export const SIDES: readonly Side[] = [
  { name: 'evaporator', line: (of) => of.evaporator_ua, asked: ['unit.capacity', 'chilled_water.flow'] },
  { name: 'condenser', line: (of) => of.condenser_ua, asked: ['condenser.heat_rejected', 'condenser_water.flow'] },
];

const UA_METRICS = SIDES.map(({ name, line, asked }): BaselineMetric => {
  const found = (c: BaselineContext) => clean(c, line(c.clean), asked);
  return {
    name: `${name}.ua_ratio`,
    unit: '1',
    meaning: `conductance of the ${name} over that of the declared clean period at like duty and flow: falls as tubes foul`,
    formula: `${name}.ua/its clean value at ${asked.join(' and ')}`,
    inputs: [`${name}.ua`, ...asked],
    compute(c) {
      const now = need(c, `${name}.ua`);
      if (isMissing(now)) return now;
      const by = found(c);
      return 'missing' in by ? by : now / by.value;
    },
    // The sensors' own errors are in the clean value too.
    uncertainty(c) {
      const [now, by] = [need(c, `${name}.ua`), found(c)];
      return isMissing(now) || 'missing' in by ? null : (now * by.interval) / by.value ** 2;
    },
  };
});

const EXCESS: BaselineMetric = {
  name: 'condenser.excess_pressure',
  unit: 'delta_kPa',
  meaning:
    'condenser pressure above that of the liquid temperature with the subcooling of the declared clean period: air in the condenser, which fouled tubes do not show; to be confirmed at standstill',
  formula: 'condenser.pressure - p_sat(condenser.liquid_temperature + clean subcooling at unit.capacity)',
  inputs: ['condenser.pressure', 'condenser.liquid_temperature', 'unit.capacity'],
  compute: (c) => excess(c, 0),
  uncertainty(c) {
    const by = clean(c, c.clean.subcooling, ['unit.capacity']);
    const [here, above] = [
      'missing' in by ? missing('') : excess(c, 0),
      'missing' in by ? missing('') : excess(c, by.interval),
    ];
    return isMissing(here) || isMissing(above) ? null : Math.abs(here - above);
  },
};

/** Pa; `shift`: K added to the clean subcooling. */
function excess(c: BaselineContext, shift: number): number | Missing {
  const pressure = need(c, 'condenser.pressure');
  const liquid = need(c, 'condenser.liquid_temperature');
  const by = clean(c, c.clean.subcooling, ['unit.capacity']);
  if (isMissing(pressure)) return pressure;
  if (isMissing(liquid)) return liquid;
  if ('missing' in by) return by;
  const saturated = c.saturationPressure(liquid + by.value + shift);
  return saturated === null ? missing('no saturation pressure there') : 1000 * (pressure - saturated);
}

export const BASELINE_METRICS: readonly BaselineMetric[] = [...POWER_METRICS, ...UA_METRICS, EXCESS];

/** Published figures; as good as what they are made from, at most. */
export function baselineFigures(c: BaselineContext): Record<string, Figure> {
  const figures: Record<string, Figure> = {};
  for (const metric of BASELINE_METRICS) {
    const value = metric.compute({ ...c, figures: { ...c.figures, ...figures } });
    if (isMissing(value)) {
      figures[metric.name] = { value: null, uncertainty: null, quality: 'bad', reason: value.missing };
      continue;
    }
    const spread_ = metric.uncertainty(c);
    const doubtful = metric.inputs
      .map((name) => ({ ...c.figures, ...figures })[name])
      .find((input) => input !== undefined && input.quality !== 'good');
    figures[metric.name] = {
      value: fromSi(value, metric.unit),
      uncertainty: spread_ === null ? null : differenceFromSi(spread_, metric.unit),
      quality: worse('good', doubtful?.quality ?? 'good'),
      reason: doubtful?.reason ?? null,
    };
  }
  return figures;
}
