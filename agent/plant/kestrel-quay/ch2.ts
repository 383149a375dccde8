/**
 * CH-2 of Kestrel Quay, a fictional harbour-side district cooling plant: 900 tons, R-1233zd(E), `interstage`
 * arrangement, evaporator in vacuum. All figures are the scenario's own; sizes are what such a machine would have
 * (common practice, no source).
 */
import type { InterstageControlParameters } from '../interstage-controls.ts';
import type { InterstageParameters } from '../interstage-parameters.ts';
import type { WorldParameters } from '../world.ts';
import { CH2_POINTS } from './ch2-points.ts';

const CHILLED_FLOW = 0.1363; // 2160 gpm
const CONDENSER_FLOW = 0.1703; // 2700 gpm
/** Each stage carries half of the one motor. */
const HALF_DRIVE = { designPower: 252e3, efficiency: 0.945, fixedLoss: 0.014 };
const SHAFT = 5200 / 60;

const MACHINE: InterstageParameters = {
  refrigerant: 'R1233zdE',
  evaporator: { volume: 4.2, metal: 1.7e6, cover: 0.64 },
  condenser: { volume: 3.8, metal: 1.9e6, sumpCapacity: 0.55 },
  tank: { volume: 1.4, metal: 0.45e6 },
  filling: { evaporator: 278.3, tank: 293.2, condenser: 309.5, liquid: 306, evaporatorLiquid: 0.75 },
  firstStage: {
    designFlow: 5.15,
    designHead: 10_900,
    designSpeed: SHAFT,
    shutoff: 1.3,
    bestEfficiency: 0.822,
    bestFlow: 0.92,
    suctionDrop: 350,
    dischargeDrop: 250,
    drive: HALF_DRIVE,
    casingLoss: 900,
    voltage: 460,
    powerFactor: 0.93,
  },
  secondStage: {
    designFlow: 3.3,
    designHead: 11_200,
    designSpeed: SHAFT,
    shutoff: 1.3,
    bestEfficiency: 0.82,
    bestFlow: 0.92,
    suctionDrop: 250,
    dischargeDrop: 1100,
    drive: HALF_DRIVE,
    casingLoss: 900,
    voltage: 460,
    powerFactor: 0.93,
  },
  chilledWater: { conductance: 0.9e6, designFlow: CHILLED_FLOW, content: 1200, pressureDrop: 54e3 },
  condenserWater: { conductance: 0.86e6, designFlow: CONDENSER_FLOW, content: 1500, pressureDrop: 61e3 },
  subcoolerConductance: 29e3,
  condenserValveArea: 2.9e-3,
  tankValveArea: 3.5e-3,
  standstillArea: 1.5e-3,
  standstillConductance: 3000,
  vapourLineArea: 11e-3,
  valve: { rate: 0.02, resolution: 0.001, deadBand: 0.003 },
  vapourValve: { rate: 0.02, resolution: 0.01, deadBand: 0.005 },
  drives: { rate: 0.01, resolution: 0.0005, deadBand: 0.0005 },
  motorLossToRefrigerant: 0.8,
  evaporatorAmbient: 110,
  condenserAmbient: 260,
  tankAmbient: 30,
  vapourLinePickUp: 300,
  auxiliaryPower: 2200,
  levelSetpoints: { condenser: 0.5, tank: 0.45 },
};

const CONTROLS: InterstageControlParameters = {
  leavingChilledSetpoint: 279.82, // 44 degF
  capacity: { gain: 0.12, integralTime: 90, low: 0.15, high: 1.15, quiet: 0 },
  condenserLevel: { gain: 0.4, integralTime: 240, low: 0.05, high: 1, quiet: 0.008 },
  tankLevel: { gain: 0.7, integralTime: 300, low: 0.05, high: 1, quiet: 0.008 },
  levelFilter: 8,
  staging: { loadOn: 0.5, loadOff: 0.44, liftOn: 18, liftOff: 15, leastTime: 1200 },
};

const WORLD: WorldParameters = {
  ratedTons: 900,
  load: { mean: 0.66, swing: 0.23, second: -0.04, peakHour: 17 },
  wetBulb: { mean: 296.2, swing: 1.8, peakHour: 15 },
  tower: { approach: 1.9, loadApproach: 2.6, lowest: 294.3 },
  chilledFlow: CHILLED_FLOW,
  condenserFlow: CONDENSER_FLOW,
  loopContent: 60_000,
};

export const CH2 = {
  name: 'CH-2',
  machine: MACHINE,
  controls: CONTROLS,
  world: WORLD,
  points: CH2_POINTS,
  /** Counters as the machine stands at the start. */
  history: { starts: 238, runHours: 18_420 },
} as const;
