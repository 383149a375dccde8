/**
 * A parallel machine at the condition of the reference figures with every point that the balances know, consistent to
 * the last digit: sensors that read this contradict nothing. Draws add to each point and each assumption an error of
 * its stated uncertainty, matched pairs and the barometer as configured.
 */
import { must } from '../../agent/base/result.ts';
import { openBooks, type PreparedMachine } from '../../agent/cycle/books.ts';
import type { ChillerParameters } from '../../agent/cycle/parameters.ts';
import { CompiledBalances } from '../../agent/cycle/reconciliation/reconcile.ts';
import { tablesOf } from '../../agent/cycle/tables.ts';
import type { PointValue, Snapshot } from '../../agent/points/types.ts';
import { refrigerant } from '../../agent/refrigerant/refrigerants.ts';
import { CAPACITY, ECONOMIZER_DISCHARGE, good, machine, POWER, SET_CD } from '../unit/cycle/given.ts';

export type Points = Readonly<Record<string, PointValue>>;

const CONDENSER_FLOW = (CAPACITY + POWER) / (994.6 * 4178.5 * 5.5);

/** Near enough; what closes the balances exactly is found from it. */
const NEARLY: Points = {
  ...SET_CD,
  'main_compressor.suction_temperature': good(278.65, 0.7),
  'flash_tank.temperature': good(293.15, 0.3),
  'economizer_compressor.discharge_temperature': good(ECONOMIZER_DISCHARGE, 0.7),
  'main_compressor.power': good(747_400, 7474),
  'economizer_compressor.power': good(47_479, 475),
  'condenser_water.flow': good(CONDENSER_FLOW, 0.01 * CONDENSER_FLOW),
};

export const MACHINE = machine({
  main_compressor: { drive_efficiency: 0.95, assumed_isentropic_efficiency: 0.83 },
  economizer_compressor: { drive_efficiency: 0.93, assumed_isentropic_efficiency: 0.74 },
  motor_cooling: true,
});

export function prepared(parameters: ChillerParameters): PreparedMachine {
  return {
    parameters,
    fluid: must(refrigerant(parameters.refrigerant)),
    tables: tablesOf(parameters.arrangement),
    balances: new CompiledBalances(),
  };
}

export const snapshotOf = (points: Points): Snapshot => ({ time: Date.UTC(2026, 6, 1, 12), points });

/** The truth: points and parameters that close every balance. */
export function consistent(): { readonly points: Points; readonly parameters: ChillerParameters } {
  let points: Points = NEARLY;
  let parameters = MACHINE;
  for (let round = 0; round < 4; round++) {
    const { leaf } = openBooks(prepared(parameters), snapshotOf(points), { uncertainty: true });
    const value = new Map(leaf.interval.inputs.map((input) => [input.name, input.value]));
    points = Object.fromEntries(
      Object.entries(points).map(([name, point]) => [name, { ...point, value: value.get(name) ?? point.value }]),
    );
    parameters = withAssumed(parameters, (name, old) => value.get(`assumed.${name}`) ?? old);
  }
  // efficiencies that are assumed only where nothing measures them: those that the machine really has
  const { base } = openBooks(prepared(parameters), snapshotOf(points), { uncertainty: true });
  const real = (name: string): number => base.entry(`${name}.isentropic_efficiency`) as number;
  const superheat = base.entry('main_compressor.suction_superheat') as number;
  return {
    points,
    parameters: withAssumed(parameters, (name, old) => {
      if (name === 'suction_superheat') return superheat;
      return name.endsWith('_efficiency') ? real(name.replace('_efficiency', '')) : old;
    }),
  };
}

/** Every assumed value replaced; the names are those of the cycle's inputs. */
export function withAssumed(
  parameters: ChillerParameters,
  next: (name: string, old: number, u: number) => number,
): ChillerParameters {
  const of = (name: 'main_compressor' | 'economizer_compressor') => {
    const given = parameters[name];
    const { assumed_isentropic_efficiency: eta, assumed_efficiency_uncertainty: u, drive_efficiency: drive } = given;
    return {
      ...given,
      assumed_isentropic_efficiency: next(`${name}_efficiency`, eta, u),
      drive_efficiency: next(`${name}_drive`, drive, 0.01),
    };
  };
  return {
    ...parameters,
    main_compressor: of('main_compressor'),
    economizer_compressor: of('economizer_compressor'),
    suction_superheat: next(
      'suction_superheat',
      parameters.suction_superheat,
      parameters.suction_superheat_uncertainty,
    ),
  };
}

export function only(points: Points, names: readonly string[]): Points {
  return Object.fromEntries(names.map((name) => [name, points[name] as PointValue]));
}

const A = [
  'chilled_water.entering_temperature',
  'chilled_water.leaving_temperature',
  'condenser_water.entering_temperature',
  'condenser_water.leaving_temperature',
  'evaporator.pressure',
  'condenser.pressure',
  'economizer_compressor.running',
];
const B = [...A, 'flash_tank.pressure', 'condenser.liquid_temperature'];
const C = [...B, 'unit.power', 'main_compressor.discharge_temperature'];
const D = [...B, 'unit.power', 'chilled_water.flow'];
const C_D = [...C, 'chilled_water.flow'];
const WITH_CONDENSER = [...C_D, 'condenser_water.flow'];
const WITH_ECONOMIZER = [...WITH_CONDENSER, 'economizer_compressor.power'];

/** Point sets of the domain, their sum, and with what adds redundancy; `all`: every point. */
export const SETS: Readonly<Record<string, readonly string[]>> = {
  A,
  B,
  C,
  D,
  'C+D': C_D,
  'C+D+condenser flow': WITH_CONDENSER,
  'C+D+condenser flow+economizer power': WITH_ECONOMIZER,
  all: ['economizer_compressor.running', ...Object.keys(NEARLY).filter((name) => !name.endsWith('.running'))],
};

/** Marsaglia's xorshift32 and Box and Muller: normal deviates from a seed. */
export function normal(seed: number): () => number {
  let x = seed;
  const uniform = () => {
    x ^= x << 13;
    x ^= x >>> 17;
    x ^= x << 5;
    return ((x >>> 0) + 0.5) / 2 ** 32;
  };
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}

/** One minute as sensors and assumptions with errors would have it. */
export function drawn(
  truth: { readonly points: Points; readonly parameters: ChillerParameters },
  next: () => number,
): { readonly points: Points; readonly parameters: ChillerParameters } {
  const points = Object.fromEntries(
    Object.entries(truth.points).map(([name, point]) => [
      name,
      { ...point, value: (point.value as number) + (point.u as number) * next() },
    ]),
  );
  return { points, parameters: withAssumed(truth.parameters, (_, old, u) => old + u * next()) };
}
