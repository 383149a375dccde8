/**
 * Minutes in which levels move, by hand: masses of the vessels summed up second by second, with densities and
 * enthalpies of the independent code (CoolProp 8.0.0, tests/oracle/grids), and what sensors of such a machine would
 * read.
 */
import { must } from '../../../agent/base/result.ts';
import { slopeOf } from '../../../agent/base/slope.ts';
import { type ChillerParameters, chillerParameters } from '../../../agent/cycle/parameters.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import type { Solution } from '../../../agent/cycle/types.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import { readGrid } from '../refrigerant/grid.ts';

/** m2, m and relative, of every vessel of the tests. */
export const VESSEL = { liquid_area: '1.2 m2', level_range: '800 mm', uncertainty: 0.05 };
export const [AREA, RANGE] = [1.2, 0.8];
/** Of the water, so that its heat is a plain product: J/(m3 K). */
export const WATER = { density: 1000, heat_capacity: 4200 };

const GRID = readGrid('R134a', 'saturation');
function row(T: number): Record<string, number> {
  return GRID.reduce((best, each) =>
    Math.abs((each.T as number) - T) < Math.abs((best.T as number) - T) ? each : best,
  );
}
/** Saturated everywhere: no subcooling, no superheat. */
export const [COLD, SECOND, TANK, WARM] = [row(278), row(286), row(296), row(310)];
export const at = (of: Record<string, number>, name: string): number => of[name] as number;

export interface Case {
  readonly name: string;
  readonly machine: Record<string, unknown>;
  readonly running: string | null;
  readonly vessels: readonly ('condenser' | 'flash_tank' | 'flash_tank_2')[];
}

export const CASES: readonly Case[] = [
  { name: 'simple', machine: { arrangement: 'simple' }, running: null, vessels: ['condenser'] },
  {
    name: 'parallel',
    machine: { arrangement: 'parallel' },
    running: 'economizer_compressor.running',
    vessels: ['condenser', 'flash_tank'],
  },
  {
    name: 'interstage',
    machine: { arrangement: 'interstage' },
    running: 'economizer.running',
    vessels: ['condenser', 'flash_tank'],
  },
  {
    name: 'three stages',
    machine: { arrangement: 'interstage', stages: 3 },
    running: 'economizer.running',
    vessels: ['condenser', 'flash_tank', 'flash_tank_2'],
  },
];

export function parametersOf({ machine, vessels }: Case, stored: boolean): ChillerParameters {
  return chillerParameters.parse({
    refrigerant: 'R134a',
    rated_capacity: '1500 ton',
    main_compressor: { drive_efficiency: 1 },
    economizer_compressor: { drive_efficiency: 1 },
    suction_superheat: '0 K',
    water: WATER,
    ...machine,
    vessels: stored ? Object.fromEntries(vessels.map((name) => [name, VESSEL])) : {},
  });
}

/** kg/s through the valves, as they stand in this minute. */
export interface Valves {
  readonly drained: number;
  readonly to_second: number;
  readonly feed: number;
}

/**
 * One minute by hand: what is drained flashes in each tank (x from enthalpies), vapour goes to the condenser, liquid is
 * kept or passed on, and what boils is the steady flow that the compressor draws. Masses are summed up each second.
 */
