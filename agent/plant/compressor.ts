/**
 * A centrifugal compressor by its map, with speed and inlet vanes. Flow, head and speed are counted as parts of their
 * design values:
 *   head = shutoff n^2 - (shutoff - 1) (flow / g(vanes))^2,   g = 0.15 + 0.85 vanes,
 * so that design flow at design speed with open vanes gives design head. Efficiency is a hill over the flow
 * coefficient, less for closed vanes. The flow follows the map with a short lag (inertia of the gas), so no equation
 * has to be solved inside a step.
 */
import { type Fluid, SaturationState, VapourState } from './fluid.ts';

export interface CompressorParameters {
  /** m3/s at suction; J/kg isentropic; 1/s. */
  readonly designFlow: number;
  readonly designHead: number;
  readonly designSpeed: number;
  /** Head at no flow over design head. */
  readonly shutoff: number;
  /** Highest efficiency and the flow coefficient where it stands. */
  readonly bestEfficiency: number;
  readonly bestFlow: number;
  /** Pa of loss in suction and discharge line at design flow and density. */
  readonly suctionDrop: number;
  readonly dischargeDrop: number;
  /** Shaft over electrical power: at design load, and the loss that stays at no load as a part of design power. */
  readonly drive: { readonly designPower: number; readonly efficiency: number; readonly fixedLoss: number };
  /** W lost from the hot casing and discharge line while running. */
  readonly casingLoss: number;
  /** Volts between phases and power factor at design. */
  readonly voltage: number;
  readonly powerFactor: number;
}

const FLOW_LAG = 1.5;
/** A stopped compressor's discharge cools to the condenser's temperature with this lag, s. */
const COOLING_LAG = 900;
const EFFICIENCY_WIDTH = 0.32;
const VANE_LOSS = 0.12;
/** Highest head coefficient at which the controls let it run, over design: below the surge line. */
const SAFE_SHARE = 0.8;
/** Slowest useful speed. */
const SPEED_LEAST = 0.55;
const SPEED_MOST = 1.08;

function vaneFactor(position: number): number {
  return 0.15 + 0.85 * position;
}

export class Compressor {
  readonly parameters: CompressorParameters;
  running = true;
  /** Part of its efficiency that wear has taken. */
  wear = 0;
  starts = 0;
  /** s */
  runTime = 0;
  /** Actuators as parts: speed of design speed, vanes 0 to 1. */
  speed = 1;
  vanes = 1;
  /** State: kg/s. */
  massFlow = 0;
  /** At the flanges: suction, and discharge. */
  suctionPressure = 0;
  dischargePressure = 0;
  readonly suction = new VapourState();
  readonly discharge = new VapourState();
  /** K at discharge flange. */
  dischargeTemperature = 0;
  suctionTemperature = 0;
  /** J/kg: enthalpies at the flanges, ideal and real rise. */
  head = 0;
  efficiency = 0;
  volumeFlow = 0;
  shaftPower = 0;
  electricPower = 0;
  private readonly fluid: Fluid;
  private readonly line = new SaturationState();
  private readonly ideal = new VapourState();
  private dischargeDensity = 1;
  private designDensity = 1;
  private designMass = 1;

  constructor(fluid: Fluid, parameters: CompressorParameters) {
    this.fluid = fluid;
    this.parameters = parameters;
  }

  /** Tells the lines what design flow means in kg/s and kg/m3 at discharge. */
  rate(designMass: number, designDischargeDensity: number): void {
    this.designMass = designMass;
    this.designDensity = designDischargeDensity;
    this.dischargeDensity = designDischargeDensity;
    this.massFlow = designMass;
    this.volumeFlow = this.parameters.designFlow;
  }

  /** State at the flanges between vessel pressures (Pa), drawing vapour of enthalpy h (J/kg). */
  private flanges(low: number, high: number, h: number): void {
    const { parameters: at, fluid, suction, discharge, ideal, line } = this;
    const share = this.volumeFlow / at.designFlow;
    this.suctionPressure = low - at.suctionDrop * share * share;
    // The drop goes with m^2/rho; the density of the step before serves.
    const ratio = this.massFlow / this.designMass;
    this.dischargePressure = high + ((at.dischargeDrop * this.designDensity) / this.dischargeDensity) * ratio * ratio;
    const zIn = fluid.coordinate(this.suctionPressure);
    fluid.vapourOfEnthalpy(zIn, h, suction);
    fluid.saturation(zIn, line);
    this.suctionTemperature = line.T + suction.superheat;
    const zOut = fluid.coordinate(this.dischargePressure);
    fluid.vapourOfEntropy(zOut, suction.s, ideal);
    this.head = ideal.h - suction.h;
    discharge.z = zOut;
  }

