/** The true SI values behind the points that all arrangements have. */
import type { Circuit } from './circuit.ts';
import type { Compressor } from './compressor.ts';
import { MODE, type Sequence } from './sequence.ts';
import type { World } from './world.ts';

export type Readings = Record<string, () => number>;

/** `main`: the compressor whose turning is the unit's. */
export function circuitReadings(circuit: Circuit, world: World, sequence: Sequence, main: Compressor): Readings {
  const { evaporator, tank, sump, chilledWater, condenserWater, condenserValve, tankValve } = circuit;
  const setpoints = circuit.parameters.levelSetpoints;
  return {
    'chilled_water.entering_temperature': () => chilledWater.entering,
    'chilled_water.leaving_temperature': () => chilledWater.leaving,
    'chilled_water.flow': () => chilledWater.volumeFlow,
    'chilled_water.pressure_drop': () => chilledWater.pressureDrop,
    'condenser_water.entering_temperature': () => condenserWater.entering,
    'condenser_water.leaving_temperature': () => condenserWater.leaving,
    'condenser_water.flow': () => condenserWater.volumeFlow,
    'condenser_water.pressure_drop': () => condenserWater.pressureDrop,
    'evaporator.pressure': () => evaporator.p,
    'condenser.pressure': () => circuit.condenserPressure,
    'condenser.liquid_temperature': () => sump.T,
    'condenser.level': () => circuit.condenserLevel,
    'condenser.level_setpoint': () => setpoints.condenser,
    'flash_tank.pressure': () => tank.p,
    'flash_tank.temperature': () => tank.saturation.T,
    'flash_tank.level': () => circuit.tankLevel,
    'flash_tank.level_setpoint': () => setpoints.tank,
    'condenser_valve.position': () => condenserValve.position,
    'condenser_valve.command': () => condenserValve.command,
    'tank_valve.position': () => tankValve.position,
    'tank_valve.command': () => tankValve.command,
    'unit.power': () => circuit.unitPower,
    'unit.running': () => (main.running ? 1 : 0),
    'unit.operating_mode': () => MODE[sequence.mode],
    'outdoor.temperature': () => world.dryBulb,
    'outdoor.wet_bulb_temperature': () => world.wetBulb,
  };
}
