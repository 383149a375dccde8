/**
 * Point map of CH-2's controller, a BACnet device whose power meter is wired to it. Only the plant reads this file; the
 * agent has the site file and nothing else. Lags and noise: common practice, no source.
 */
import type { UnitName } from '../../base/units.ts';
import type { BacnetObject, BacnetPoint, ObjectKind } from '../point-map.ts';
import {
  absolute,
  type Behaviour,
  BUNDLE,
  CURRENT,
  EXACT,
  FLOW,
  GAS,
  LEVEL,
  POSITION,
  POWER,
  SPEED,
  VANES,
  WATER,
  WELL,
} from './behaviours.ts';

const OUTDOOR: Behaviour = { uncertainty: absolute(0.4, 'K'), lag: 60, noise: 0.05 };
/** 0.5 % of span as standard uncertainty (k = 1), noise a fifth of it. */
const transmitter = (u: number): Behaviour => ({ uncertainty: absolute(u, 'delta_kPa'), lag: 1, noise: u / 5 });

interface Place {
  readonly unit: UnitName;
  readonly resolution?: number;
  readonly reference?: BacnetPoint['reference'];
  readonly span?: BacnetPoint['span'];
  readonly cov?: number;
  readonly states?: readonly string[];
}

/** Kind and instance, name and description of the object, as the device shows them. */
type Shown = readonly [kind: ObjectKind, instance: number, objectName: string, description: string];

function point(name: string, shown: Shown, behaviour: Behaviour, place: Place): BacnetPoint {
  const [kind, instance, objectName, description] = shown;
  const object: BacnetObject = {
    kind,
    instance,
    objectName,
    description,
    covIncrement: place.cov ?? 0,
    states: place.states ?? [],
  };
  const { unit, resolution = 0, reference = null, span = null } = place;
  const type = kind.startsWith('analog') ? 'float32' : 'uint32';
  return { name, bus: 'bacnet', object, type, unit, resolution, reference, span, scale: 1, offset: 0, ...behaviour };
}

function input(name: string, shown: [number, string, string], behaviour: Behaviour, place: Place): BacnetPoint {
  return point(name, ['analog-input', ...shown], behaviour, place);
}
function value(name: string, shown: [number, string, string], behaviour: Behaviour, place: Place): BacnetPoint {
  return point(name, ['analog-value', ...shown], behaviour, place);
}
function binary(name: string, shown: [number, string, string]): BacnetPoint {
  return point(name, ['binary-input', ...shown], EXACT, { unit: 'state' });
}

const TENTHS = { unit: 'degF', resolution: 0.1, cov: 0.2 } as const;
const HUNDREDTHS = { unit: 'degF', resolution: 0.01, cov: 0.1 } as const;
const PERCENT = { unit: '%', resolution: 0.1, cov: 0.5 } as const;

/** Present values of `unit.operating_mode`, from 1. */
export const MODES = ['Off', 'Starting', 'Running', 'Stopping'] as const;