  /** Flow (kg/s) that the map gives against the head between these pressures, of vapour of enthalpy h. */
  flowAgainst(low: number, high: number, h: number): number {
    this.flanges(low, high, h);
    const { parameters: at, suction } = this;
    const room = (at.shutoff * this.speed * this.speed - this.head / at.designHead) / (at.shutoff - 1);
    return this.running && room > 0 ? vaneFactor(this.vanes) * Math.sqrt(room) * at.designFlow * suction.rho : 0;
  }

  step(dt: number, low: number, high: number, h: number): void {
    const target = this.flowAgainst(low, high, h);
    if (this.running) this.runTime += dt;
    this.massFlow += (target - this.massFlow) * (1 - Math.exp(-dt / FLOW_LAG));
    if (!this.running && this.massFlow < 1e-3) this.massFlow = 0;
    this.compress(dt);
  }

  /** Work and discharge of the present flow, after `flowAgainst`. */
  compress(dt: number): void {
    const { parameters: at, suction, discharge, fluid } = this;
    this.volumeFlow = this.massFlow / suction.rho;
    const phi = this.volumeFlow / at.designFlow / (Math.max(this.speed, SPEED_LEAST) * vaneFactor(this.vanes));
    const away = phi - at.bestFlow;
    const closed = 1 - this.vanes;
    const hill = at.bestEfficiency - EFFICIENCY_WIDTH * away * away - VANE_LOSS * closed * closed;
    this.efficiency = Math.max(0.3, hill) * (1 - this.wear);
    fluid.vapourOfEnthalpy(discharge.z, suction.h + this.head / this.efficiency, discharge);
    this.dischargeDensity = discharge.rho;
    fluid.saturation(discharge.z, this.line);
    if (this.massFlow > 0) this.dischargeTemperature = this.line.T + discharge.superheat;
    else this.dischargeTemperature += (this.line.T - this.dischargeTemperature) * (dt / COOLING_LAG);
    this.shaftPower = this.massFlow * (discharge.h - suction.h);
    this.electricPower = this.running || this.massFlow > 0 ? this.electricOf(this.shaftPower) : 0;
  }

  /** Electric power that gives this shaft power: losses part fixed, part in proportion. */
  private electricOf(shaft: number): number {
    const { designPower, efficiency, fixedLoss } = this.parameters.drive;
    const fixed = fixedLoss * designPower;
    return fixed + (shaft * (1 - fixedLoss)) / efficiency;
  }

  /** W: loss of drive and motor. */
  get driveLoss(): number {
    return this.electricPower - this.shaftPower;
  }

  get driveEfficiency(): number {
    return this.electricPower > 0 ? this.shaftPower / this.electricPower : this.parameters.drive.efficiency;
  }

  /** A; power factor sags at part load. */
  get current(): number {
    if (this.electricPower <= 0) return 0;
    return this.electricPower / (Math.sqrt(3) * this.parameters.voltage * this.powerFactor);
  }

  get powerFactor(): number {
    if (this.electricPower <= 0) return 0;
    const load = Math.min(1, this.electricPower / this.parameters.drive.designPower);
    return this.parameters.powerFactor * (1 - 0.06 * (1 - load) * (1 - load));
  }

  start(): void {
    if (this.running) return;
    this.running = true;
    this.starts += 1;
  }

  stop(): void {
    this.running = false;
    this.massFlow = Math.min(this.massFlow, this.designMass);
  }

  /** Speed and vanes that give a part `flow` of design flow against the present head. */
  aim(flow: number, out: { speed: number; vanes: number }): void {
    aimAt(flow, this.head / this.parameters.designHead, this.parameters.shutoff, out);
  }
}

/**
 * Speed and vanes that give a part `flow` of design flow against a part `head` of design head: speed first, vanes where
 * surge forbids less speed.
 */
export function aimAt(flow: number, head: number, shutoff: number, out: { speed: number; vanes: number }): void {
  const psi = Math.max(head, 0.05);
  const open = Math.sqrt((psi + (shutoff - 1) * flow * flow) / shutoff);
  const safe = Math.sqrt(psi / (1 + (shutoff - 1) * SAFE_SHARE));
  const speed = Math.min(Math.max(open, safe, SPEED_LEAST), SPEED_MOST);
  const room = (shutoff * speed * speed - psi) / (shutoff - 1);
  const factor = room > 0 ? flow / Math.sqrt(room) : 1;
  out.speed = speed;
  out.vanes = Math.min(1, Math.max(0, (factor - 0.15) / 0.85));
}
