/**
 * The circuit of the `interstage` arrangement: two stages on one shaft, the tank's vapour joining between them through
 * a line with a valve. SI. The room between the stages holds no refrigerant: what the first stage and the line bring,
 * the second takes on; the pressure there moves until the second stage's map agrees.
 */
import { Circuit } from './circuit.ts';
import { aimAt, Compressor } from './compressor.ts';
import { Actuator, valveFlow } from './control.ts';
import { SaturationState } from './fluid.ts';
import type { InterstageParameters } from './interstage-parameters.ts';

/** How fast the pressure between the stages follows a mismatch of flows, parts per second. */
const FOLLOW = 0.3;
/** Least flow (part of design) by which enthalpies of mixing are counted. */
const LEAST_SHARE = 1e-3;
/** The pressure between standing stages comes to that of the evaporator with this lag, s. */
const REST_LAG = 30;

export class InterstageCircuit extends Circuit<InterstageParameters> {
  readonly first: Compressor;
  readonly second: Compressor;
  readonly speed: Actuator;
  readonly vanes: Actuator;
  readonly vapourValve: Actuator;
  /** Pa between the stages. */
  interstagePressure: number;
  /** kg/s from the tank; J/kg entering the second stage (point 9). */
  vapourFlow = 0;
  mixed = 0;
  private readonly designMass: number;

  constructor(parameters: InterstageParameters) {
    super(parameters);
    const { fluid, evaporator, tank, parameters: at } = this;
    this.first = new Compressor(fluid, at.firstStage);
    this.second = new Compressor(fluid, at.secondStage);
    this.speed = new Actuator(1, at.drives);
    this.vanes = new Actuator(1, at.drives);
    this.vapourValve = new Actuator(1, at.vapourValve);
    this.interstagePressure = tank.saturation.p;
    const rated = new SaturationState();
    fluid.saturationAt(at.filling.condenser + 1, rated);
    this.designMass = at.secondStage.designFlow * tank.saturation.rhoVapour;
    this.first.rate(at.firstStage.designFlow * evaporator.saturation.rhoVapour, tank.saturation.rhoVapour);
    this.second.rate(this.designMass, rated.rhoVapour * 0.96);
    this.mixed = tank.saturation.hVapour;
  }

  protected moveDrives(dt: number): void {
    this.speed.step(dt);
    this.vanes.step(dt);
    this.vapourValve.step(dt);
    this.first.speed = this.speed.position;
    this.second.speed = this.speed.position;
    this.first.vanes = this.vanes.position;
  }

  protected compress(dt: number): void {
    const { evaporator, tank, first, second, leavingVapour, parameters: at, gas, ills } = this;
    const p = this.interstagePressure;
    first.step(dt, evaporator.p, p, leavingVapour.h);
    const { hVapour, hLiquid } = tank.saturation;
    const leaving = hVapour - ills.carryOver * (hVapour - hLiquid);
    this.vapourFlow = first.running
      ? valveFlow(this.vapourValve.position, at.vapourLineArea, tank.vapourDensity, tank.p - p)
      : 0;
    const pickUp = this.vapourFlow > 0.1 ? at.vapourLinePickUp / this.vapourFlow : 0;
    const brought = first.massFlow + this.vapourFlow;
    if (brought > LEAST_SHARE * this.designMass)
      this.mixed =
        (first.massFlow * leavingVapour.h + first.shaftPower + this.vapourFlow * (leaving + pickUp)) / brought;
    const taken = second.flowAgainst(p, this.condenserPressure, this.mixed);
    second.massFlow = brought;
    second.compress(dt);
    if (first.running)
      this.interstagePressure *=
        1 + Math.max(-0.05, Math.min(0.05, (dt * FOLLOW * (brought - taken)) / this.designMass));
    else this.interstagePressure += (evaporator.p - p) * (1 - Math.exp(-dt / REST_LAG));
    gas.suction = first.massFlow;
    gas.tankVapour = this.vapourFlow;
    gas.tankVapourEnthalpy = leaving;
    gas.discharge = brought;
    gas.dischargeEnergy =
      first.massFlow * leavingVapour.h + first.shaftPower + this.vapourFlow * (leaving + pickUp) + second.shaftPower;
    gas.electric = first.electricPower + second.electricPower;
    gas.driveLoss = first.driveLoss + second.driveLoss;
    gas.casingLoss = first.running ? at.firstStage.casingLoss + at.secondStage.casingLoss : 0;
    gas.lineHeat = this.vapourFlow * pickUp;
    gas.turning = first.running || first.massFlow > 0;
  }

  start(): void {
    this.first.start();
    this.second.start();
  }

  stop(): void {
    this.first.stop();
    this.second.stop();
  }

  /** Speed and vanes that give a part `flow` of design flow against the head of both stages. */
  aim(flow: number, out: { speed: number; vanes: number }): void {
    const { firstStage, secondStage } = this.parameters;
    const head = (this.first.head + this.second.head) / (firstStage.designHead + secondStage.designHead);
    aimAt(flow, head, firstStage.shutoff, out);
  }

  /** A and part of 1: one motor drives both stages. */
  get current(): number {
    const { voltage } = this.parameters.firstStage;
    const { electric } = this.gas;
    return electric > 0 ? electric / (Math.sqrt(3) * voltage * this.powerFactor) : 0;
  }

  get powerFactor(): number {
    return this.first.powerFactor;
  }
}
