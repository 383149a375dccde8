/**
 * Faults of the water side and of the heat exchangers. Directions: Comstock, Braun & Groll, HVAC&R Research 7(3) 2001,
 * from memory, at equal load and equal water temperatures; checks: common practice, no source.
 */
import { down, type FaultEntry, look, still, up } from './fault.ts';

export const WATER_FAULTS = {
  fouled_condenser_tubes: {
    title: 'Fouled condenser tubes',
    tells: [
      look('condenser.approach', 'rises over weeks, most at high load; its liquid warms with it'),
      look('condenser.subcooling', 'rises less than the approach: the liquid warms with the pressure'),
      look('condenser_water.pressure_drop', 'as before, or higher at the same flow'),
      up('condenser.liquid_temperature', 0.7, 'rises with the condensing temperature, at the same water temperature'),
    ],
    checks: [
      'Compare water flow and entering temperature with design before the tubes are blamed.',
      'Compare the approach with that at the same load when the tubes were last cleaned.',
      'Water treatment log: blow-down, biocide, conductivity; strainer and tower basin.',
      'Plan to open a head and look into the tubes; eddy-current test while they are open.',
    ],
    cautions: ['pressure', 'lockout', 'water_reset'],
  },
  fouled_evaporator_tubes: {
    title: 'Fouled evaporator tubes',
    tells: [
      look('evaporator.approach', 'rises over months at the same load'),
      look('chilled_water.pressure_drop', 'higher at the same flow'),
      down('evaporator.saturation_temperature', 0.5, 'falls'),
    ],
    checks: [
      'Compare charge and oil first: both raise this approach sooner than dirt in a closed loop.',
      'Chilled-water strainer, and pressure drop over the bundle against design at the same flow.',
      'Water quality of the closed loop: iron, make-up metered.',
    ],
    cautions: ['tube_freeze', 'pressure', 'lockout'],
  },
  low_condenser_water_flow: {
    title: 'Low condenser water flow',
    tells: [
      down('condenser_water.flow', 0.01, 'falls'),
      up('condenser_water.leaving_temperature', 0.5, 'rises: less water takes the same heat'),
      still('condenser.approach', 0.7, 'hardly moves: the tubes are as good as they were'),
      down('condenser_water.pressure_drop', 3, 'falls with the flow'),
    ],
    checks: [
      'Condenser water pumps: running, direction, current, discharge pressure.',
      'Valves of this machine and of its neighbours, tower bypass, strainers.',
      'Pressure drop over the bundle against design at this flow; air in the high points.',
    ],
    cautions: ['lockout', 'restart'],
  },
  low_chilled_water_flow: {
    title: 'Low chilled water flow',
    tells: [
      down('chilled_water.flow', 0.01, 'falls'),
      look('chilled_water.entering_temperature', 'the difference over the evaporator widens at the same load'),
      down('evaporator.saturation_temperature', 0.5, 'falls'),
      down('chilled_water.pressure_drop', 3, 'falls with the flow'),
    ],
    checks: [
      'That water flows through the evaporator: flow switch and pressure drop, seen on site, before anything else.',
      'Chilled-water pumps, isolating valve of the machine, strainer; a staging that shares the flow out.',
      'Freeze and flow protection of the controller: tested, not bridged.',
    ],
    cautions: ['tube_freeze', 'lockout', 'restart'],
  },
  warm_condenser_water: {
    title: 'Warm condenser water',
    tells: [
      up('condenser_water.entering_temperature', 0.5, 'rises'),
      still('condenser.approach', 0.7, 'stays as it was'),
      look('outdoor.wet_bulb_temperature', 'hot and humid, or the tower does not follow it'),
    ],
    checks: [
      'Tower fans, their drives and belts; water distribution, fill, basin level.',
      'Tower set point and bypass valve; leaving tower water against wet bulb.',
    ],
    cautions: ['lockout', 'water_reset'],
  },
  cold_condenser_water: {
    title: 'Condenser water too cold',
    tells: [
      down('condenser_water.entering_temperature', 0.5, 'falls'),
      down('condenser.saturation_temperature', 0.5, 'falls with it: less pressure to drive liquid and oil'),
      look('main_compressor.lift', 'near or below the least that the maker gives'),
    ],
    checks: [
      'Tower bypass valve and fan control against the least entering temperature of the manual.',
      'Both level valves: they open wide at low pressure difference, and the liquid seal can be lost.',
      'Oil pressure and oil return at this lift.',
    ],
    cautions: ['water_reset', 'restart'],
  },
  pass_partition_leak: {
    title: 'Leak over the pass partition of a water box',
    tells: [
      look('condenser.approach', 'an approach rose at once after a head was opened, not over weeks'),
      look('condenser_water.pressure_drop', 'lower than design at the same flow'),
      look('chilled_water.pressure_drop', 'or that of the evaporator, where it is there'),
    ],
    checks: [
      'Maintenance log: was a head off shortly before it began?',
      'Pressure drop against flow, beside the record from before.',
      'Gasket and partition plate when the head is next off.',
    ],
    cautions: ['pressure', 'lockout', 'tube_freeze'],
  },
} as const satisfies Record<string, FaultEntry>;
