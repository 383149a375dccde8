/**
 * Goal: against the books of a plant that shares no code with the solver, what vessels store is told as it is, and
 * flows in minutes with moving levels are as right as in minutes without. Perfect sensors: what remains is the model.
 * The mean error is that of what the site file does not say here (casing losses, motor cooling), the same either way.
 */
import { beforeAll, describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { chillerParameters } from '../../../agent/cycle/parameters.ts';
import { prepare, type Solver } from '../../../agent/cycle/solve.ts';
import type { Solution } from '../../../agent/cycle/types.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import type { Snapshot } from '../../../agent/points/types.ts';
import { type Books, type Minute, movingLevels } from './moving-levels.ts';

const MACHINES = {
  'CH-1': { of: CH1, machine: { refrigerant: 'R134a', arrangement: 'parallel', rated_capacity: '1500 ton' } },
  'CH-2': { of: CH2, machine: { refrigerant: 'R1233zdE', arrangement: 'interstage', rated_capacity: '900 ton' } },
} as const;

/** Water flows as they are; every sensor right to 1e-4. */
function snapshotOf(minute: Minute, flows: Readonly<Record<string, number>>): Snapshot {
  const all: Minute['points'] = {
    ...minute.points,
    ...Object.fromEntries(Object.entries(flows).map(([name, value]) => [name, { value }])),
  };
  const seen = { quality: 'good', reason: null, age_s: 1, spread: null, n: 30 } as const;
  return {
    time: 0,
    points: Object.fromEntries(
      Object.entries(all).map(([name, { value, ...rest }]) => [name, { value, u: 1e-4 * value, ...seen, ...rest }]),
    ),
  };
}

const FOUND: Readonly<Record<string, readonly [keyof Books, (found: Solution) => number]>> = {
  'condenser.storage_mass_flow': ['condenser_stored', metric('condenser.storage_mass_flow')],
  'flash_tank.storage_mass_flow': ['tank_stored', metric('flash_tank.storage_mass_flow')],
  'condenser.mass_flow': ['drained', metric('condenser.mass_flow')],
  'flash_tank.vapour_mass_flow': ['vapour', metric('flash_tank.vapour_mass_flow')],
  'evaporator.mass_flow': ['boiled', metric('evaporator.mass_flow')],
  'liquid to the evaporator': ['feed', (found) => found.states['6']?.m ?? Number.NaN],
};

function metric(name: string): (found: Solution) => number {
  return (found) => found.metrics[name]?.value ?? Number.NaN;
}

/** Standard deviation of the error, kg/s. */
function scatter(name: string, { solver, minutes, flows }: Run): number {
  const [book, read] = FOUND[name] as (typeof FOUND)[string];
  const errors = minutes.map((minute) => read(solver.solve(snapshotOf(minute, flows))) - minute.books[book]);
  const mean = errors.reduce((sum, each) => sum + each, 0) / errors.length;
  return Math.sqrt(errors.reduce((sum, each) => sum + (each - mean) ** 2, 0) / errors.length);
}

interface Run {
  readonly solver: Solver;
  readonly minutes: readonly Minute[];
  readonly flows: Readonly<Record<string, number>>;
}

describe.each(['CH-1', 'CH-2'] as const)('%s', (name) => {
  const { of, machine } = MACHINES[name];
  const vessel = (volume: number) => ({ liquid_area: `${volume} m2`, level_range: '1 m' });
  const vessels = { condenser: vessel(of.machine.condenser.sumpCapacity), flash_tank: vessel(of.machine.tank.volume) };
  const solver = (more: object): Solver => must(prepare(chillerParameters.parse({ ...machine, ...more })));
  const flows = { 'chilled_water.flow': of.world.chilledFlow };
  let [knowing, ignorant]: Run[] = [];
  beforeAll(() => {
    const minutes = movingLevels(name, 60).slice(20);
    knowing = { solver: solver({ vessels }), minutes, flows };
    ignorant = { solver: solver({}), minutes, flows };
  }, 120_000);

  test('levels do move: a third of a kilogram a second and more', () => {
    const moved = knowing?.minutes.map(({ books }) => Math.abs(books.condenser_stored)) ?? [];
    expect(moved.reduce((sum, each) => sum + each, 0) / moved.length).toBeGreaterThan(0.3);
  });

  test.each(['condenser.storage_mass_flow', 'flash_tank.storage_mass_flow'])('%s within 0.03 kg/s', (figure) => {
    expect(scatter(figure, knowing as Run)).toBeLessThan(0.03);
  });

  test.each([
    ['condenser.mass_flow', 10],
    ['flash_tank.vapour_mass_flow', 3],
    ['evaporator.mass_flow', 4],
    ['liquid to the evaporator', 15],
  ])('the error of %s in such minutes is a %ith of what it is without the term', (figure, times) => {
    const [with_it, without] = [scatter(figure, knowing as Run), scatter(figure, ignorant as Run)];
    expect(without / with_it).toBeGreaterThan(times);
  });
});
