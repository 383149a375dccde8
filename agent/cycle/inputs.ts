/**
 * The numbers one interval starts from: measured points and stated assumptions, each with its standard uncertainty, and
 * what they share.
 */
import type { Snapshot } from '../points/types.ts';
import { arrangementOf } from './arrangements/table.ts';
import type { MachineName } from './arrangements/type.ts';
import type { Input } from './interval.ts';
import { measured, risen, vesselsOf } from './measured.ts';
import type { ChillerParameters } from './parameters.ts';
import type { Cause } from './reconciliation/adjust.ts';
import type { Candidate } from './reconciliation/suspects.ts';
import type { EconomizerState } from './types.ts';

const WATER = ['entering_temperature', 'leaving_temperature', 'flow', 'pressure_drop'];
const ELECTRIC = ['power', 'current', 'voltage', 'power_factor'];
const MACHINES: readonly MachineName[] = ['main_compressor', 'economizer_compressor'];

/** Points the cycle computes from. Others in a snapshot are not looked at. */
export const CYCLE_POINTS: readonly string[] = [
  ...['chilled_water', 'condenser_water'].flatMap((side) => WATER.map((part) => `${side}.${part}`)),
  'evaporator.pressure',
  'condenser.pressure',
  'condenser.liquid_temperature',
  'flash_tank.pressure',
  'flash_tank.temperature',
  'flash_tank_2.pressure',
  'flash_tank_2.temperature',
  'economizer.pressure',
  'economizer.liquid_temperature',
  'economizer.vapour_temperature',
  'hot_gas_bypass.position',
  'main_compressor.suction_temperature',
  ...MACHINES.flatMap((name) => ['discharge_temperature', ...ELECTRIC].map((part) => `${name}.${part}`)),
  'economizer_compressor.running',
  'economizer.running',
  'unit.power',
];

/** Standard uncertainty (k = 1) of a drive efficiency, as a fraction of 1: common practice, no source. */
const DRIVE_UNCERTAINTY = 0.01;
/**
 * Part of a drive's rated losses that may stay when load falls, k = 1: what is not known of its efficiency at part
 * load. Common practice, no source.
 */
const LASTING_LOSS = 0.25;
/** Least part of rated power at which that is followed. */
const LEAST_LOAD = 0.1;
/** Of the stated auxiliary power, k = 1, relative: common practice, no source. */
const AUXILIARY_UNCERTAINTY = 0.25;
/** Of a stated loss to room or oil cooler, k = 1, relative: common practice, no source. */
const LOSS_UNCERTAINTY = 0.3;
/** Of power by amps x volts x power factor, relative, and at low load: common practice, no source. */
const VOLTS_AMPS_UNCERTAINTY = 0.06;
const VOLTS_AMPS_UNCERTAINTY_LOW_LOAD = 0.15;
const LOW_LOAD = 0.4;
/**
 * Rated power of a water-cooled centrifugal chiller over its rated capacity (0.6 kW/ton): common practice, no source.
 */
const TYPICAL_POWER = 0.17;
/**
 * The best tank pressure lies 1.04 times above the geometric mean at 5/37 degC (computed); +-0.1 is +-3 K of tank
 * temperature.
 */
const TANK_PRESSURE_FACTOR = { value: 1.04, u: 0.1 };
/** Difference of a matched pair of water sensors, k = 1, K: common practice, no source. */
const MATCHED_PAIR = 0.05;

