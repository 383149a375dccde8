/**
 * Point map of CH-1's controller (Modbus unit 1) and its power meter (unit 2). Only the plant reads this file; the
 * agent has the site file and nothing else. Lags and noise: common practice, no source.
 */
import type { UnitName } from '../../base/units.ts';
import type { ModbusPoint } from '../point-map.ts';
import {
  absolute,
  type Behaviour,
  BUNDLE,
  CURRENT,
  EXACT,
  FACTOR,
  FLOW,
  GAS,
  LEVEL,
  POSITION,
  POWER,
  SPEED,
  VANES,
  VOLTAGE,
  WATER,
  WELL,
} from './behaviours.ts';

const CONTROLLER = 1;
const METER = 2;

interface Place {
  readonly register: number;
  readonly unit: UnitName;
  readonly scale?: number;
  readonly offset?: number;
}

const PLAIN = { reference: null, span: null, resolution: 0, offset: 0, scale: 1 } as const;

/** A scaled signed integer in the controller's holding registers. */
function integer(name: string, behaviour: Behaviour, place: Place): ModbusPoint {
  return {
    name,
    bus: 'modbus',
    unitId: CONTROLLER,
    table: 'holding',
    type: 'int16',
    order: 'AB',
    ...PLAIN,
    ...place,
    ...behaviour,
  };
}
function unsigned(name: string, behaviour: Behaviour, place: Place): ModbusPoint {
  return { ...integer(name, behaviour, place), type: 'uint16' };
}
/** A float, high word first, in the controller's input registers. */
function float(name: string, behaviour: Behaviour, place: Place & { resolution?: number }): ModbusPoint {
  return {
    name,
    bus: 'modbus',
    unitId: CONTROLLER,
    table: 'input',
    type: 'float32',
    order: 'ABCD',
    ...PLAIN,
    ...place,
    ...behaviour,
  };
}
/** A float, low word first, in the power meter's input registers. */
function metered(name: string, behaviour: Behaviour, place: Place): ModbusPoint {
  return { ...float(name, behaviour, place), unitId: METER, order: 'CDAB' };
}

/** 0.5 % of span as standard uncertainty, noise a fifth of it. */
function transmitter(
  point: ModbusPoint,
  reference: NonNullable<ModbusPoint['reference']>,
  span: readonly [number, number],
  difference: UnitName,
): ModbusPoint {
  const u = 0.005 * (span[1] - span[0]);
  return { ...point, reference, span, uncertainty: absolute(u, difference), lag: 1, noise: u / 5 };
}

const TENTHS_F = { unit: 'degF', scale: 0.1 } as const;

