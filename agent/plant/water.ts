/** Water and the tube bundles it flows through. SI. */
import { assert } from '../base/result.ts';

/** Density of water at atmospheric pressure, kg/m3; Kell 1975 (J. Chem. Eng. Data 20, 97), from memory. */
export function waterDensity(T: number): number {
  const t = T - 273.15;
  const top =
    999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 + t * -280.54253e-12))));
  return top / (1 + 16.87985e-3 * t);
}

/**
 * Heat capacity of water, J/(kg K), over degC: fitted to steam-table values from 0 to 60 degC (from memory), within
 * 0.01 % of them.
 */
const HEAT = [4219.7776, -3.2863022, 0.100238875, -1.40055096e-3, 8.04195804e-6] as const;

export function waterHeatCapacity(T: number): number {
  const t = T - 273.15;
  return HEAT[0] + t * (HEAT[1] + t * (HEAT[2] + t * (HEAT[3] + t * HEAT[4])));
}

/** Enthalpy of water counted from 0 degC, J/kg. */
export function waterEnthalpy(T: number): number {
  const t = T - 273.15;
  return t * (HEAT[0] + t * (HEAT[1] / 2 + t * (HEAT[2] / 3 + t * (HEAT[3] / 4 + (t * HEAT[4]) / 5))));
}

/** Below this part of design flow the water in the bundle begins to take heat standing. */
const STANDING = 0.05;
/** Part of the conductance that standing water has, by its own convection: common practice, no source. */
const STANDING_CONDUCTANCE = 0.01;
/** Standing water in the entering nozzle takes the bundle's temperature with this lag, s. */
const NOZZLE_LAG = 900;

/** One pass of water over tubes at one temperature, with the water in the bundle and the heads as a lag. */
export class WaterSide {
  /** Part of the conductance that is left: scale, gas between tubes, tubes without refrigerant take from it. */
  condition = 1;
  /** In the nozzle: what comes in, or what stands there. */
  entering = 0;
  /** State: mixed water in the leaving head. */
  leaving = 0;
  /** m3/s through the bundle; kg/s of it, counted at the entering temperature, where the meter sits. */
  volumeFlow = 0;
  massFlow = 0;
  /** W that the flowing water takes up between inlet and outlet. */
  pickedUp = 0;
  /** J kept by the water in the bundle. */
  energy = 0;
  readonly content: number;
  private readonly conductance: number;
  private readonly designFlow: number;
  private readonly resistance: number;

  /** `conductance` W/K at `designFlow` m3/s; `content` kg of water; `pressureDrop` Pa at design flow. */
  constructor(options: { conductance: number; designFlow: number; content: number; pressureDrop: number }) {
    this.conductance = options.conductance;
    this.designFlow = options.designFlow;
    this.content = options.content;
    this.resistance = options.pressureDrop / options.designFlow ** 1.8;
  }

  start(T: number): void {
    this.entering = T;
    this.leaving = T;
    this.energy = this.content * waterEnthalpy(T);
  }

  /** What is pumped in for the next dt (s): m3/s at temperature T (K). */
  flow(dt: number, volumeFlow: number, T: number): void {
    const weight = volumeFlow > 0 ? 1 : dt / NOZZLE_LAG;
    this.entering += weight * ((volumeFlow > 0 ? T : this.leaving) - this.entering);
    this.volumeFlow = volumeFlow;
    this.massFlow = volumeFlow * waterDensity(this.entering);
  }

  /** How much of the water in the bundle counts as standing, 0 to 1. */
  private get standing(): number {
    return Math.max(0, 1 - this.volumeFlow / this.designFlow / STANDING);
  }

  /** K: of the water that a surface in the first pass meets. */
  get firstPass(): number {
    const { standing } = this;
    return standing * this.leaving + (1 - standing) * this.entering;
  }

  /**
   * Heat from tubes at T (K) into water that enters `preheat` W warmer; W. Conductance follows flow^0.8 on the water
   * half of the resistance.
   */
  exchange(T: number, preheat: number): number {
    const { standing, conductance, condition } = this;
    const still = standing * STANDING_CONDUCTANCE * conductance * (T - this.leaving);
    if (this.massFlow <= 0) return still;
    const capacityRate = this.massFlow * waterHeatCapacity(this.entering);
    const ratio = (this.volumeFlow / this.designFlow) ** 0.8;
    const ua = (condition * 2 * conductance * ratio) / (1 + ratio);
    const inlet = this.entering + ((1 - standing) * preheat) / capacityRate;
    return still + capacityRate * (1 - Math.exp(-ua / capacityRate)) * (T - inlet);
  }

  /** Carries the water on by dt with `heat` W put in. */
  step(dt: number, heat: number): void {
    this.pickedUp = this.massFlow * (waterEnthalpy(this.leaving) - waterEnthalpy(this.entering));
    this.energy += dt * (heat - this.pickedUp);
    const h = this.energy / this.content;
    for (let i = 0; i < 3; i++) this.leaving += (h - waterEnthalpy(this.leaving)) / waterHeatCapacity(this.leaving);
    assert(this.leaving > 250 && this.leaving < 400, 'water stays water');
  }

  get pressureDrop(): number {
    return this.resistance * this.volumeFlow ** 1.8;
  }
}