export function inputsOf(snapshot: Snapshot, parameters: ChillerParameters): Input[] {
  const { main_compressor: main, economizer_compressor: economizer } = parameters;
  const assume = (name: string, value: number, u: number): Input => ({
    name: `assumed.${name}`,
    value,
    u,
    barometer: 0,
    random: 0,
    reason: null,
  });
  return [
    ...CYCLE_POINTS.filter((name) => name in snapshot.points).map((name) => measured(name, snapshot.points[name])),
    assume('main_compressor_efficiency', main.assumed_isentropic_efficiency, main.assumed_efficiency_uncertainty),
    assume(
      'economizer_compressor_efficiency',
      economizer.assumed_isentropic_efficiency,
      economizer.assumed_efficiency_uncertainty,
    ),
    assume(
      'main_compressor_drive',
      main.drive_efficiency,
      driveUncertainty(main.drive_efficiency, loadOf(snapshot, parameters)),
    ),
    assume(
      'economizer_compressor_drive',
      economizer.drive_efficiency,
      driveUncertainty(economizer.drive_efficiency, 1),
    ),
    assume('auxiliary_power', parameters.auxiliary_power, AUXILIARY_UNCERTAINTY * parameters.auxiliary_power),
    assume('suction_superheat', parameters.suction_superheat, parameters.suction_superheat_uncertainty),
    ...(['oil_cooler_heat', 'evaporator_heat_gain', 'condenser_heat_loss'] as const).map((name) =>
      assume(name, parameters[name], LOSS_UNCERTAINTY * parameters[name]),
    ),
    assume(
      'hot_gas_bypass_share',
      parameters.hot_gas_bypass?.full_share ?? 0,
      parameters.hot_gas_bypass?.uncertainty ?? 0,
    ),
    assume('subcooler_approach', parameters.subcooler.approach, parameters.subcooler.approach_uncertainty),
    assume('subcooler_superheat', parameters.subcooler.superheat, parameters.subcooler.superheat_uncertainty),
    assume('tank_pressure_factor', TANK_PRESSURE_FACTOR.value, TANK_PRESSURE_FACTOR.u),
    ...(['chilled_water_bundle', 'condenser_water_bundle'] as const).map((name) =>
      assume(name, 1, parameters[name]?.uncertainty ?? 0),
    ),
    ...MACHINES.map((name) => assume(`${name}_volts_amps`, 1, voltsAmpsUncertainty(name, snapshot, parameters))),
    ...vesselsOf(parameters).flatMap((name) => [
      risen(name, snapshot.points[`${name}.level`]),
      assume(`${name}_area`, 1, parameters.vessels[name]?.uncertainty ?? 0),
    ]),
  ];
}

/** At a part `load` of rated power. A drive given as lossless is meant to be. */
function driveUncertainty(efficiency: number, load: number): number {
  if (efficiency === 1) return 0;
  return Math.hypot(DRIVE_UNCERTAINTY, LASTING_LOSS * (1 - efficiency) * Math.max(0, 1 / load - 1));
}

/** Electrical power over what such a chiller takes at rated capacity; 1 where power is not measured. */
function loadOf(snapshot: Snapshot, parameters: ChillerParameters): number {
  const power = sound(snapshot, 'unit.power') ?? sound(snapshot, 'main_compressor.power');
  if (power === null || !Number.isFinite(power)) return 1;
  return Math.min(1, Math.max(LEAST_LOAD, power / (TYPICAL_POWER * parameters.rated_capacity)));
}

/** What is missing to 6 % (15 % at low load) beyond the three sensors' own uncertainties. */
function voltsAmpsUncertainty(name: MachineName, snapshot: Snapshot, parameters: ChillerParameters): number {
  const parts = ['current', 'voltage', 'power_factor'].map((part) => snapshot.points[`${name}.${part}`]);
  let power = Math.sqrt(3);
  let own = 0;
  for (const part of parts) {
    if (part === undefined || part.value === null || part.value === 0) return VOLTS_AMPS_UNCERTAINTY;
    power *= part.value;
    own += ((part.u ?? 0) / part.value) ** 2;
  }
  // the economizer compressor has no rating of its own here; it runs near its one load
  const low = name === 'main_compressor' && power < LOW_LOAD * TYPICAL_POWER * parameters.rated_capacity;
  const whole = low ? VOLTS_AMPS_UNCERTAINTY_LOW_LOAD : VOLTS_AMPS_UNCERTAINTY;
  const rest = Math.sqrt(Math.max(0, whole ** 2 - own));
  return Number.isFinite(rest) ? rest : whole;
}

/**
 * Independent causes; matched water pairs become a common part and one of the difference, and the barometer that gauges
 * share is one cause beside what is each one's own. What sensors have in common lasts; the scatter of an interval is
 * each one's own.
 */
export function causesOf(inputs: readonly Input[], parameters: ChillerParameters): Cause[] {
  const causes: Cause[] = [];
  const paired = new Set<number>();
  if (parameters.matched_water_sensors) {
    for (const side of ['chilled_water', 'condenser_water']) {
      const a = inputs.findIndex((input) => input.name === `${side}.entering_temperature`);
      const b = inputs.findIndex((input) => input.name === `${side}.leaving_temperature`);
      const [ua, ub] = [lasting(inputs[a]), lasting(inputs[b])];
      if (ua === 0 || ub === 0) continue;
      paired.add(a).add(b);
      causes.push(...pair(a, ua, b, ub));
      for (const at of [a, b]) {
        const { random } = inputs[at] as Input;
        if (random > 0) causes.push({ moves: new Map([[at, random]]), random: 1 });
      }
    }
  }
  const air = new Map<number, number>();
  inputs.forEach((input, index) => {
    if (!(input.u > 0) || input.reason !== null || paired.has(index)) return;
    if (input.barometer > 0) air.set(index, input.barometer);
    const own = Math.sqrt(input.u ** 2 - input.barometer ** 2);
    if (own > 0) causes.push({ moves: new Map([[index, own]]), random: Math.min(1, (input.random / own) ** 2) });
  });
  if (air.size > 0) causes.push({ moves: air, random: 0 });
  return causes;
}