export const CH1_POINTS: readonly ModbusPoint[] = [
  // controller, holding registers: scaled integers
  integer('chilled_water.entering_temperature', WATER, { register: 100, unit: 'degC', scale: 0.01 }),
  integer('chilled_water.leaving_temperature', WATER, { register: 101, unit: 'degC', scale: 0.01 }),
  integer('condenser_water.entering_temperature', WATER, { register: 102, unit: 'degC', scale: 0.01 }),
  integer('condenser_water.leaving_temperature', WATER, { register: 103, unit: 'degC', scale: 0.01 }),
  unsigned('chilled_water.flow', FLOW, { register: 104, unit: 'gpm' }),
  unsigned('condenser_water.flow', FLOW, { register: 105, unit: 'gpm' }),
  integer('chilled_water.pressure_drop', BUNDLE, { register: 106, unit: 'ftH2O', scale: 0.01 }),
  integer('condenser_water.pressure_drop', BUNDLE, { register: 107, unit: 'ftH2O', scale: 0.01 }),
  transmitter(
    integer('evaporator.pressure', EXACT, { register: 110, unit: 'psig', scale: 0.1 }),
    'vented_gauge',
    [0, 100],
    'delta_psi',
  ),
  transmitter(
    integer('condenser.pressure', EXACT, { register: 111, unit: 'psig', scale: 0.1 }),
    'sealed_gauge',
    [0, 200],
    'delta_psi',
  ),
  integer('condenser.liquid_temperature', WELL, { register: 112, ...TENTHS_F }),
  integer('main_compressor.suction_temperature', GAS, { register: 120, ...TENTHS_F }),
  integer('main_compressor.discharge_temperature', GAS, { register: 121, ...TENTHS_F }),
  integer('economizer_compressor.suction_temperature', GAS, { register: 122, ...TENTHS_F }),
  integer('economizer_compressor.discharge_temperature', GAS, { register: 123, ...TENTHS_F }),
  unsigned('main_compressor.vane_position', VANES, { register: 130, unit: '%', scale: 0.1 }),
  unsigned('main_compressor.speed', SPEED, { register: 131, unit: 'rpm' }),
  unsigned('economizer_compressor.vane_position', VANES, { register: 132, unit: '%', scale: 0.1 }),
  unsigned('economizer_compressor.speed', SPEED, { register: 133, unit: 'rpm' }),
  unsigned('unit.operating_mode', EXACT, { register: 140, unit: 'state' }),
  unsigned('unit.running', EXACT, { register: 141, unit: 'state' }),
  unsigned('main_compressor.running', EXACT, { register: 142, unit: 'state' }),
  unsigned('economizer_compressor.running', EXACT, { register: 143, unit: 'state' }),
  unsigned('main_compressor.starts', EXACT, { register: 144, unit: 'count' }),
  unsigned('economizer_compressor.starts', EXACT, { register: 145, unit: 'count' }),
  { ...unsigned('main_compressor.run_hours', EXACT, { register: 146, unit: 'h' }), type: 'uint32', order: 'ABCD' },
  {
    ...unsigned('economizer_compressor.run_hours', EXACT, { register: 148, unit: 'h' }),
    type: 'uint32',
    order: 'ABCD',
  },

  // controller, input registers: floats, high word first; two tenths-of-a-degree integers counted from -40 degC
  transmitter(
    float('flash_tank.pressure', EXACT, { register: 0, unit: 'kPa', resolution: 0.25 }),
    'absolute',
    [0, 1200],
    'delta_kPa',
  ),
  float('flash_tank.temperature', WELL, { register: 2, unit: 'degC' }),
  float('flash_tank.level', LEVEL, { register: 4, unit: '%', resolution: 0.1 }),
  float('flash_tank.level_setpoint', EXACT, { register: 6, unit: '%' }),
  float('condenser.level', LEVEL, { register: 8, unit: '%', resolution: 0.1 }),
  float('condenser.level_setpoint', EXACT, { register: 10, unit: '%' }),
  float('condenser_valve.position', POSITION, { register: 12, unit: '%', resolution: 0.1 }),
  float('condenser_valve.command', EXACT, { register: 14, unit: '%' }),
  float('tank_valve.position', POSITION, { register: 16, unit: '%', resolution: 0.1 }),
  float('tank_valve.command', EXACT, { register: 18, unit: '%' }),
  {
    ...integer(
      'outdoor.wet_bulb_temperature',
      { uncertainty: absolute(0.5, 'K'), lag: 60, noise: 0.05 },
      { register: 30, unit: 'degC', scale: 0.1, offset: -40 },
    ),
    table: 'input',
  },
  {
    ...integer(
      'outdoor.temperature',
      { uncertainty: absolute(0.3, 'K'), lag: 60, noise: 0.05 },
      { register: 31, unit: 'degC', scale: 0.1, offset: -40 },
    ),
    table: 'input',
  },

  // power meter, input registers: floats, low word first
  metered('unit.power', POWER, { register: 0, unit: 'kW' }),
  metered('main_compressor.power', POWER, { register: 2, unit: 'kW' }),
  metered('economizer_compressor.power', POWER, { register: 4, unit: 'kW' }),
  metered('main_compressor.current', CURRENT, { register: 6, unit: 'A' }),
  metered('economizer_compressor.current', CURRENT, { register: 8, unit: 'A' }),
  metered('main_compressor.voltage', VOLTAGE, { register: 10, unit: 'V' }),
  metered('main_compressor.power_factor', FACTOR, { register: 12, unit: '1' }),
];
