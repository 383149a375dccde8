/** Flows, powers, levels and valves of a running machine. Windows: common practice, no source. */
import type { PointName } from '../points/dictionary.ts';
import { amount, balance, beyond, type Facts, magnitude, type Strain, strain, type Window, words } from './strain.ts';
import { economizerRuns } from './temperatures.ts';

/** Density times heat capacity of water, J/(m3 K), from memory: good to 1 %. */
const WATER_J_PER_M3_K = 4.19e6;

/** Powers, flows, speeds of a running machine: SI, deviation of the logarithm. */
const RUNNING_MAGNITUDES: Readonly<Record<PointName, Window>> = {
  'chilled_water.pressure_drop': [6e3, 200e3, 0.15],
  'condenser_water.pressure_drop': [6e3, 200e3, 0.15],
  'main_compressor.speed': [900 / 60, 1000, 0.1],
  'main_compressor.voltage': [180, 15_000, 0.1],
  'main_compressor.current': [5, 3000, 0.1],
  'main_compressor.power_factor': [0.4, 1, 0.05],
};
/** Shares of the rated capacity, deviation of the logarithm. */
const OF_CAPACITY: Readonly<Record<PointName, Window>> = {
  'unit.power': [0.006, 0.4, 0.1],
  'main_compressor.power': [0.006, 0.4, 0.1],
  'economizer_compressor.power': [0.0004, 0.08, 0.15],
};

/** Of a running machine. */
export function runningMagnitudes(facts: Facts): (Strain | null)[] {
  return [...ownWindows(facts), ...loops(facts), ...powers(facts), ...heats(facts)];
}

function ownWindows(facts: Facts): (Strain | null)[] {
  const capacity = facts.rated_capacity;
  return [
    ...Object.entries(RUNNING_MAGNITUDES).map(([name, window]) => magnitude(facts, name, window)),
    ...Object.entries(OF_CAPACITY).flatMap(([name, [low, high, s]]) =>
      name.startsWith('economizer') && !economizerRuns(facts)
        ? []
        : [magnitude(facts, name, [low * capacity, high * capacity, s])],
    ),
    ...['chilled_water', 'condenser_water'].map((side) => {
      // What would carry the capacity at 1 K; machines are built for 4 to 10 K and run at less flow.
      const carries = capacity / WATER_J_PER_M3_K;
      return magnitude(facts, `${side}.flow`, [carries / 30, carries / 2.2, 0.12]);
    }),
  ];
}

/** Valves follow their commands, levels their set points; none beyond its range. */
function loops(facts: Facts): (Strain | null)[] {
  const follow = (a: PointName, b: PointName, allowed: number, s: number): Strain | null => {
    const [x, y] = [facts.value(a), facts.value(b)];
    if (x === null || y === null) return null;
    const z = beyond(x - y, [-allowed, allowed, s]);
    return strain([a, b], z, () => `${words(a)} ${amount(x, a)} beside ${words(b)} ${amount(y, b)}`);
  };
  const within = (name: PointName, low: number): Strain | null => {
    const x = facts.value(name);
    if (x === null) return null;
    return strain([name], beyond(x, [low, 1.02, 0.01]), () => `${words(name)} ${amount(x, name)} is hardly a position`);
  };
  return [
    ...['condenser', 'flash_tank', 'flash_tank_2'].flatMap((vessel) => [
      follow(`${vessel}.level`, `${vessel}.level_setpoint`, 0.3, 0.05),
      within(`${vessel}.level`, 0.02),
      within(`${vessel}.level_setpoint`, 0.02),
    ]),
    ...['condenser_valve', 'tank_valve', 'tank_valve_2'].flatMap((valve) => [
      follow(`${valve}.position`, `${valve}.command`, 0.2, 0.05),
      within(`${valve}.position`, -0.02),
      within(`${valve}.command`, -0.02),
    ]),
    ...['main_compressor', 'economizer_compressor'].map((name) => within(`${name}.vane_position`, -0.02)),
  ];
}

function powers(facts: Facts): (Strain | null)[] {
  const [unit, main, economizer] = ['unit', 'main_compressor', 'economizer_compressor'].map((name) =>
    facts.value(`${name}.power`),
  );
  const found: (Strain | null)[] = [];
  if (typeof unit === 'number' && typeof main === 'number') {
    const compressors = main + (economizer ?? 0);
    const window: Window = [0.93, economizer === null ? 1.4 : 1.15, 0.04];
    const points = [
      'unit.power',
      'main_compressor.power',
      ...(economizer === null ? [] : ['economizer_compressor.power']),
    ];
    found.push(balance([unit, compressors], points, window, 'power of the unit beside that of its compressors'));
  }
  const [current, voltage, factor] = ['current', 'voltage', 'power_factor'].map((part) =>
    facts.value(`main_compressor.${part}`),
  );
  if (
    typeof current === 'number' &&
    typeof voltage === 'number' &&
    typeof factor === 'number' &&
    typeof main === 'number'
  )
    found.push(
      balance(
        [main, Math.sqrt(3) * current * voltage * factor],
        ['power', 'current', 'voltage', 'power_factor'].map((part) => `main_compressor.${part}`),
        [0.8, 1.2, 0.1],
        'motor power beside amps x volts x power factor',
      ),
    );
  return found;
}

/** Doubt of a difference of two water temperatures, and the least that is told from none, K. */
const STEP_DOUBT = 0.15;
const STEP_LEAST = 0.05;

/** Heat carried by a water, W, and the relative doubt that a small temperature difference leaves. */
function heat(facts: Facts, side: string): { readonly W: number; readonly doubt: number } | null {
  const [flow, entering, leaving] = ['flow', 'entering_temperature', 'leaving_temperature'].map((part) =>
    facts.value(`${side}.${part}`),
  );
  if (typeof flow !== 'number' || typeof entering !== 'number' || typeof leaving !== 'number') return null;
  const step = side === 'chilled_water' ? entering - leaving : leaving - entering;
  const seen = Math.max(step, STEP_LEAST);
  return flow <= 0 ? null : { W: WATER_J_PER_M3_K * flow * seen, doubt: STEP_DOUBT / seen };
}

function heats(facts: Facts): (Strain | null)[] {
  const [chilled, tower] = [heat(facts, 'chilled_water'), heat(facts, 'condenser_water')];
  const power = facts.value('unit.power') ?? facts.value('main_compressor.power');
  const powerName = facts.value('unit.power') === null ? 'main_compressor.power' : 'unit.power';
  const parts = (side: string): PointName[] =>
    ['flow', 'entering_temperature', 'leaving_temperature'].map((part) => `${side}.${part}`);
  const found: (Strain | null)[] = [];
  if (chilled !== null) {
    const window: Window = [0.04, 1.5, Math.hypot(0.12, chilled.doubt)];
    const capacity = facts.rated_capacity;
    found.push(balance([chilled.W, capacity], parts('chilled_water'), window, 'cooling beside the rated capacity'));
  }
  if (chilled !== null && power !== null) {
    const window: Window = [2, 16, Math.hypot(0.12, chilled.doubt)];
    found.push(balance([chilled.W, power], [...parts('chilled_water'), powerName], window, 'cooling beside the power'));
  }
  if (chilled !== null && tower !== null && power !== null) {
    const points = [...parts('chilled_water'), ...parts('condenser_water'), powerName];
    const window: Window = [0.85, 1.18, Math.hypot(0.06, chilled.doubt, tower.doubt)];
    found.push(balance([tower.W, chilled.W + power], points, window, 'heat rejected beside cooling and power'));
  }
  return found;
}
