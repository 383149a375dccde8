/**
 * The points that can be measured on a water-cooled centrifugal chiller: name, dimension, unit on the wire, the
 * widest plausible range (in that unit) and the default standard uncertainty (k = 1). Ranges and uncertainties are
 * common practice, no source; Pt100 classes by IEC 60751 (tolerance / sqrt 3). Pressures default to 0.5 % of the
 * transmitter's span.
 */
import type { Dimension, UnitName } from '../base/units.ts';

/**
 * Standard uncertainty: `absolute` in the wire unit (as a difference), `relative` of the value, `of_span` of the
 * transmitter's span.
 */
export type DefaultUncertainty =
  | { readonly kind: 'absolute'; readonly value: number }
  | { readonly kind: 'relative'; readonly value: number }
  | { readonly kind: 'of_span'; readonly value: number }
  | { readonly kind: 'none' };

export interface PointDefinition {
  readonly dimension: Dimension;
  /** The catalogue's unit: wire, store, API. */
  readonly unit: UnitName;
  readonly low: number;
  readonly high: number;
  readonly uncertainty: DefaultUncertainty;
  readonly meaning: string;
}

const absolute = (value: number): DefaultUncertainty => ({ kind: 'absolute', value });
const relative = (value: number): DefaultUncertainty => ({ kind: 'relative', value });
const ofSpan = (value: number): DefaultUncertainty => ({ kind: 'of_span', value });
const exact: DefaultUncertainty = { kind: 'none' };

function temperature(meaning: string, u: number, low = -30, high = 120): PointDefinition {
  return { dimension: 'temperature', unit: 'degC', low, high, uncertainty: absolute(u), meaning };
}
function pressure(meaning: string): PointDefinition {
  return { dimension: 'pressure', unit: 'kPa', low: 1, high: 4000, uncertainty: ofSpan(0.005), meaning };
}
function fraction(meaning: string, u: DefaultUncertainty = absolute(0.03)): PointDefinition {
  return { dimension: 'fraction', unit: '1', low: -0.05, high: 1.05, uncertainty: u, meaning };
}
function power(meaning: string): PointDefinition {
  return { dimension: 'power', unit: 'kW', low: 0, high: 20_000, uncertainty: relative(0.01), meaning };
}
function state(meaning: string, high = 1): PointDefinition {
  return { dimension: 'state', unit: 'state', low: 0, high, uncertainty: exact, meaning };
}
function counter(meaning: string, unit: 'count' | 'h'): PointDefinition {
  return { dimension: unit === 'h' ? 'time' : 'count', unit, low: 0, high: 1e7, uncertainty: exact, meaning };
}

function water(side: string): Record<string, PointDefinition> {
  return {
    entering_temperature: temperature(`${side} entering the chiller`, 0.1, -10, 60),
    leaving_temperature: temperature(`${side} leaving the chiller`, 0.1, -10, 60),
    flow: {
      dimension: 'volume_flow',
      unit: 'm3/s',
      low: 0,
      high: 5,
      uncertainty: relative(0.03),
      meaning: `${side} flow`,
    },
    pressure_drop: {
      dimension: 'pressure_difference',
      unit: 'delta_kPa',
      low: 0,
      high: 500,
      uncertainty: relative(0.02),
      meaning: `${side} pressure drop over the bundle`,
    },
  };
}

function compressor(name: string): Record<string, PointDefinition> {
  return {
    suction_temperature: temperature(`${name} suction gas`, 0.7),
    discharge_temperature: temperature(`${name} discharge gas`, 0.7, -10, 150),
    power: power(`${name} electrical power`),
    current: {
      dimension: 'current',
      unit: 'A',
      low: 0,
      high: 5000,
      uncertainty: relative(0.02),
      meaning: `${name} motor current`,
    },
    voltage: {
      dimension: 'voltage',
      unit: 'V',
      low: 0,
      high: 15_000,
      uncertainty: relative(0.01),
      meaning: `${name} line voltage`,
    },
    power_factor: {
      dimension: 'fraction',
      unit: '1',
      low: 0,
      high: 1,
      uncertainty: relative(0.03),
      meaning: `${name} power factor`,
    },
    speed: {
      dimension: 'speed',
      unit: 'rpm',
      low: 0,
      high: 60_000,
      uncertainty: relative(0.002),
      meaning: `${name} speed`,
    },
    vane_position: fraction(`${name} inlet guide vane position`),
    running: state(`${name} running (1) or not (0)`),
    starts: counter(`${name} starts`, 'count'),
    run_hours: counter(`${name} run hours`, 'h'),
  };
}

