/**
 * What the storage term is worth: the emulated machines under constant surroundings while the set points of their
 * levels wander, solved once knowing what the vessels hold and once not, beside the plant's own books. Perfect sensors:
 * what remains is the model. Mean error and scatter of each flow over such minutes.
 *
 * node agent/launch.cjs --node tests/proof/levels.ts [--minutes 120]
 */
import { parseArgs } from 'node:util';
import { must } from '../../agent/base/result.ts';
import { chillerParameters } from '../../agent/cycle/parameters.ts';
import { prepare, type Solver } from '../../agent/cycle/solve.ts';
import { CH1 } from '../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../agent/plant/kestrel-quay/ch2.ts';
import type { Snapshot } from '../../agent/points/types.ts';
import { type Books, type Minute, movingLevels } from '../oracle/cycle/moving-levels.ts';

const MACHINES = {
  'CH-1': { of: CH1, machine: { refrigerant: 'R134a', arrangement: 'parallel', rated_capacity: '1500 ton' } },
  'CH-2': { of: CH2, machine: { refrigerant: 'R1233zdE', arrangement: 'interstage', rated_capacity: '900 ton' } },
} as const;

const ROWS: readonly (readonly [string, keyof Books, number])[] = [
  ['condenser.mass_flow', 'drained', 1],
  ['flash_tank.vapour_mass_flow', 'vapour', 1],
  ['evaporator.mass_flow', 'boiled', 1],
  ['unit.capacity', 'capacity', 1e-3],
];
/** Points left out: capacity then comes from chilled water, or from condenser water and power. */
const WAYS = {
  'chilled water': ['condenser_water.flow', 'unit.power'],
  'condenser water': ['chilled_water.flow'],
} as const;

function snapshotOf(minute: Minute, flows: Readonly<Record<string, number>>, without: readonly string[]): Snapshot {
  const seen = { quality: 'good', reason: null, age_s: 1, spread: null, n: 30 } as const;
  const water = Object.entries(flows).map(([name, value]) => [name, { value }] as const);
  const told = [...Object.entries(minute.points), ...water].filter(([name]) => !without.includes(name));
  return {
    time: 0,
    points: Object.fromEntries(
      told.map(([name, { value, ...rest }]) => [name, { value, u: 1e-4 * value, ...seen, ...rest }]),
    ),
  };
}

function spread(errors: readonly number[]): string {
  const mean = errors.reduce((sum, each) => sum + each, 0) / errors.length;
  const scatter = Math.sqrt(errors.reduce((sum, each) => sum + (each - mean) ** 2, 0) / errors.length);
  return `${mean.toFixed(3).padStart(8)} ${scatter.toFixed(3).padStart(8)}`;
}

const { values } = parseArgs({ options: { minutes: { type: 'string', default: '120' } } });
console.log('kg/s and kW; moved: mean size of what the condenser takes up or gives in these minutes');
console.log(`${'figure'.padEnd(30)} capacity by      without: mean, scatter   with: mean, scatter`);
for (const name of ['CH-1', 'CH-2'] as const) {
  const { of, machine } = MACHINES[name];
  const vessel = (volume: number) => ({ liquid_area: `${volume} m2`, level_range: '1 m' });
  const vessels = { condenser: vessel(of.machine.condenser.sumpCapacity), flash_tank: vessel(of.machine.tank.volume) };
  const solver = (more: object): Solver => must(prepare(chillerParameters.parse({ ...machine, ...more })));
  const [ignorant, knowing] = [solver({}), solver({ vessels })];
  const minutes = movingLevels(name, Number(values.minutes)).slice(20);
  const flows = { 'chilled_water.flow': of.world.chilledFlow, 'condenser_water.flow': of.world.condenserFlow };
  const moved = minutes.reduce((sum, { books }) => sum + Math.abs(books.condenser_stored), 0) / minutes.length;
  console.log(`${name}, ${minutes.length} minutes, moved ${moved.toFixed(2)} kg/s`);
  for (const [way, without] of Object.entries(WAYS))
    for (const [metric, book, scale] of ROWS) {
      const errors = [ignorant, knowing].map((each) =>
        minutes.map((minute) => {
          const found = each.solve(snapshotOf(minute, flows, without)).metrics[metric]?.value ?? Number.NaN;
          return found - scale * minute.books[book];
        }),
      );
      console.log(`${metric.padEnd(30)} ${way.padEnd(16)} ${errors.map(spread).join('      ')}`);
    }
}
