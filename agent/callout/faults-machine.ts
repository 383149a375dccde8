/**
 * Faults of valves, compressors, sensors and of the way to the controller. Checks: common practice, no source.
 * Efficiencies from a discharge temperature move 3 points for 1 K: judge their drift, not the figure.
 */
import { above, below, down, type FaultEntry, look, up } from './fault.ts';

export const MACHINE_FAULTS = {
  condenser_valve: {
    title: 'Condenser valve sticks or hunts',
    tells: [
      above('condenser_valve.hunting_index', 0.5, 'the condenser level swings regularly'),
      look('condenser_valve.position', 'stays behind its command, then jumps'),
      look('condenser.level', 'away from its set point while the valve is not at its end'),
    ],
    checks: [
      'Command against position, stroke by stroke, with the stem in sight.',
      'Actuator: linkage, packing, supply air or 24 V, feedback scaled right.',
      'Loop tuning only after friction is ruled out; the other loop, vanes and tower may drive it.',
    ],
    cautions: ['lockout', 'pressure'],
  },
  tank_valve: {
    title: 'Tank valve sticks or hunts',
    economizer: true,
    tells: [
      above('tank_valve.hunting_index', 0.5, 'the tank level swings regularly'),
      look('tank_valve.position', 'stays behind its command, then jumps'),
      look('flash_tank.level', 'away from its set point while the valve is not at its end'),
    ],
    checks: [
      'Command against position, stroke by stroke, with the stem in sight.',
      'Actuator: linkage, packing, supply air or 24 V, feedback scaled right.',
      'Whether the condenser valve swings first: it feeds this one.',
    ],
    cautions: ['lockout', 'pressure'],
  },
  tank_valve_2: {
    title: 'Second tank valve sticks or hunts',
    economizer: true,
    tells: [
      above('tank_valve_2.hunting_index', 0.5, 'the level of the second tank swings regularly'),
      look('tank_valve_2.position', 'stays behind its command, then jumps'),
      look('flash_tank_2.level', 'away from its set point while the valve is not at its end'),
    ],
    checks: [
      'Command against position, stroke by stroke, with the stem in sight.',
      'Actuator: linkage, packing, supply air or 24 V, feedback scaled right.',
      'Whether the first tank valve swings first: it feeds this one.',
    ],
    cautions: ['lockout', 'pressure'],
  },
  economizer_off: {
    title: 'Economizer off',
    economizer: true,
    tells: [
      above('economizer.missed_saving', 0, 'what it would save now is above nothing'),
      look('economizer_compressor.running', 'its compressor stands while the main one runs'),
    ],
    checks: [
      'Why: the controller’s own message, a manual switch, a trip, a load or lift below its staging limit.',
      'Vapour line valve: open? Oil and motor of the economizer compressor before a restart.',
    ],
    cautions: ['lockout', 'restart'],
  },
  economizer_compressor_degraded: {
    title: 'Economizer compressor degraded',
    economizer: true,
    tells: [
      down('economizer_compressor.isentropic_efficiency', 0.04, 'falls'),
      up('economizer_compressor.discharge_superheat', 1.5, 'its discharge is hotter at the same pressures'),
      up('economizer_compressor.power_share', 0.008, 'takes a larger share of the power'),
    ],
    checks: [
      'Its discharge temperature sensor against a calibrated one: 1 K is 3 points.',
      'Vane position against command; speed; suction strainer; bypass or check valve that leaks back.',
      'Vibration and oil analysis.',
    ],
    cautions: ['lockout', 'restart', 'pressure'],
  },
  main_compressor_degraded: {
    title: 'Main compressor degraded',
    tells: [
      down('main_compressor.isentropic_efficiency', 0.04, 'falls at the same load and lift'),
      up('main_compressor.discharge_superheat', 1.5, 'its discharge is hotter at the same pressures'),
      look('main_compressor.vane_position', 'further open than before for the same load'),
    ],
    checks: [
      'Discharge temperature sensor against a calibrated one: 1 K is 3 points.',
      'Vanes: command, position, linkage; speed; check valve and hot-gas valve shut.',
      'Vibration, oil analysis, bearing temperatures.',
    ],
    cautions: ['lockout', 'restart', 'pressure'],
  },
  surge: {
    title: 'Surge, or near it',
    tells: [
      below('main_compressor.surge_margin', 0.05, 'margin used up'),
      up('main_compressor.lift', 1, 'the lift rose'),
      look('main_compressor.current', 'swings within seconds: averages of a minute hide it'),
    ],
    checks: [
      'Listen; motor current and discharge pressure on the panel, second by second; the controller’s surge counter.',
      'What raised the lift: water flows, tower, tubes, air in the condenser.',
      'Vanes and hot-gas valve at low load.',
    ],
    cautions: ['restart', 'lockout', 'rotating'],
  },
  low_load_cycling: {
    title: 'Cycling at low load',
    tells: [
      up('unit.starts', 1, 'starts add up'),
      below('unit.load_fraction', 0.25, 'load below what the machine turns down to'),
      look('chilled_water.leaving_temperature', 'saws round its set point'),
    ],
    checks: [
      'Staging: would a smaller machine, or one fewer, carry this load?',
      'Least load of the manual; hot-gas bypass, vanes, restart timer.',
      'Restarts against the limit of motor and drive.',
    ],
    cautions: ['restart', 'tube_freeze', 'water_reset'],
  },
  hot_gas_bypass_open: {
    title: 'Hot-gas bypass open',
    tells: [
      up('main_compressor.suction_superheat', 1.5, 'rises: hot gas reaches the suction'),
      up('main_compressor.discharge_superheat', 1.5, 'rises with it'),
      look('unit.capacity', 'less for the same vanes and power'),
    ],
    checks: [
      'Hot-gas valve: command, position, and whether its line is hot behind a closed valve.',
      'Controller: surge protection or low-load setting that holds it open.',
    ],
    cautions: ['pressure', 'lockout'],
  },
  sensor_drift: {
    title: 'A sensor that reads wrong',
    tells: [],
    checks: [
      'Compare the sensors of this figure with a calibrated instrument, at the same place, before anything is opened.',
      'Wells: depth, paste, strap; wiring, range and scale in the site file; panel reading against that of the agent.',
      'The next standstill: equalised pressures and temperatures show it without tools.',
    ],
    cautions: ['pressure'],
  },
  load_or_setting: {
    title: 'Load, set point or staging, not the machine',
    tells: [
      look('unit.load_fraction', 'load outside what the machine is made for'),
      look('chilled_water.entering_temperature', 'moved before the machine did'),
    ],
    checks: [
      'Set points and staging on the panel and in the building system: changed lately, by whom?',
      'Other machines of the plant: do they carry their share?',
    ],
    cautions: ['water_reset', 'tube_freeze'],
  },
  oil_supply: {
    title: 'Oil supply',
    tells: [
      down('oil.supply_pressure', 10, 'falls'),
      up('oil.supply_temperature', 3, 'warmer: cooler or flow'),
      look('oil.sump_temperature', 'cold oil holds refrigerant and foams'),
    ],
    checks: [
      'Oil level, filter pressure drop, cooler water, heater; oil pump current.',
      'No restart before the cause is known: bearings do not forgive it.',
    ],
    cautions: ['restart', 'lockout', 'refrigerant'],
  },
  controller_silent: {
    title: 'The controller does not answer',
    tells: [],
    checks: [
      'The panel: alive, without its own alarm? The machine is not watched while this lasts.',
      'Cable, switch and gateway; address, unit number or device instance; another client that holds its connections.',
      'From the agent’s machine: `tonhour check --config FILE`.',
    ],
    cautions: ['lockout'],
  },
} as const satisfies Record<string, FaultEntry>;
