/**
 * The circuit of the `parallel` arrangement: evaporator, main compressor, condenser with its liquid sump, condenser
 * valve, flash tank, tank valve, and a second compressor that lifts the tank's vapour to the condenser. SI. Masses and
 * energies are the states; whatever leaves one vessel enters the next in the same step, so mass and energy are kept to
 * rounding.
 */
import { Compressor } from './compressor.ts';
import { Actuator, valveFlow } from './control.ts';
import { Fluid, SaturationState, VapourState } from './fluid.ts';
import type { ParallelParameters, Surroundings } from './parallel-parameters.ts';
import { Sump, TwoPhaseVessel } from './vessel.ts';
import { WaterSide } from './water.ts';

/** Condensate on tubes and baffles reaches the sump with this lag, s. */
const DRAIN_LAG = 4;
/** Below this mass of liquid (kg) a valve draws less and less: it begins to pass vapour, which is not modelled. */
const SEAL_MASS = 30;

/** The plant's own book-keeping across its boundary, J. */
export class Account {
  chilledWater = 0;
  condenserWater = 0;
  electric = 0;
  roomLoss = 0;
  ambient = 0;
}

export class ParallelCircuit {
  readonly parameters: ParallelParameters;
  readonly fluid: Fluid;
  readonly evaporator: TwoPhaseVessel;
  readonly condenser: TwoPhaseVessel;
  readonly sump: Sump;
  readonly tank: TwoPhaseVessel;
  readonly main: Compressor;
  readonly economizer: Compressor;
  readonly chilledWater: WaterSide;
  readonly condenserWater: WaterSide;
  readonly condenserValve: Actuator;
  readonly tankValve: Actuator;
  readonly mainSpeed: Actuator;
  readonly mainVanes: Actuator;
  readonly economizerSpeed: Actuator;
  readonly economizerVanes: Actuator;
  readonly account = new Account();
  /** Vapour leaving the evaporator (point 1). */
  readonly leavingVapour = new VapourState();
  /** Flows of the last step, kg/s. */
  condenserValveFlow = 0;
  tankValveFlow = 0;
  motorCoolingFlow = 0;
  /** W: heat from chilled water, to condenser water; of motor loss into the refrigerant. */
  evaporatorHeat = 0;
  condenserHeat = 0;
  motorHeat = 0;
  /** J/kg at the economizer compressor's suction. */
  private tankVapour = 0;
  private readonly rated = new SaturationState();

  constructor(parameters: ParallelParameters) {
    this.parameters = parameters;
    const at = parameters;
    const fluid = new Fluid(at.refrigerant);
    this.fluid = fluid;
    this.evaporator = new TwoPhaseVessel(fluid, at.evaporator);
    this.condenser = new TwoPhaseVessel(fluid, at.condenser);
    this.sump = new Sump(fluid, { capacity: at.condenser.sumpCapacity });
    this.tank = new TwoPhaseVessel(fluid, at.tank);
    this.main = new Compressor(fluid, at.mainCompressor);
    this.economizer = new Compressor(fluid, at.economizerCompressor);
    this.chilledWater = new WaterSide(at.chilledWater);
    this.condenserWater = new WaterSide(at.condenserWater);
    this.condenserValve = new Actuator(0.45, at.valve);
    this.tankValve = new Actuator(0.45, at.valve);
    this.mainSpeed = new Actuator(1, at.drives);
    this.mainVanes = new Actuator(1, at.drives);
    this.economizerSpeed = new Actuator(1, at.drives);
    this.economizerVanes = new Actuator(1, at.drives);
    this.charge();
  }

  /** Fills the machine near its design point; the warm-up does the rest. */
  private charge(): void {
    const { evaporator, condenser, sump, tank, fluid, rated, parameters: at } = this;
    evaporator.fill(278.3, 0.9);
    tank.fill(293.2, at.levelSetpoints.tank * at.tank.volume);
    const sumpVolume = at.levelSetpoints.condenser * at.condenser.sumpCapacity;
    condenser.volume = at.condenser.volume - sumpVolume;
    condenser.fill(309, 0.02);
    sump.fill(305.5, sumpVolume, condenser.saturation.p);
    this.chilledWater.start(281);
    this.condenserWater.start(305);
    fluid.saturationAt(310, rated);
    const discharge = rated.rhoVapour * 0.94;
    this.main.rate(at.mainCompressor.designFlow * evaporator.saturation.rhoVapour, discharge);
    this.economizer.rate(at.economizerCompressor.designFlow * tank.saturation.rhoVapour, discharge);
  }

  step(dt: number, world: Surroundings): void {
    this.moveActuators(dt);
    this.compress(dt, world);
    const liquidFlows = this.expand();
    this.exchange(dt, world, liquidFlows);
  }

  private moveActuators(dt: number): void {
    const { main, economizer } = this;
    this.condenserValve.step(dt);
    this.tankValve.step(dt);
    this.mainSpeed.step(dt);
    this.mainVanes.step(dt);
    this.economizerSpeed.step(dt);
    this.economizerVanes.step(dt);
    main.speed = this.mainSpeed.position;
    main.vanes = this.mainVanes.position;
    economizer.speed = this.economizerSpeed.position;
    economizer.vanes = this.economizerVanes.position;
  }

