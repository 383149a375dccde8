/**
 * True values of the metrics of a `parallel` machine: 2 main discharge, 8 economizer discharge. `*_flange` are
 * efficiencies between the compressor's flanges, to show what the lines' losses do.
 */
import type { Compressor } from './compressor.ts';
import { VapourState } from './fluid.ts';
import type { MetricValues } from './machine.ts';
import type { ParallelCircuit } from './parallel.ts';
import { efficiencyOf, Truth } from './truth.ts';

export class ParallelTruth extends Truth<ParallelCircuit> {
  private readonly suction = new VapourState();

  protected running(): boolean {
    const { main } = this.circuit;
    return main.running && main.massFlow > 0;
  }

  protected economizing(): boolean {
    const { economizer } = this.circuit;
    return economizer.running && economizer.massFlow > 0.05;
  }

  protected shaftPower(): number {
    return this.circuit.main.shaftPower + this.circuit.economizer.shaftPower;
  }

  protected machines(out: MetricValues, on: boolean): void {
    const { main, economizer } = this.circuit;
    this.compressor('main_compressor', main, out);
    this.compressor('economizer_compressor', economizer, out);
    this.economizer(out, on && this.economizing());
  }

  private compressor(name: string, machine: Compressor, out: MetricValues): void {
    const on = machine.running && machine.massFlow > 0;
    const { fluid, leavingVapour, evaporator, tank } = this.circuit;
    const isMain = machine === this.circuit.main;
    const { suction, path } = this;
    if (isMain) Object.assign(suction, leavingVapour);
    else fluid.vapourOfEnthalpy(tank.saturation.z, this.circuit.gas.tankVapourEnthalpy, suction);
    const low = (isMain ? evaporator : tank).saturation.z;
    const high = this.warm.z;
    path.superheat = 5;
    fluid.vapourOfEntropy(high, suction.s, path);
    const head = path.h - suction.h;
    const work = machine.discharge.h - suction.h;
    const polytropic = () => efficiencyOf((eta) => this.pathEnd(low, high, suction.h, eta) - machine.discharge.h);
    out[`${name}.isentropic_head`] = on ? head / 1e3 : null;
    out[`${name}.isentropic_efficiency`] = on ? head / work : null;
    out[`${name}.isentropic_efficiency_flange`] = on ? machine.efficiency : null;
    out[`${name}.polytropic_efficiency`] = on ? polytropic() : null;
    out[`${name}.mass_flow`] = on ? machine.massFlow : null;
    out[`${name}.suction_volume_flow`] = on ? machine.massFlow / suction.rho : null;
    out[`${name}.discharge_superheat`] = on ? machine.dischargeTemperature - this.warm.T : null;
    out[`${name}.power`] = on ? machine.electricPower / 1e3 : null;
    out[`${name}.drive_efficiency`] = on ? machine.driveEfficiency : null;
  }

  private economizer(out: MetricValues, on: boolean): void {
    const { tank, main, economizer, tankValveFlow, unitPower, ills } = this.circuit;
    const { h1, h3, h5, y, saturated } = this.expansion();
    // Power per kilogram, not rise of enthalpy: what the vapour line takes up from the room costs none.
    const each = economizer.electricPower / economizer.massFlow;
    const a = (h1 - h3) / (h1 - h5);
    const share = (y * each) / (main.electricPower / tankValveFlow);
    const saving = 1 - a * (1 + share);
    const avoided = (saturated / (1 - saturated) - y) * tankValveFlow * each;
    out['economizer_compressor.lift'] = on ? this.warm.T - tank.saturation.T : null;
    out['economizer_compressor.pressure_ratio'] = on ? this.warm.p / tank.saturation.p : null;
    out['economizer_compressor.suction_quality'] = on ? 1 - ills.carryOver : null;
    out['economizer.saving_fraction'] = on ? saving : null;
    out['economizer.power_saved'] = on ? ((saving / (1 - saving)) * unitPower) / 1e3 : null;
    out['subcooling.economizer_power_avoided'] = on ? avoided / 1e3 : null;
    out['economizer_compressor.power_share'] = on
      ? economizer.electricPower / (economizer.electricPower + main.electricPower)
      : null;
  }
}