function prefixed(component: string, points: Record<string, PointDefinition>): Record<string, PointDefinition> {
  return Object.fromEntries(Object.entries(points).map(([name, point]) => [`${component}.${name}`, point]));
}

/** Every point by its name `<component>.<quantity>`. */
export const POINTS: Readonly<Record<string, PointDefinition>> = {
  ...prefixed('chilled_water', water('chilled water')),
  ...prefixed('condenser_water', water('condenser water')),
  'evaporator.pressure': pressure('evaporator pressure'),
  'condenser.pressure': pressure('condenser pressure'),
  'condenser.liquid_temperature': temperature('liquid leaving the condenser, before the condenser valve', 0.3),
  'condenser.level': fraction('condenser liquid level'),
  'condenser.level_setpoint': fraction('condenser liquid level set point', exact),
  'flash_tank.pressure': pressure('flash tank pressure'),
  'flash_tank.temperature': temperature('flash tank temperature', 0.3),
  'flash_tank.level': fraction('flash tank liquid level'),
  'flash_tank.level_setpoint': fraction('flash tank liquid level set point', exact),
  'condenser_valve.position': fraction('condenser valve position', absolute(0.01)),
  'condenser_valve.command': fraction('condenser valve command', exact),
  'tank_valve.position': fraction('tank valve position', absolute(0.01)),
  'tank_valve.command': fraction('tank valve command', exact),
  ...prefixed('main_compressor', compressor('main compressor')),
  ...prefixed('economizer_compressor', compressor('economizer compressor')),
  'flash_tank_2.pressure': pressure('second flash tank pressure'),
  'flash_tank_2.temperature': temperature('second flash tank temperature', 0.3),
  'flash_tank_2.level': fraction('second flash tank liquid level'),
  'flash_tank_2.level_setpoint': fraction('second flash tank liquid level set point', exact),
  'tank_valve_2.position': fraction('second tank valve position', absolute(0.01)),
  'tank_valve_2.command': fraction('second tank valve command', exact),
  'economizer.running': state("the economizer's vapour joins between stages (1) or its line is closed (0)"),
  'economizer.pressure': pressure('subcooler pressure, on the side that boils off'),
  'economizer.liquid_temperature': temperature('liquid leaving the subcooler', 0.3),
  'economizer.vapour_temperature': temperature('vapour leaving the subcooler', 0.7),
  'hot_gas_bypass.position': fraction('position of the hot-gas bypass valve', absolute(0.01)),
  'economizer_valve.position': fraction('position of the valve that feeds the subcooler', absolute(0.01)),
  'economizer_valve.command': fraction('command of the valve that feeds the subcooler', exact),
  'unit.power': power('electrical power of the chiller, without pumps and tower'),
  'unit.running': state('chiller running (1) or not (0)'),
  'unit.operating_mode': state('operating mode as the controller numbers it', 65_535),
  'oil.supply_pressure': pressure('oil supply pressure'),
  'oil.sump_temperature': temperature('oil sump temperature', 1),
  'oil.supply_temperature': temperature('oil supply temperature', 1),
  'refrigerant_detector.alarm': state('refrigerant detector of the machinery room: alarm (1) or none (0)'),
  'purge.run_time': counter('purge run time', 'h'),
  'outdoor.temperature': temperature('outdoor temperature', 0.3, -50, 60),
  'outdoor.wet_bulb_temperature': temperature('outdoor wet bulb temperature', 0.5, -50, 50),
};

export type PointName = string;

export function isPoint(name: string): boolean {
  return Object.hasOwn(POINTS, name);
}

/** A liquid level, whose rise over an interval is worth knowing. */
export function isLevel(name: string): boolean {
  return LEVEL.test(name) && isPoint(name);
}

const LEVEL = /^[a-z0-9_]+\.level$/;

export function pointDefinition(name: PointName): PointDefinition {
  const definition = POINTS[name];
  if (definition === undefined) throw new Error(`no point named ${name}`);
  return definition;
}
