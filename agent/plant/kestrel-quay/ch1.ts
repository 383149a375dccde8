/**
 * CH-1 of Kestrel Quay, a fictional harbour-side district cooling plant: 1500 tons, R-134a, `parallel` arrangement. All
 * figures are the scenario's own; sizes are what such a machine would have (common practice, no source).
 */

import type { ControlParameters } from '../parallel-controls.ts';
import type { ParallelParameters } from '../parallel-parameters.ts';
import type { WorldParameters } from '../world.ts';
import { CH1_POINTS } from './ch1-points.ts';

const CHILLED_FLOW = 0.2271; // 3600 gpm
const CONDENSER_FLOW = 0.2839; // 4500 gpm

const MACHINE: ParallelParameters = {
  refrigerant: 'R134a',
  evaporator: { volume: 4, metal: 2.2e6, cover: 0.7 },
  condenser: { volume: 3.6, metal: 2.6e6, sumpCapacity: 0.9 },
  tank: { volume: 1.8, metal: 0.5e6 },
  filling: { evaporator: 278.3, tank: 293.2, condenser: 309, liquid: 305.5, evaporatorLiquid: 0.9 },
  mainCompressor: {
    designFlow: 1.86,
    designHead: 21_000,
    designSpeed: 6600 / 60,
    shutoff: 1.3,
    bestEfficiency: 0.836,
    bestFlow: 0.92,
    suctionDrop: 1500,
    dischargeDrop: 4000,
    drive: { designPower: 805e3, efficiency: 0.95, fixedLoss: 0.012 },
    casingLoss: 2500,
    voltage: 690,
    powerFactor: 0.95,
  },
  economizerCompressor: {
    designFlow: 0.132,
    designHead: 10_700,
    designSpeed: 14_800 / 60,
    shutoff: 1.3,
    bestEfficiency: 0.745,
    bestFlow: 0.92,
    suctionDrop: 2500,
    dischargeDrop: 4000,
    drive: { designPower: 55e3, efficiency: 0.93, fixedLoss: 0.012 },
    casingLoss: 500,
    voltage: 690,
    powerFactor: 0.9,
  },
  chilledWater: { conductance: 1.47e6, designFlow: CHILLED_FLOW, content: 1800, pressureDrop: 62e3 },
  condenserWater: { conductance: 1.4e6, designFlow: CONDENSER_FLOW, content: 2200, pressureDrop: 70e3 },
  subcoolerConductance: 57e3,
  condenserValveArea: 2.7e-3,
  tankValveArea: 2.9e-3,
  standstillArea: 4e-4,
  standstillConductance: 4000,
  valve: { rate: 0.02, resolution: 0.001, deadBand: 0.003 },
  drives: { rate: 0.01, resolution: 0.0005, deadBand: 0.0005 },
  motorLossToRefrigerant: 0.7,
  evaporatorAmbient: 140,
  condenserAmbient: 350,
  tankAmbient: 40,
  vapourLinePickUp: 500,
  auxiliaryPower: 2500,
  levelSetpoints: { condenser: 0.5, tank: 0.45 },
};

const CONTROLS: ControlParameters = {
  leavingChilledSetpoint: 279.82, // 44 degF
  capacity: { gain: 0.12, integralTime: 90, low: 0.15, high: 1.15, quiet: 0 },
  condenserLevel: { gain: 0.4, integralTime: 240, low: 0.05, high: 1, quiet: 0.008 },
  tankLevel: { gain: 0.7, integralTime: 300, low: 0.05, high: 1, quiet: 0.008 },
  tankPressure: { gain: 0.04, integralTime: 120, low: 0.1, high: 1.15, quiet: 0 },
  levelFilter: 8,
  tankShare: 0.46,
  staging: { loadOn: 0.57, loadOff: 0.51, liftOn: 20, liftOff: 17, leastTime: 1200 },
};

const WORLD: WorldParameters = {
  ratedTons: 1500,
  load: { mean: 0.72, swing: 0.24, second: 0.03, peakHour: 15.5 },
  wetBulb: { mean: 296.2, swing: 1.8, peakHour: 15 },
  tower: { approach: 1.6, loadApproach: 2.4, lowest: 294.3 },
  chilledFlow: CHILLED_FLOW,
  condenserFlow: CONDENSER_FLOW,
  loopContent: 90_000,
};

export const CH1 = {
  name: 'CH-1',
  machine: MACHINE,
  controls: CONTROLS,
  world: WORLD,
  points: CH1_POINTS,
  /** Counters as the machine stands at the start. */
  history: { starts: 412, economizerStarts: 655, runHours: 31_840, economizerRunHours: 27_115 },
} as const;
