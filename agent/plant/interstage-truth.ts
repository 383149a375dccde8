/**
 * True values of the metrics of an `interstage` machine: 2 first-stage discharge, 9 entering and 10 leaving the second
 * stage. The efficiency is the one polytropic figure which, taken for both stages between vessel pressures with the
 * tank's vapour mixed in between, ends at the true h10.
 */
import type { InterstageCircuit } from './interstage.ts';
import type { MetricValues } from './machine.ts';
import { efficiencyOf, Truth } from './truth.ts';

export class InterstageTruth extends Truth<InterstageCircuit> {
  protected running(): boolean {
    const { first } = this.circuit;
    return first.running && first.massFlow > 0;
  }

  protected economizing(): boolean {
    return this.circuit.vapourFlow > 0.05;
  }

  protected shaftPower(): number {
    return this.circuit.first.shaftPower + this.circuit.second.shaftPower;
  }

  protected machines(out: MetricValues, on: boolean): void {
    const { circuit, warm } = this;
    const { first, second, tank, evaporator, leavingVapour, gas } = circuit;
    const economizing = on && this.economizing();
    const name = 'main_compressor';
    out[`${name}.first_stage_lift`] = economizing ? tank.saturation.T - evaporator.saturation.T : null;
    out[`${name}.second_stage_lift`] = economizing ? warm.T - tank.saturation.T : null;
    out[`${name}.mass_flow`] = on ? first.massFlow : null;
    out[`${name}.suction_volume_flow`] = on ? first.massFlow / leavingVapour.rho : null;
    out[`${name}.discharge_superheat`] = on ? second.dischargeTemperature - warm.T : null;
    out[`${name}.power`] = on ? gas.electric / 1e3 : null;
    out[`${name}.drive_efficiency`] = on ? this.shaftPower() / gas.electric : null;
    const efficiency = on ? this.polytropic(economizing) : null;
    out[`${name}.polytropic_efficiency`] = efficiency;
    out[`${name}.first_stage_efficiency_flange`] = on ? first.efficiency : null;
    out[`${name}.second_stage_efficiency_flange`] = on ? second.efficiency : null;
    const saving = economizing && efficiency !== null ? this.saving(efficiency) : null;
    out['economizer.saving_fraction'] = saving;
    out['economizer.power_saved'] = saving === null ? null : ((saving / (1 - saving)) * circuit.unitPower) / 1e3;
  }

  /** h10 (J/kg) of an efficiency over both stages. */
  private discharge(efficiency: number, economizing: boolean): number {
    const { evaporator, tank } = this.circuit;
    const { h1, h7, share } = this.expansion();
    const low = evaporator.saturation.z;
    const high = this.warm.z;
    if (!economizing) return this.pathEnd(low, high, h1, efficiency);
    const middle = tank.saturation.z;
    const h2 = this.pathEnd(low, middle, h1, efficiency);
    return this.pathEnd(middle, high, (1 - share) * h2 + share * h7, efficiency);
  }

  private polytropic(economizing: boolean): number {
    const { second } = this.circuit;
    return efficiencyOf((eta) => this.discharge(eta, economizing) - second.discharge.h);
  }

  /** 1 - W/W0 for the same heat, W0 straight from evaporator to condenser pressure at the same efficiency. */
  private saving(efficiency: number): number {
    const { h1, h3, h5, h7, share } = this.expansion();
    const h10 = this.circuit.second.discharge.h;
    const work = ((h10 - share * h7) / (1 - share) - h1) / (h1 - h5);
    const without = (this.discharge(efficiency, false) - h1) / (h1 - h3);
    return 1 - work / without;
  }
}