/** What may be off: each uncertain input by itself, and the barometer that gauges share. */
export function candidatesOf(inputs: readonly Input[]): Candidate[] {
  const air = new Map<number, number>();
  const own = inputs.flatMap((input, at): Candidate[] => {
    if (!(input.u > 0) || input.reason !== null) return [];
    if (input.barometer > 0) air.set(at, input.barometer);
    return [{ name: input.name, error: new Map([[at, input.u]]) }];
  });
  return air.size < 2 ? own : [...own, { name: 'barometer', error: air }];
}

/** Two independent causes with var(a) = ua2, var(b) = ub2 and var(a - b) = MATCHED_PAIR2. */
function pair(a: number, ua: number, b: number, ub: number): Cause[] {
  const wanted = (ua ** 2 + ub ** 2 - MATCHED_PAIR ** 2) / 2;
  const covariance = Math.max(-ua * ub, Math.min(ua * ub, wanted));
  const rest = Math.sqrt(Math.max(0, ub ** 2 - (covariance / ua) ** 2));
  const both = new Map([
    [a, ua],
    [b, covariance / ua],
  ]);
  return [
    { moves: both, random: 0 },
    { moves: new Map([[b, rest]]), random: 0 },
  ];
}

/** Of an input's standard uncertainty, what is the same all through. */
function lasting(input: Input | undefined): number {
  return input === undefined ? 0 : Math.sqrt(Math.max(0, input.u ** 2 - input.random ** 2));
}

export interface Running {
  readonly economizer: EconomizerState;
  /** Points that told it. */
  readonly from: readonly string[];
  readonly doubt: string | null;
}

/** Share of rated capacity under which electrical power means 'stopped': common practice, no source. */
const IDLE_UNIT = 0.002;
const IDLE_ECONOMIZER = 0.0003;

function sound(snapshot: Snapshot, name: string): number | null {
  const point = snapshot.points[name];
  return point === undefined || point.quality === 'bad' || point.value === null || Number.isNaN(point.value)
    ? null
    : point.value;
}

/**
 * From the running point, else from its power; without either it is taken as running, and every figure that leans on
 * that is uncertain.
 */
export function economizerRunning(snapshot: Snapshot, parameters: ChillerParameters): Running {
  const { economizer: way } = arrangementOf(parameters);
  if (way === 'none') return { economizer: 'none', from: [], doubt: null };
  if (way === 'between_stages') return vapourLine(snapshot);
  const running = sound(snapshot, 'economizer_compressor.running');
  if (running !== null) {
    const economizer = running >= 0.5 ? 'on' : 'off';
    return { economizer, from: ['economizer_compressor.running'], doubt: null };
  }
  const power = sound(snapshot, 'economizer_compressor.power');
  if (power !== null) {
    const economizer = power > IDLE_ECONOMIZER * parameters.rated_capacity ? 'on' : 'off';
    return { economizer, from: ['economizer_compressor.power'], doubt: null };
  }
  return {
    economizer: 'unknown',
    from: [],
    doubt: 'no point says whether the economizer compressor runs: taken as running',
  };
}

/** Between two stages there is no machine to ask: only the vapour line's own point tells. */
function vapourLine(snapshot: Snapshot): Running {
  const open = sound(snapshot, 'economizer.running');
  if (open !== null) return { economizer: open >= 0.5 ? 'on' : 'off', from: ['economizer.running'], doubt: null };
  return {
    economizer: 'unknown',
    from: [],
    doubt: 'no point says whether the vapour line of the economizer is open: taken as open',
  };
}

/** Why the chiller stands still, or null. */
export function standstill(snapshot: Snapshot, parameters: ChillerParameters): string | null {
  for (const name of ['unit.running', 'main_compressor.running']) {
    const running = sound(snapshot, name);
    if (running !== null && running < 0.5) return 'the chiller is not running';
    if (running !== null) return null;
  }
  const power = sound(snapshot, 'unit.power') ?? sound(snapshot, 'main_compressor.power');
  return power !== null && power < IDLE_UNIT * parameters.rated_capacity ? 'the chiller is not running' : null;
}