export const CH2_POINTS: readonly BacnetPoint[] = [
  input('chilled_water.entering_temperature', [1, 'CHW-EWT', 'Chilled water entering'], WATER, HUNDREDTHS),
  input('chilled_water.leaving_temperature', [2, 'CHW-LWT', 'Chilled water leaving'], WATER, HUNDREDTHS),
  input('condenser_water.entering_temperature', [3, 'CDW-EWT', 'Condenser water entering'], WATER, HUNDREDTHS),
  input('condenser_water.leaving_temperature', [4, 'CDW-LWT', 'Condenser water leaving'], WATER, HUNDREDTHS),
  input('chilled_water.flow', [5, 'CHW-FLOW', 'Chilled water flow'], FLOW, { unit: 'gpm', resolution: 1, cov: 20 }),
  input('condenser_water.flow', [6, 'CDW-FLOW', 'Condenser water flow'], FLOW, { unit: 'gpm', resolution: 1, cov: 20 }),
  input('chilled_water.pressure_drop', [7, 'CHW-DP', 'Evaporator bundle pressure drop'], BUNDLE, {
    unit: 'delta_psi',
    resolution: 0.01,
    cov: 0.1,
  }),
  // A compound gauge in vacuum, open to the room; an absolute cell; a gauge cell sealed at the works.
  input('evaporator.pressure', [11, 'EVAP-VAC', 'Evaporator vacuum'], transmitter(0.68), {
    unit: 'inHg_vac',
    resolution: 0.01,
    reference: 'vented_gauge',
    span: [-10, 30],
    cov: 0.1,
  }),
  input('flash_tank.pressure', [12, 'ECON-P', 'Economizer tank pressure'], transmitter(1.03), {
    unit: 'psia',
    resolution: 0.01,
    reference: 'absolute',
    span: [0, 30],
    cov: 0.1,
  }),
  input('condenser.pressure', [13, 'COND-P', 'Condenser pressure'], transmitter(1.72), {
    unit: 'psig',
    resolution: 0.01,
    reference: 'sealed_gauge',
    span: [-15, 35],
    cov: 0.1,
  }),
  input('condenser.liquid_temperature', [14, 'COND-LIQ-T', 'Liquid leaving condenser'], WELL, TENTHS),
  input('flash_tank.temperature', [15, 'ECON-T', 'Economizer tank'], WELL, TENTHS),
  input('main_compressor.suction_temperature', [16, 'SUCT-T', 'First-stage suction gas'], GAS, TENTHS),
  input('main_compressor.discharge_temperature', [17, 'DISCH-T', 'Second-stage discharge gas'], GAS, TENTHS),
  input('condenser.level', [21, 'COND-LVL', 'Condenser liquid level'], LEVEL, PERCENT),
  input('flash_tank.level', [22, 'ECON-LVL', 'Economizer tank liquid level'], LEVEL, PERCENT),
  input('condenser_valve.position', [23, 'COND-VLV-POS', 'Condenser level valve position'], POSITION, PERCENT),
  input('tank_valve.position', [24, 'ECON-VLV-POS', 'Economizer level valve position'], POSITION, PERCENT),
  input('main_compressor.vane_position', [25, 'IGV-POS', 'Inlet guide vanes'], VANES, PERCENT),
  input('main_compressor.speed', [26, 'COMP-SPEED', 'Compressor speed'], SPEED, {
    unit: 'rpm',
    resolution: 1,
    cov: 20,
  }),
  input('unit.power', [31, 'KW', 'Chiller power'], POWER, { unit: 'kW', resolution: 0.1, cov: 2 }),
  input('main_compressor.current', [32, 'AMPS', 'Motor current'], CURRENT, { unit: 'A', resolution: 0.1, cov: 2 }),
  input('outdoor.temperature', [41, 'OA-T', 'Outdoor air'], OUTDOOR, TENTHS),
  input('outdoor.wet_bulb_temperature', [42, 'OA-WB', 'Outdoor wet bulb'], OUTDOOR, TENTHS),

  value('condenser.level_setpoint', [101, 'COND-LVL-SP', 'Condenser level set point'], EXACT, PERCENT),
  value('flash_tank.level_setpoint', [102, 'ECON-LVL-SP', 'Economizer tank level set point'], EXACT, PERCENT),
  value('condenser_valve.command', [103, 'COND-VLV-CMD', 'Condenser level valve command'], EXACT, PERCENT),
  value('tank_valve.command', [104, 'ECON-VLV-CMD', 'Economizer level valve command'], EXACT, PERCENT),
  value('main_compressor.starts', [111, 'STARTS', 'Compressor starts'], EXACT, { unit: 'count', cov: 1 }),
  value('main_compressor.run_hours', [112, 'RUN-HOURS', 'Compressor run hours'], EXACT, { unit: 'h', cov: 1 }),

  binary('unit.running', [1, 'RUN', 'Chiller running']),
  binary('main_compressor.running', [2, 'COMP-RUN', 'Compressor running']),
  point('economizer.running', ['binary-value', 1, 'ECON-VAP-VLV', 'Economizer vapour line valve open'], EXACT, {
    unit: 'state',
  }),
  point('unit.operating_mode', ['multi-state-value', 1, 'MODE', 'Operating mode'], EXACT, {
    unit: 'state',
    states: MODES,
  }),
];

export const CH2_DEVICE = {
  instance: 2002,
  name: 'CH-2',
  model: 'Chiller controller of the scenario',
  description: 'Chiller 2, Kestrel Quay',
  vendor: 'Kestrel Quay',
} as const;

/** An object of the controller that no point of the dictionary stands for; `reading` names what it shows, in SI. */
export interface UnmappedObject {
  readonly object: BacnetObject;
  readonly unit: UnitName;
  readonly reading: string;
}

const bare = { covIncrement: 0, states: [] } as const;

export const CH2_UNMAPPED: readonly UnmappedObject[] = [
  {
    object: {
      kind: 'analog-value',
      instance: 121,
      objectName: 'CHW-LWT-SP',
      description: 'Leaving chilled water set point',
      ...bare,
    },
    unit: 'degF',
    reading: 'chilled_water.leaving_setpoint',
  },
];
