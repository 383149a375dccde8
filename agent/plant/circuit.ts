/**
 * What machines with a flash tank have in common: evaporator, condenser with its liquid sump, condenser valve, flash
 * tank, tank valve, both water sides, and what goes wrong in them. How vapour is compressed is the arrangement's own.
 * SI. Masses and energies are the states; whatever leaves one vessel enters the next in the same step, so mass and
 * energy are kept to rounding.
 */
import { Account, type Gas } from './account.ts';
import type { CircuitParameters, Surroundings } from './circuit-parameters.ts';
import { Actuator, valveFlow } from './control.ts';
import { Fluid, VapourState } from './fluid.ts';
import { Ills } from './ills.ts';
import { Sump, TwoPhaseVessel } from './vessel.ts';
import { WaterSide } from './water.ts';

/** Condensate on tubes and baffles reaches the sump with this lag, s. */
const DRAIN_LAG = 4;
/** Below this mass of liquid (kg) a valve draws less and less liquid and begins to pass vapour. */
const SEAL_MASS = 30;
/** kg that stay in an empty sump's bottom: its temperature is then still that of something. */
const RESIDUE = 2;
/** Vapour above the liquid goes over from superheat to rest with this lag, s. */
const SUPERHEAT_LAG = 200;
/** K that the leaving vapour gains where no tube is wet. */
const DRY_SUPERHEAT = 12;

export abstract class Circuit<P extends CircuitParameters = CircuitParameters> {
  readonly parameters: P;
  readonly fluid: Fluid;
  readonly evaporator: TwoPhaseVessel;
  readonly condenser: TwoPhaseVessel;
  readonly sump: Sump;
  readonly tank: TwoPhaseVessel;
  readonly chilledWater: WaterSide;
  readonly condenserWater: WaterSide;
  readonly condenserValve: Actuator;
  readonly tankValve: Actuator;
  readonly account = new Account();
  readonly ills: Ills;
  /** Vapour leaving the evaporator (point 1). */
  readonly leavingVapour = new VapourState();
  readonly gas: Gas = {
    suction: 0,
    tankVapour: 0,
    tankVapourEnthalpy: 0,
    discharge: 0,
    dischargeEnergy: 0,
    electric: 0,
    driveLoss: 0,
    casingLoss: 0,
    lineHeat: 0,
    turning: true,
  };
  /** Flows of the last step, kg/s: liquid through the valves, and vapour where a valve has lost its seal. */
  condenserValveFlow = 0;
  tankValveFlow = 0;
  motorCoolingFlow = 0;
  /** kg/s of liquid that sump and tank took up in the last step. */
  sumpStored = 0;
  tankStored = 0;
  private condenserValveVapour = 0;
  private tankValveVapour = 0;
  /** kg/s from condenser to evaporator past standing compressors; negative: back. */
  private standstillFlow = 0;
  /** W: heat from chilled water, to condenser water; of motor loss into the refrigerant. */
  evaporatorHeat = 0;
  condenserHeat = 0;
  motorHeat = 0;
  private superheat = 2;

  constructor(parameters: P) {
    this.parameters = parameters;
    const at = parameters;
    const fluid = new Fluid(at.refrigerant);
    this.fluid = fluid;
    this.evaporator = new TwoPhaseVessel(fluid, at.evaporator);
    this.condenser = new TwoPhaseVessel(fluid, at.condenser);
    this.sump = new Sump(fluid, { capacity: at.condenser.sumpCapacity });
    this.tank = new TwoPhaseVessel(fluid, at.tank);
    this.chilledWater = new WaterSide(at.chilledWater);
    this.condenserWater = new WaterSide(at.condenserWater);
    this.condenserValve = new Actuator(0.45, at.valve);
    this.tankValve = new Actuator(0.45, at.valve);
    this.charge();
    this.ills = new Ills(this.refrigerantMass);
  }

  /** Sets `gas` for this step. */
  protected abstract compress(dt: number): void;
  protected abstract moveDrives(dt: number): void;

  /** Fills the machine near its design point; the warm-up does the rest. */
  private charge(): void {
    const { evaporator, condenser, sump, tank, parameters: at } = this;
    const { filling } = at;
    evaporator.fill(filling.evaporator, filling.evaporatorLiquid);
    tank.fill(filling.tank, at.levelSetpoints.tank * at.tank.volume);
    const sumpVolume = at.levelSetpoints.condenser * at.condenser.sumpCapacity;
    condenser.volume = at.condenser.volume - sumpVolume;
    condenser.fill(filling.condenser, 0.02);
    sump.fill(filling.liquid, sumpVolume, condenser.saturation.p);
    this.chilledWater.start(281);
    this.condenserWater.start(305);
  }

