import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { parallel } from '../../../agent/cycle/arrangements/parallel.ts';
import { simple } from '../../../agent/cycle/arrangements/simple.ts';
import type { Circuit } from '../../../agent/cycle/arrangements/type.ts';
import type { Flows } from '../../../agent/cycle/balances.ts';
import { energyResidual, massResidual, quantityNames, solveFlows } from '../../../agent/cycle/balances.ts';
import { openBooks } from '../../../agent/cycle/books.ts';
import type { ChillerParameters } from '../../../agent/cycle/parameters.ts';
import { tablesOf } from '../../../agent/cycle/tables.ts';
import type { State } from '../../../agent/refrigerant/types.ts';
import { good, machine, R134a, SET_CD, snapshot } from './given.ts';

const CIRCUITS: readonly (readonly [string, Circuit])[] = [
  ['simple', simple.on],
  ['parallel', parallel.on],
  ['parallel, economizer off', parallel.off as Circuit],
];

/** h in J/kg that a parallel machine has at 5/20/37 degC. */
const H: Record<string, number> = { 3: 246_072.27, 4: 246_072.27, 5: 227_467.73, 7: 409_748.32 };

describe('flows from junctions and the tank balance', () => {
  test('y = (h3 - h5)/(h7 - h3), worked by hand', () => {
    const flows = solveFlows(
      parallel.on,
      { evaporator: 30, motor_cooling: 0.25, bypass: 0 },
      (node) => H[node] as number,
    );
    const y = (246_072.27 - 227_467.73) / (409_748.32 - 246_072.27);
    expect(flows.vapour).toBeCloseTo(30 * y, 9);
    expect(flows.tank).toBeCloseTo(30 * (1 + y), 9);
    expect(flows.main).toBeCloseTo(30.25, 12);
    expect(flows.condenser).toBeCloseTo(30.25 + 30 * y, 9);
  });

  test('a missing enthalpy or too few equations give no number', () => {
    const flows = solveFlows(parallel.on, { evaporator: 30, motor_cooling: 0, bypass: 0 }, () => Number.NaN);
    expect(flows.vapour).toBeNaN();
    expect(solveFlows(parallel.on, { evaporator: 30 }, (node) => H[node] as number).main).toBeNaN();
  });
});

/**
 * Values of every quantity of the balances, as solved from points; heat and work from the water side and the meters.
 */
function lookup(
  parameters: ChillerParameters,
  economizing: boolean,
): { value: (name: string) => number; circuit: Circuit } {
  const points = { ...SET_CD, 'economizer_compressor.running': good(economizing ? 1 : 0) };
  const fluid = R134a;
  const tables = tablesOf(parameters.arrangement);
  const { base } = openBooks({ parameters, fluid, tables }, snapshot(points), { uncertainty: false });
  base.capacityMethod = 'chilled_water';
  const figure = (name: string) => base.entry(name) as number;
  const flows = base.entry('flows') as Flows;
  const drive = (name: 'main_compressor' | 'economizer_compressor') => parameters[name].drive_efficiency;
  const work = (name: 'main_compressor' | 'economizer_compressor', flow: number) => figure(`work:${name}`) * flow;
  const motor = figure('motor_cooling_flow') > 0 ? figure('main_compressor.power') * (1 - drive('main_compressor')) : 0;
  const shaft = work('main_compressor', flows.main as number);
  const second = economizing ? work('economizer_compressor', flows.vapour as number) : 0;
  const given: Record<string, number> = {
    'evaporator.heat': figure('unit.capacity'),
    'main_compressor.shaft_power': shaft,
    'economizer_compressor.shaft_power': second,
    'main_compressor.motor_heat': motor,
    'condenser.heat': figure('unit.capacity') + shaft + second + motor,
  };
  const value = (name: string) => {
    if (name.startsWith('m:')) return flows[name.slice(2)] as number;
    if (name.startsWith('h:')) return (base.entry(`state:${name.slice(2)}`) as State).h;
    return given[name] as number;
  };
  return { value, circuit: base.circuit };
}

describe.each([
  ['parallel', true, false],
  ['parallel', true, true],
  ['parallel', false, true],
] as const)('%s, economizer %s, motor cooling %s', (arrangement, economizing, motor_cooling) => {
  const parameters = machine({
    arrangement,
    motor_cooling,
    main_compressor: { drive_efficiency: 0.95, assumed_isentropic_efficiency: 0.83 },
  });
  const { value, circuit } = lookup(parameters, economizing);

  test('all balances close on what was solved, and the condenser on the whole', () => {
    for (const junction of circuit.junctions)
      expect(Math.abs(massResidual(junction, value)), junction.name).toBeLessThan(1e-9);
    for (const balance of circuit.balances) {
      // of 5 MW
      expect(Math.abs(energyResidual(balance, value)), balance.name).toBeLessThan(1);
    }
  });

  test('a flow off by a thousandth opens them', () => {
    const wrong = (name: string) => value(name) * (name === 'm:evaporator' ? 1.001 : 1);
    const open = circuit.balances.filter((balance) => Math.abs(energyResidual(balance, wrong)) > 1000);
    expect(open.map(({ name }) => name)).toContain('evaporator');
  });
});

test('balances relate named quantities only, all of them known to the tables', () => {
  for (const [name, circuit] of CIRCUITS) {
    const nodes = new Set(circuit.nodes.map((node) => `h:${node.number}`));
    const streams = new Set(
      circuit.junctions.flatMap(({ enters, leaves }) => [...enters, ...leaves]).map((each) => `m:${each}`),
    );
    for (const quantity of quantityNames(circuit)) {
      if (quantity.startsWith('h:')) expect(nodes.has(quantity), `${name} ${quantity}`).toBe(true);
      if (quantity.startsWith('m:')) expect(streams.has(quantity), `${name} ${quantity}`).toBe(true);
    }
    for (const node of circuit.nodes) expect(streams.has(`m:${node.stream}`), `${name} node ${node.number}`).toBe(true);
  }
});

test('each node needs only nodes before it', () => {
  for (const [name, circuit] of CIRCUITS) {
    const seen = new Set<string>();
    for (const { number, rule } of circuit.nodes) {
      if (rule.kind === 'expansion') expect(seen.has(rule.from), `${name} ${number}`).toBe(true);
      seen.add(number);
    }
  }
  expect(must({ ok: true, value: parallel.without })).toBe(simple.on);
});
