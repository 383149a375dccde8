/**
 * The circuit of the `parallel` arrangement: one main compressor, and a second one that lifts the tank's vapour to the
 * condenser. SI.
 */
import { Circuit } from './circuit.ts';
import { Compressor } from './compressor.ts';
import { Actuator } from './control.ts';
import { SaturationState } from './fluid.ts';
import type { ParallelParameters } from './parallel-parameters.ts';

export class ParallelCircuit extends Circuit<ParallelParameters> {
  readonly main: Compressor;
  readonly economizer: Compressor;
  readonly mainSpeed: Actuator;
  readonly mainVanes: Actuator;
  readonly economizerSpeed: Actuator;
  readonly economizerVanes: Actuator;

  constructor(parameters: ParallelParameters) {
    super(parameters);
    const { fluid, evaporator, tank, parameters: at } = this;
    this.main = new Compressor(fluid, at.mainCompressor);
    this.economizer = new Compressor(fluid, at.economizerCompressor);
    this.mainSpeed = new Actuator(1, at.drives);
    this.mainVanes = new Actuator(1, at.drives);
    this.economizerSpeed = new Actuator(1, at.drives);
    this.economizerVanes = new Actuator(1, at.drives);
    const rated = new SaturationState();
    fluid.saturationAt(at.filling.condenser + 1, rated);
    const discharge = rated.rhoVapour * 0.94;
    this.main.rate(at.mainCompressor.designFlow * evaporator.saturation.rhoVapour, discharge);
    this.economizer.rate(at.economizerCompressor.designFlow * tank.saturation.rhoVapour, discharge);
  }

  protected moveDrives(dt: number): void {
    const { main, economizer } = this;
    this.mainSpeed.step(dt);
    this.mainVanes.step(dt);
    this.economizerSpeed.step(dt);
    this.economizerVanes.step(dt);
    main.speed = this.mainSpeed.position;
    main.vanes = this.mainVanes.position;
    economizer.speed = this.economizerSpeed.position;
    economizer.vanes = this.economizerVanes.position;
  }

  protected compress(dt: number): void {
    const { evaporator, tank, main, economizer, leavingVapour, parameters: at, gas, ills } = this;
    const p = this.condenserPressure;
    main.step(dt, evaporator.p, p, leavingVapour.h);
    const { hVapour, hLiquid } = tank.saturation;
    const leaving = hVapour - ills.carryOver * (hVapour - hLiquid);
    const pickUp = economizer.massFlow > 0.3 ? at.vapourLinePickUp / economizer.massFlow : 0;
    economizer.step(dt, tank.p, p, leaving + pickUp);
    gas.suction = main.massFlow;
    gas.tankVapour = economizer.massFlow;
    gas.tankVapourEnthalpy = leaving;
    gas.discharge = main.massFlow + economizer.massFlow;
    gas.dischargeEnergy =
      main.massFlow * leavingVapour.h +
      main.shaftPower +
      economizer.massFlow * (leaving + pickUp) +
      economizer.shaftPower;
    gas.electric = main.electricPower + economizer.electricPower;
    gas.driveLoss = main.driveLoss + economizer.driveLoss;
    gas.casingLoss =
      (main.running ? at.mainCompressor.casingLoss : 0) + (economizer.running ? at.economizerCompressor.casingLoss : 0);
    gas.lineHeat = economizer.massFlow * pickUp;
    gas.turning = main.running || main.massFlow > 0 || economizer.massFlow > 0;
  }
}