  step(dt: number, world: Surroundings): void {
    this.condenserValve.step(dt);
    this.tankValve.step(dt);
    this.moveDrives(dt);
    this.leave(dt, world);
    this.compress(dt);
    this.expand();
    this.exchange(dt, world);
  }

  /** Part of the evaporator's tubes that liquid wets. */
  private get wetted(): number {
    return Math.min(1, Math.sqrt(this.evaporator.liquidVolume / this.parameters.evaporator.cover));
  }

  private leave(dt: number, world: Surroundings): void {
    const { saturation } = this.evaporator;
    const most = Math.max(0, 0.8 * (this.chilledWater.entering - saturation.T));
    const dry = world.suctionSuperheat + DRY_SUPERHEAT * (1 - this.wetted);
    const aim = this.gas.turning ? Math.min(dry, Math.max(most, 1)) : 0;
    this.superheat += (aim - this.superheat) * (this.gas.turning ? 1 : dt / SUPERHEAT_LAG);
    this.fluid.vapour(saturation.z, this.superheat, this.leavingVapour);
  }

  /** Pa: of refrigerant and air together. */
  get condenserPressure(): number {
    const { condenser } = this;
    return condenser.p + this.ills.airPressure(condenser.volume - condenser.liquidVolume, condenser.saturation.T);
  }

  private expand(): void {
    const { evaporator, tank, condenser, sump, gas, parameters: at, condenserValve, tankValve } = this;
    const p = this.condenserPressure;
    const sealed = Math.min(1, Math.max(0, sump.mass - RESIDUE) / SEAL_MASS);
    const over = p - tank.p;
    this.condenserValveFlow =
      sealed * valveFlow(condenserValve.position, at.condenserValveArea, sump.liquid.rhoLiquid, over);
    // Vapour by the refrigerant's own pressures: air finds its way around and hinders nothing at rest.
    this.condenserValveVapour =
      (1 - sealed) *
      valveFlow(condenserValve.position, at.condenserValveArea, condenser.vapourDensity, condenser.p - tank.p);
    const full = Math.min(1, tank.liquidMass / SEAL_MASS);
    const under = tank.p - evaporator.p;
    const on = valveFlow(tankValve.position, at.tankValveArea, 1, under);
    this.tankValveFlow = full * on * Math.sqrt(tank.saturation.rhoLiquid);
    this.tankValveVapour = (1 - full) * on * Math.sqrt(tank.vapourDensity);
    this.motorHeat = at.motorLossToRefrigerant * gas.driveLoss;
    // Just as much liquid as the motor heat turns into saturated vapour at evaporator pressure.
    this.motorCoolingFlow = (sealed * this.motorHeat) / (evaporator.saturation.hVapour - sump.h);
    const area = gas.turning ? 0 : at.standstillArea;
    const excess = condenser.p - evaporator.p;
    this.standstillFlow =
      valveFlow(1, area, condenser.vapourDensity, excess) - valveFlow(1, area, evaporator.vapourDensity, -excess);
  }

  private exchange(dt: number, world: Surroundings): void {
    const { evaporator, tank, condenser, sump, chilledWater, condenserWater, ills, gas, parameters: at } = this;
    chilledWater.flow(dt, world.chilledFlow, world.chilledEntering);
    condenserWater.flow(dt, world.condenserFlow, world.condenserEntering);
    chilledWater.condition = this.wetted;
    condenserWater.condition = (1 - ills.fouling) * ills.clear(this.condenserPressure, condenser.p);
    const flooded = Math.min(2, sump.volume / sump.capacity / at.levelSetpoints.condenser);
    const subcooling = at.subcoolerConductance * flooded * (sump.T - condenserWater.firstPass);
    const condensing = condenserWater.exchange(condenser.saturation.T, subcooling);
    const boiling = -chilledWater.exchange(evaporator.saturation.T, 0);
    const fromRoom = at.evaporatorAmbient * (world.room - evaporator.saturation.T);
    const tankRoom = at.tankAmbient * (world.room - tank.saturation.T);
    const toRoom = at.condenserAmbient * (condenser.saturation.T - world.room) + gas.casingLoss;
    const drained = condenser.liquidMass / DRAIN_LAG;
    const before = sump.volume;
    const [sumpBefore, tankBefore] = [sump.mass, tank.liquidMass];

    const across = gas.turning ? 0 : at.standstillConductance;
    const fromCondenser = across * (condenser.saturation.T - evaporator.saturation.T);
    const fromTank = across * (tank.saturation.T - evaporator.saturation.T);
    this.feedEvaporator(dt, boiling + fromRoom + fromCondenser + fromTank);
    this.feedTank(dt, tankRoom - fromTank);
    const resting = this.standstillFlow;
    const restingHeat = resting * (resting > 0 ? condenser : evaporator).saturation.hVapour;
    condenser.mass += dt * (gas.discharge - drained - this.condenserValveVapour - resting);
    condenser.energy +=
      dt *
      (gas.dischargeEnergy -
        drained * condenser.saturation.hLiquid -
        this.condenserValveVapour * condenser.saturation.hVapour -
        restingHeat -
        condensing -
        fromCondenser -
        toRoom);
    const leaving = this.condenserValveFlow + this.motorCoolingFlow;
    const h3 = sump.h;
    sump.mass += dt * (drained - leaving);
    sump.energy += dt * (drained * condenser.saturation.hLiquid - leaving * h3 - subcooling);
    this.settle(before);
    this.sumpStored = (sump.mass - sumpBefore) / dt;
    this.tankStored = (tank.liquidMass - tankBefore) / dt;

    chilledWater.step(dt, -boiling);
    condenserWater.step(dt, condensing + subcooling);
    this.evaporatorHeat = boiling;
    this.condenserHeat = condensing + subcooling;
    this.book(dt, fromRoom + tankRoom + gas.lineHeat - toRoom);
  }