  private compress(dt: number, world: Surroundings): void {
    const { evaporator, tank, condenser, main, economizer, leavingVapour, parameters: at } = this;
    this.fluid.vapour(evaporator.saturation.z, world.suctionSuperheat, leavingVapour);
    main.step(dt, evaporator.saturation.p, condenser.saturation.p, leavingVapour.h);
    const pickUp = economizer.massFlow > 0.3 ? at.vapourLinePickUp / economizer.massFlow : 0;
    this.tankVapour = tank.saturation.hVapour + pickUp;
    economizer.step(dt, tank.saturation.p, condenser.saturation.p, this.tankVapour);
  }

  private expand(): number {
    const { evaporator, tank, condenser, sump, main, economizer, parameters: at } = this;
    const sealed = Math.min(1, sump.mass / SEAL_MASS);
    this.condenserValveFlow =
      sealed *
      valveFlow(
        this.condenserValve.position,
        at.condenserValveArea,
        sump.liquid.rhoLiquid,
        condenser.saturation.p - tank.saturation.p,
      );
    this.tankValveFlow =
      Math.min(1, tank.liquidMass / SEAL_MASS) *
      valveFlow(
        this.tankValve.position,
        at.tankValveArea,
        tank.saturation.rhoLiquid,
        tank.saturation.p - evaporator.saturation.p,
      );
    this.motorHeat = at.motorLossToRefrigerant * (main.driveLoss + economizer.driveLoss);
    // Just as much liquid as the motor heat turns into saturated vapour at evaporator pressure.
    this.motorCoolingFlow = (sealed * this.motorHeat) / (evaporator.saturation.hVapour - sump.h);
    return this.condenserValveFlow + this.motorCoolingFlow;
  }

  private exchange(dt: number, world: Surroundings, fromSump: number): void {
    const { evaporator, tank, condenser, sump, main, economizer, chilledWater, condenserWater, parameters: at } = this;
    chilledWater.entering = world.chilledEntering;
    condenserWater.entering = world.condenserEntering;
    chilledWater.flow(world.chilledFlow);
    condenserWater.flow(world.condenserFlow);
    const level = sump.volume / sump.capacity / at.levelSetpoints.condenser;
    const flooded = Math.min(2, Math.max(0.1, level));
    const subcooling = at.subcoolerConductance * flooded * (sump.T - world.condenserEntering);
    const condensing = condenserWater.exchange(condenser.saturation.T, subcooling);
    const boiling = -chilledWater.exchange(evaporator.saturation.T, 0);
    const fromRoom = at.evaporatorAmbient * (world.room - evaporator.saturation.T);
    const tankRoom = at.tankAmbient * (world.room - tank.saturation.T);
    const casing =
      (main.running ? at.mainCompressor.casingLoss : 0) + (economizer.running ? at.economizerCompressor.casingLoss : 0);
    const toRoom = at.condenserAmbient * (condenser.saturation.T - world.room) + casing;
    const lineHeat = economizer.massFlow * (this.tankVapour - tank.saturation.hVapour);
    const drained = condenser.liquidMass / DRAIN_LAG;
    const condensed = condenser.saturation.hLiquid;
    const h3 = sump.h;
    const h5 = tank.saturation.hLiquid;

    evaporator.mass += dt * (this.tankValveFlow + this.motorCoolingFlow - main.massFlow);
    evaporator.energy +=
      dt *
      (this.tankValveFlow * h5 +
        this.motorCoolingFlow * h3 +
        this.motorHeat +
        boiling +
        fromRoom -
        main.massFlow * this.leavingVapour.h);
    tank.mass += dt * (this.condenserValveFlow - this.tankValveFlow - economizer.massFlow);
    tank.energy +=
      dt *
      (this.condenserValveFlow * h3 -
        this.tankValveFlow * h5 -
        economizer.massFlow * tank.saturation.hVapour +
        tankRoom);
    condenser.mass += dt * (main.massFlow + economizer.massFlow - drained);
    condenser.energy +=
      dt *
      (main.massFlow * this.leavingVapour.h +
        main.shaftPower +
        economizer.massFlow * this.tankVapour +
        economizer.shaftPower -
        drained * condensed -
        condensing -
        toRoom);
    const before = sump.volume;
    sump.mass += dt * (drained - fromSump);
    sump.energy += dt * (drained * condensed - fromSump * h3 - subcooling);
    this.settle(before);

    chilledWater.step(dt, -boiling);
    condenserWater.step(dt, condensing + subcooling);
    this.evaporatorHeat = boiling;
    this.condenserHeat = condensing + subcooling;
    this.book(dt, fromRoom + tankRoom + lineHeat - toRoom);
  }

  /** Pressures and temperatures from the new masses and energies; the sump's surface works on the vapour above it. */
  private settle(sumpVolumeBefore: number): void {
    const { evaporator, tank, condenser, sump } = this;
    const p = condenser.saturation.p;
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
    const { account, chilledWater, condenserWater, main, economizer } = this;
    account.chilledWater -= dt * chilledWater.pickedUp;
    account.condenserWater += dt * condenserWater.pickedUp;
    account.electric += dt * (main.electricPower + economizer.electricPower);
    account.roomLoss += dt * (1 - this.parameters.motorLossToRefrigerant) * (main.driveLoss + economizer.driveLoss);
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
    return this.main.electricPower + this.economizer.electricPower + this.parameters.auxiliaryPower;
  }
}
