/**
 * Vessels of the circuit, each with its mass and internal energy as states, so that what leaves one arrives in another
 * to the last bit.
 */
import { type Fluid, SaturationState } from './fluid.ts';

/**
 * Liquid and vapour in equilibrium in a volume, with metal at their temperature. Pressure follows from mass, energy and
 * volume. With more energy than saturated vapour would hold the quality passes 1 and extrapolates: a stand-in for
 * slight superheat.
 */
export class TwoPhaseVessel {
  readonly saturation = new SaturationState();
  /** kg; J of refrigerant and metal. */
  mass = 0;
  energy = 0;
  /** m3; moves where a sump below takes room. */
  volume: number;
  /** Vapour by mass. */
  quality = 0;
  private readonly fluid: Fluid;
  private readonly metal: number;

  /** `metal`: heat capacity, J/K. */
  constructor(fluid: Fluid, options: { volume: number; metal: number }) {
    this.fluid = fluid;
    this.volume = options.volume;
    this.metal = options.metal;
  }

  /** Fills it: temperature (K) and volume of liquid (m3). */
  fill(T: number, liquidVolume: number): void {
    const { fluid, saturation } = this;
    fluid.saturationAt(T, saturation);
    const liquid = saturation.rhoLiquid * liquidVolume;
    const vapour = saturation.rhoVapour * (this.volume - liquidVolume);
    this.mass = liquid + vapour;
    this.energy =
      liquid * saturation.hLiquid +
      vapour * saturation.hVapour -
      saturation.p * this.volume +
      this.metal * saturation.T;
    this.settle();
  }

  /** Finds the pressure at which mass and energy fill the volume: Newton along the saturation line. */
  settle(): void {
    const { saturation: at, fluid, mass } = this;
    const v = this.volume / mass;
    for (let i = 0; i < 12; i++) {
      const vLiquid = 1 / at.rhoLiquid;
      const vVapour = 1 / at.rhoVapour;
      const span = vVapour - vLiquid;
      const x = (v - vLiquid) / span;
      const uLiquid = at.hLiquid - at.p * vLiquid;
      const uVapour = at.hVapour - at.p * vVapour;
      const dvLiquid = -at.dRhoLiquid * vLiquid * vLiquid;
      const dvVapour = -at.dRhoVapour * vVapour * vVapour;
      const dx = (-dvLiquid - x * (dvVapour - dvLiquid)) / span;
      const duLiquid = at.dhLiquid - at.dp * vLiquid - at.p * dvLiquid;
      const duVapour = at.dhVapour - at.dp * vVapour - at.p * dvVapour;
      const excess = this.energy - mass * (uLiquid + x * (uVapour - uLiquid)) - this.metal * at.T;
      const slope = mass * (duLiquid + x * (duVapour - duLiquid) + dx * (uVapour - uLiquid)) + this.metal * at.dT;
      this.quality = x;
      const move = excess / slope;
      if (Math.abs(move) < 1e-9) return;
      fluid.saturation(at.z + move, at);
    }
  }

  /** Pa. Boiled dry it holds less vapour than saturation would: pressure and density fall as its volume spreads. */
  get p(): number {
    return this.saturation.p / Math.max(1, this.quality);
  }

  get vapourDensity(): number {
    return this.saturation.rhoVapour / Math.max(1, this.quality);
  }

  get liquidMass(): number {
    return Math.max(0, (1 - this.quality) * this.mass);
  }

  get liquidVolume(): number {
    return this.liquidMass / this.saturation.rhoLiquid;
  }
}

/** Well-mixed subcooled liquid under a pressure that something else sets. */
export class Sump {
  readonly liquid = new SaturationState();
  mass = 0;
  energy = 0;
  /** m3 at level 1. */
  readonly capacity: number;
  private readonly fluid: Fluid;

  constructor(fluid: Fluid, options: { capacity: number }) {
    this.fluid = fluid;
    this.capacity = options.capacity;
  }

  fill(T: number, volume: number, p: number): void {
    this.fluid.saturationAt(T, this.liquid);
    this.mass = volume * this.liquid.rhoLiquid;
    this.energy = this.mass * (this.liquid.hLiquid - p / this.liquid.rhoLiquid);
  }

  /** Temperature from mass and energy under pressure p. */
  settle(p: number): void {
    this.fluid.liquidOf(this.energy / this.mass + p / this.liquid.rhoLiquid, this.liquid);
  }

  get T(): number {
    return this.liquid.T;
  }

  get h(): number {
    return this.liquid.hLiquid;
  }

  get volume(): number {
    return this.mass / this.liquid.rhoLiquid;
  }
}