export function byHand({ machine, vessels }: Case, { drained, to_second, feed }: Valves, boiled: number) {
  const tanks = vessels.length - 1;
  const [h3, hTank, hSecond] = [at(WARM, 'h_liquid'), at(TANK, 'h_liquid'), at(SECOND, 'h_liquid')];
  const flash = (h: number, of: Record<string, number>): number =>
    (h - at(of, 'h_liquid')) / (at(of, 'h_vapour') - at(of, 'h_liquid'));
  const vapour = tanks > 0 ? flash(h3, TANK) * drained : 0;
  const vapour_2 = tanks > 1 ? flash(hTank, SECOND) * to_second : 0;
  const condensed = boiled + vapour + vapour_2;
  const mass = { condenser: 900, flash_tank: 500, flash_tank_2: 400, evaporator: 1200 };
  const level: Record<string, number[]> = { condenser: [], flash_tank: [], flash_tank_2: [] };
  const density: Record<string, number> = {
    condenser: at(WARM, 'rho_liquid'),
    flash_tank: at(TANK, 'rho_liquid'),
    flash_tank_2: at(SECOND, 'rho_liquid'),
  };
  const times = Array.from({ length: 60 }, (_, s) => 1000 * s);
  const start = { ...mass };
  for (const _ of times) {
    for (const name of vessels) level[name]?.push(mass[name] / (density[name] as number) / AREA / RANGE);
    mass.condenser += condensed - drained;
    if (tanks > 0) mass.flash_tank += drained - vapour - (tanks > 1 ? to_second : feed);
    if (tanks > 1) mass.flash_tank_2 += to_second - vapour_2 - feed;
    mass.evaporator += (tanks > 0 ? feed : drained) - boiled;
  }
  const gained = (name: keyof typeof mass): number => (mass[name] - start[name]) / 60;
  const arriving = tanks > 1 ? hSecond : tanks > 0 ? hTank : h3;
  const capacity =
    boiled * at(COLD, 'h_vapour') +
    gained('evaporator') * at(COLD, 'h_liquid') -
    (tanks > 0 ? feed : drained) * arriving;
  // whatever the compressors put in leaves again: 900 kW of power
  const rejected =
    900e3 +
    boiled * at(COLD, 'h_vapour') +
    vapour * at(TANK, 'h_vapour') +
    vapour_2 * at(SECOND, 'h_vapour') -
    condensed * h3;
  const rates = Object.fromEntries(
    vessels.map((name) => [
      `${name}.level`,
      slopeOf(times, level[name] as number[], 0) as { value: number; u: number },
    ]),
  );
  return { machine, vapour, vapour_2, condensed, capacity, rejected, rates, gained, total: mass, start };
}

export const good = (value: number, u = 0): PointValue => ({
  value,
  u,
  quality: 'good',
  reason: null,
  age_s: 1,
  spread: null,
  n: 30,
});

export function points(of: Case, hand: ReturnType<typeof byHand>): Record<string, PointValue> {
  const kelvin = 5;
  const flow = (heat: number): number => heat / (WATER.density * WATER.heat_capacity * kelvin);
  return {
    ...(of.running === null ? {} : { [of.running]: good(1) }),
    'evaporator.pressure': good(at(COLD, 'p'), 20),
    'flash_tank.pressure': good(at(TANK, 'p'), 20),
    ...(of.vessels.length > 2 ? { 'flash_tank_2.pressure': good(at(SECOND, 'p'), 20) } : {}),
    'condenser.pressure': good(at(WARM, 'p'), 20),
    'condenser.liquid_temperature': good(at(WARM, 'T'), 1e-3),
    'chilled_water.entering_temperature': good(285, 1e-3),
    'chilled_water.leaving_temperature': good(280, 1e-3),
    'chilled_water.flow': good(flow(hand.capacity), 1e-3 * flow(hand.capacity)),
    'condenser_water.entering_temperature': good(300, 1e-3),
    'condenser_water.leaving_temperature': good(305, 1e-3),
    'condenser_water.flow': good(flow(hand.rejected), 1e-3 * flow(hand.rejected)),
    'unit.power': good(900e3, 900),
    ...Object.fromEntries(
      Object.entries(hand.rates).map(([name, { value }]) => [name, { ...good(0.5), rate: { value, u: 1e-6 } }]),
    ),
  };
}

export const solved = (parameters: ChillerParameters, of: Record<string, PointValue>): Solution =>
  must(prepare(parameters)).solve({ time: 0, points: of });
export const figure = (solution: Solution, name: string): number => solution.metrics[name]?.value ?? Number.NaN;
export const without = (of: Record<string, PointValue>, ...names: string[]): Record<string, PointValue> =>
  Object.fromEntries(Object.entries(of).filter(([name]) => !names.includes(name)));