  /** `heat`: W from water, room and the other vessels' walls. */
  private feedEvaporator(dt: number, heat: number): void {
    const { evaporator, condenser, tank, sump, gas, leavingVapour, account, ills } = this;
    const resting = this.standstillFlow;
    const restingHeat = resting * (resting > 0 ? condenser : evaporator).saturation.hVapour;
    const lost = ills.leak(dt);
    evaporator.mass +=
      dt * (this.tankValveFlow + this.tankValveVapour + this.motorCoolingFlow + resting - gas.suction - lost);
    evaporator.energy +=
      dt *
      (this.tankValveFlow * tank.saturation.hLiquid +
        this.tankValveVapour * tank.saturation.hVapour +
        this.motorCoolingFlow * sump.h +
        this.motorHeat +
        restingHeat +
        heat -
        lost * evaporator.saturation.hLiquid -
        gas.suction * leavingVapour.h);
    account.chargedMass -= dt * lost;
    account.charged -= dt * lost * evaporator.saturation.hLiquid;
  }

  private feedTank(dt: number, heat: number): void {
    const { tank, condenser, sump, gas } = this;
    tank.mass +=
      dt *
      (this.condenserValveFlow +
        this.condenserValveVapour -
        this.tankValveFlow -
        this.tankValveVapour -
        gas.tankVapour);
    tank.energy +=
      dt *
      (this.condenserValveFlow * sump.h +
        this.condenserValveVapour * condenser.saturation.hVapour -
        this.tankValveFlow * tank.saturation.hLiquid -
        this.tankValveVapour * tank.saturation.hVapour -
        gas.tankVapour * gas.tankVapourEnthalpy +
        heat);
  }

  /** Pressures and temperatures from the new masses and energies; the sump's surface works on the vapour above it. */
  private settle(sumpVolumeBefore: number): void {
    const { evaporator, tank, condenser, sump } = this;
    const p = this.condenserPressure;
    sump.settle(p);
    const grown = sump.volume - sumpVolumeBefore;
    condenser.volume -= grown;
    condenser.energy += p * grown;
    sump.energy -= p * grown;
    sump.settle(p);
    condenser.settle();
    evaporator.settle();
    tank.settle();
  }

  private book(dt: number, ambient: number): void {
    const { account, chilledWater, condenserWater, gas } = this;
    account.chilledWater -= dt * chilledWater.pickedUp;
    account.condenserWater += dt * condenserWater.pickedUp;
    account.electric += dt * gas.electric;
    account.roomLoss += dt * (1 - this.parameters.motorLossToRefrigerant) * gas.driveLoss;
    account.ambient += dt * ambient;
  }

  get refrigerantMass(): number {
    return this.evaporator.mass + this.condenser.mass + this.sump.mass + this.tank.mass;
  }

  /** J in refrigerant, metal and water. */
  get storedEnergy(): number {
    const { evaporator, condenser, sump, tank, chilledWater, condenserWater } = this;
    return (
      evaporator.energy + condenser.energy + sump.energy + tank.energy + chilledWater.energy + condenserWater.energy
    );
  }

  get condenserLevel(): number {
    return this.sump.volume / this.sump.capacity;
  }

  get tankLevel(): number {
    return this.tank.liquidVolume / this.tank.volume;
  }

  get unitPower(): number {
    return this.gas.electric + this.parameters.auxiliaryPower;
  }
}
