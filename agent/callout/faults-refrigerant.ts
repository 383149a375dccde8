/**
 * Faults of charge, gas and liquid. Both valves hold the level upstream of them, so charge that is missing is missing
 * from the evaporator: its approach rises early while subcooling stays. This differs from the published tables, which
 * are for other metering devices (Comstock, Braun & Groll 2001). Checks: common practice, no source.
 */
import { above, below, down, type FaultEntry, look, still, up } from './fault.ts';

export const REFRIGERANT_FAULTS = {
  non_condensables: {
    title: 'Air or other gas in the condenser',
    tells: [
      up('condenser.subcooling', 0.7, 'seems to rise: the gas adds pressure, the liquid stays as cool'),
      still('condenser.liquid_temperature', 0.7, 'stays, while the pressure rises'),
      look('condenser.approach', 'seems to rise'),
      up('purge.run_time', 0.2, 'the purge runs more'),
      look('condenser.pressure', 'at a long standstill above the saturation pressure of the liquid: that settles it'),
    ],
    checks: [
      'At the next stop: let it equalise, compare condenser pressure with the saturation pressure at its temperature.',
      'Purge unit: running, its run time and its pump-outs; on low-pressure machines find the leak that lets air in.',
      'Compare the liquid temperature sensor with a calibrated one: a sensor that reads low looks the same.',
    ],
    cautions: ['refrigerant', 'pressure'],
  },
  undercharge: {
    title: 'Refrigerant missing',
    tells: [
      up('evaporator.approach', 0.5, 'rises early: what is missing is missing there'),
      still('condenser.subcooling', 1, 'stays, as long as the condenser valve holds its level'),
      up('main_compressor.suction_superheat', 1, 'rises once tubes stand dry'),
      down('evaporator.pressure', 5, 'falls at the same load'),
    ],
    checks: [
      'Look for the leak before anything is added: detector readings, oil stains, flanges, relief valves, purge log.',
      'Evaporator sight glass against that of the same load before; water in both vessels.',
      'Oil: excess oil in the evaporator looks alike; compare sump level and oil return.',
      'Weigh what is added and write it into the maintenance log.',
    ],
    cautions: ['refrigerant', 'tube_freeze'],
  },
  overcharge: {
    title: 'Too much refrigerant',
    tells: [
      down('main_compressor.discharge_superheat', 1.5, 'falls: liquid is carried to the compressor'),
      below('main_compressor.suction_superheat', -0.5, 'none'),
      look('evaporator.approach', 'as before or smaller'),
      look('condenser.level', 'high although its valve is open'),
    ],
    checks: [
      'Maintenance log: was refrigerant added, and weighed?',
      'Evaporator sight glass: level above the tubes, foam to the eliminators.',
      'Compare with a level transmitter that drifted before anything is taken out.',
    ],
    cautions: ['refrigerant', 'tube_freeze'],
  },
  excess_oil: {
    title: 'Oil in the evaporator',
    tells: [
      up('evaporator.approach', 0.5, 'rises slowly'),
      down('main_compressor.discharge_superheat', 1.5, 'falls'),
      look('oil.sump_temperature', 'moves: the sump gives away its oil'),
    ],
    checks: [
      'Oil level in the sump over the last weeks; oil added?',
      'Oil return: eductor, filter, its sight glass; low lift keeps it from working.',
      'Refrigerant sample for oil, by weight.',
    ],
    cautions: ['refrigerant', 'water_reset'],
  },
  lost_liquid_seal: {
    title: 'Liquid seal lost: gas passes a level valve',
    economizer: true,
    tells: [
      below('condenser.level', 0.1, 'near empty'),
      below('condenser.subcooling', 0.5, 'gone'),
      above('condenser_valve.position', 0.95, 'the condenser valve stands wide open'),
      up('flash_tank.pressure', 10, 'rises: hot gas arrives in the tank'),
    ],
    checks: [
      'Condenser level in its sight glass against the transmitter.',
      'Condenser valve: command, position and stem, seen on site; does it close?',
      'Lift against the least of the manual: at low lift the valve opens until the seal is lost.',
    ],
    cautions: ['refrigerant', 'water_reset'],
  },
  liquid_carry_over: {
    title: 'Liquid carried into the economizer compressor or the second stage',
    economizer: true,
    tells: [
      below('economizer_compressor.suction_quality', 0.99, 'below 1: its discharge is too cold for dry vapour'),
      down('economizer_compressor.discharge_superheat', 1.5, 'falls'),
      above('flash_tank.level', 0.75, 'tank level high'),
      look('economizer_compressor.isentropic_efficiency', 'seems too good: 1 % of liquid makes about 8 points'),
    ],
    checks: [
      'Tank level in its sight glass; the tank valve must open further than it does.',
      'Listen to the economizer compressor; thrust and vibration readings.',
      'Tank mist eliminator, and the tank level set point.',
    ],
    cautions: ['refrigerant', 'restart', 'lockout'],
  },
} as const satisfies Record<string, FaultEntry>;
