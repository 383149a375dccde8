/**
 * True values of the metrics of a `parallel` machine, from its own states and flows: what a perfect observer would
 * publish. Numbering of states as in the trade's pressure-enthalpy diagram: 1 leaving the evaporator, 2 main discharge,
 * 3 liquid leaving the condenser, 5 liquid and 7 vapour leaving the tank, 8 economizer discharge. Head and efficiency
 * are counted between vessel pressures, as the catalogue does; `*_flange` are the same between the compressor's
 * flanges, to show what the lines' losses do. Catalogue units.
 */
import { WATTS_PER_TON } from '../base/units.ts';
import type { Compressor } from './compressor.ts';
import { SaturationState, VapourState } from './fluid.ts';
import type { MetricValues } from './machine.ts';
import type { ParallelCircuit } from './parallel.ts';

const ZERO_CELSIUS = 273.15;
const PATH_STEPS = 10;

/** Mean logarithmic difference of water entering and leaving against one temperature. */
function logMean(a: number, b: number): number {
  return Math.abs(a - b) < 1e-6 ? a : (a - b) / Math.log(a / b);
}

export class ParallelTruth {
  private readonly circuit: ParallelCircuit;
  private readonly vapour = new VapourState();
  private readonly path = new VapourState();
  private readonly liquid = new SaturationState();

  private readonly ratedCapacity: number;

  /** `ratedCapacity` in W. */
  constructor(circuit: ParallelCircuit, ratedCapacity: number) {
    this.circuit = circuit;
    this.ratedCapacity = ratedCapacity;
  }

  metrics(out: MetricValues): void {
    this.temperatures(out);
    this.exchangers(out);
    this.unit(out);
    this.compressor('main_compressor', this.circuit.main, out);
    this.compressor('economizer_compressor', this.circuit.economizer, out);
    this.economizer(out);
  }

  private temperatures(out: MetricValues): void {
    const { evaporator, condenser, tank, sump, economizer } = this.circuit;
    out['evaporator.saturation_temperature'] = evaporator.saturation.T - ZERO_CELSIUS;
    out['condenser.saturation_temperature'] = condenser.saturation.T - ZERO_CELSIUS;
    out['flash_tank.saturation_temperature'] = tank.saturation.T - ZERO_CELSIUS;
    out['condenser.subcooling'] = condenser.saturation.T - sump.T;
    out['main_compressor.suction_superheat'] = this.circuit.leavingVapour.superheat;
    out['main_compressor.lift'] = condenser.saturation.T - evaporator.saturation.T;
    out['economizer_compressor.lift'] = economizer.running ? condenser.saturation.T - tank.saturation.T : null;
    out['main_compressor.pressure_ratio'] = condenser.saturation.p / evaporator.saturation.p;
    out['economizer_compressor.pressure_ratio'] = economizer.running
      ? condenser.saturation.p / tank.saturation.p
      : null;
  }

  private exchangers(out: MetricValues): void {
    const { evaporator, condenser, chilledWater, condenserWater } = this.circuit;
    const cold = evaporator.saturation.T;
    const warm = condenser.saturation.T;
    out['evaporator.approach'] = chilledWater.leaving - cold;
    out['condenser.approach'] = warm - condenserWater.leaving;
    const evaporatorMean = logMean(chilledWater.entering - cold, chilledWater.leaving - cold);
    const condenserMean = logMean(warm - condenserWater.entering, warm - condenserWater.leaving);
    out['evaporator.ua'] = -chilledWater.pickedUp / evaporatorMean / 1e3;
    out['condenser.ua'] = condenserWater.pickedUp / condenserMean / 1e3;
  }

  private unit(out: MetricValues): void {
    const { chilledWater, condenserWater, main, economizer, motorHeat, unitPower } = this.circuit;
    const capacity = -chilledWater.pickedUp;
    const rejected = condenserWater.pickedUp;
    const cop = capacity / unitPower;
    const carnot = chilledWater.leaving / (condenserWater.leaving - chilledWater.leaving);
    const into = capacity + main.shaftPower + economizer.shaftPower + motorHeat;
    out['unit.capacity'] = capacity / 1e3;
    out['condenser.heat_rejected'] = rejected / 1e3;
    out['unit.load_fraction'] = capacity / this.ratedCapacity;
    for (const way of ['chilled_water', 'power', 'condenser_water']) out[`unit.capacity_from_${way}`] = capacity / 1e3;
    out['unit.power'] = unitPower / 1e3;
    out['unit.cop'] = cop;
    out['unit.kw_per_ton'] = unitPower / 1e3 / (capacity / WATTS_PER_TON);
    out['unit.carnot_fraction'] = cop / carnot;
    out['unit.heat_balance_error'] = (into - rejected) / (0.5 * (into + rejected));
  }

  private compressor(name: string, machine: Compressor, out: MetricValues): void {
    const on = machine.running && machine.massFlow > 0;
    const { fluid, leavingVapour, condenser, evaporator, tank } = this.circuit;
    const isMain = machine === this.circuit.main;
    const suction = this.vapour;
    if (isMain) Object.assign(suction, leavingVapour);
    else fluid.vapour(tank.saturation.z, 0, suction);
    const low = (isMain ? evaporator : tank).saturation.z;
    const high = condenser.saturation.z;
    this.path.superheat = 5;
    fluid.vapourOfEntropy(high, suction.s, this.path);
    const head = this.path.h - suction.h;
    const work = machine.discharge.h - suction.h;
    out[`${name}.isentropic_head`] = on ? head / 1e3 : null;
    out[`${name}.isentropic_efficiency`] = on ? head / work : null;
    out[`${name}.isentropic_efficiency_flange`] = on ? machine.efficiency : null;
    out[`${name}.polytropic_efficiency`] = on ? this.polytropic(low, high, suction, machine.discharge.h) : null;
    out[`${name}.mass_flow`] = on ? machine.massFlow : null;
    out[`${name}.suction_volume_flow`] = on ? machine.massFlow / suction.rho : null;
    out[`${name}.discharge_superheat`] = on ? machine.dischargeTemperature - condenser.saturation.T : null;
    out[`${name}.power`] = on ? machine.electricPower / 1e3 : null;
    out[`${name}.drive_efficiency`] = on ? machine.driveEfficiency : null;
  }

  /** Efficiency of equal small steps in ln p from the suction state that ends at enthalpy h; by secant. */
  private polytropic(low: number, high: number, suction: VapourState, h: number): number {
    const end = (efficiency: number) => this.pathEnd(low, high, suction, efficiency) - h;
    let a = 0.8;
    let b = 0.85;
    let atA = end(a);
    for (let i = 0; i < 8; i++) {
      const atB = end(b);
      if (Math.abs(atB) < 1e-3 || atB === atA) break;
      const next = b - (atB * (b - a)) / (atB - atA);
      a = b;
      atA = atB;
      b = next;
    }
    return b;
  }

  private pathEnd(low: number, high: number, suction: VapourState, efficiency: number): number {
    const { fluid } = this.circuit;
    const { path, liquid } = this;
    path.superheat = suction.superheat;
    let h = suction.h;
    let rho = suction.rho;
    fluid.saturation(low, liquid);
    let p = liquid.p;
    for (let i = 1; i <= PATH_STEPS; i++) {
      const z = low + ((high - low) * i) / PATH_STEPS;
      fluid.saturation(z, liquid);
      const step = liquid.p - p;
      // Heun: density at both ends of the step.
      fluid.vapourOfEnthalpy(z, h + step / rho / efficiency, path);
      h += (0.5 * step * (1 / rho + 1 / path.rho)) / efficiency;
      fluid.vapourOfEnthalpy(z, h, path);
      rho = path.rho;
      p = liquid.p;
    }
    return h;
  }

  private economizer(out: MetricValues): void {
    const { circuit } = this;
    const { evaporator, condenser, tank, sump, main, economizer } = circuit;
    const on = economizer.running && economizer.massFlow > 0.05;
    const h1 = circuit.leavingVapour.h;
    const h3 = sump.h;
    const h5 = on ? tank.saturation.hLiquid : h3;
    const h7 = tank.saturation.hVapour;
    const { hLiquid, hVapour } = evaporator.saturation;
    const x4 = (h3 - tank.saturation.hLiquid) / (h7 - tank.saturation.hLiquid);
    const y = x4 / (1 - x4);
    const saturated = condenser.saturation.hLiquid;
    const x4Saturated = (saturated - tank.saturation.hLiquid) / (h7 - tank.saturation.hLiquid);
    const workMain = main.discharge.h - h1;
    const workEconomizer = economizer.discharge.h - h7;
    const a = (h1 - h3) / (h1 - h5);
    const share = y * (workEconomizer / economizer.driveEfficiency / (workMain / main.driveEfficiency));
    const saving = 1 - a * (1 + share);
    const flow = circuit.tankValveFlow;
    const avoided = ((x4Saturated / (1 - x4Saturated) - y) * flow * workEconomizer) / economizer.driveEfficiency;
    out['flash_tank.flash_fraction'] = on ? x4 : null;
    out['flash_tank.flash_fraction_without_subcooling'] = on ? x4Saturated : null;
    out['evaporator.flash_fraction'] = (h5 - hLiquid) / (hVapour - hLiquid);
    out['evaporator.flash_fraction_without_economizer'] = (h3 - hLiquid) / (hVapour - hLiquid);
    out['evaporator.mass_flow'] = flow;
    out['condenser.mass_flow'] = circuit.condenserValveFlow + circuit.motorCoolingFlow;
    out['flash_tank.vapour_mass_flow'] = on ? economizer.massFlow : null;
    const more = (h1 - h5) / (h1 - h3);
    out['economizer.suction_volume_flow_without'] = on ? (main.massFlow * more) / circuit.leavingVapour.rho : null;
    out['economizer.refrigerating_effect_gain'] = on ? (h3 - h5) / (h1 - h3) : null;
    out['economizer.saving_fraction'] = on ? saving : null;
    const power = circuit.unitPower / 1e3;
    out['economizer.power_saved'] = on ? (saving / (1 - saving)) * power : null;
    out['subcooling.economizer_power_avoided'] = on ? avoided / 1e3 : null;
    out['economizer_compressor.power_share'] = on
      ? economizer.electricPower / (economizer.electricPower + main.electricPower)
      : null;
  }
}
