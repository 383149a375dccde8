/**
 * True values of the metrics that all arrangements have, from a circuit's own states and flows: what a perfect observer
 * would publish. Numbering of states as in the trade's pressure-enthalpy diagram: 1 leaving the evaporator, 3 liquid
 * leaving the condenser, 5 liquid and 7 vapour leaving the tank. Heads and efficiencies are counted between vessel
 * pressures, saturation in the condenser at its whole pressure, as the catalogue does. Catalogue units; null: it has no
 * meaning now.
 */
import { WATTS_PER_TON } from '../base/units.ts';
import type { Circuit } from './circuit.ts';
import { SaturationState, VapourState } from './fluid.ts';
import type { MetricValues } from './machine.ts';

const ZERO_CELSIUS = 273.15;
/**
 * So many that the path of constant efficiency is exact to 1e-4 of the work: ten would put the saving of two stages
 * 0.0015 high.
 */
const PATH_STEPS = 120;
/** Part of rated capacity below which ratios to capacity mean nothing. */
const LEAST_LOAD = 0.02;

/** Mean logarithmic difference of water entering and leaving against one temperature; null where they cross. */
function logMean(a: number, b: number): number | null {
  if (!(a * b > 0)) return null;
  return Math.abs(a - b) < 1e-6 ? a : (a - b) / Math.log(a / b);
}

export abstract class Truth<C extends Circuit> {
  protected readonly circuit: C;
  /** In W. */
  protected readonly ratedCapacity: number;
  /** Saturation at the condenser's whole pressure. */
  protected readonly warm = new SaturationState();
  protected readonly path = new VapourState();
  private readonly line = new SaturationState();

  constructor(circuit: C, ratedCapacity: number) {
    this.circuit = circuit;
    this.ratedCapacity = ratedCapacity;
  }

  metrics(out: MetricValues): void {
    const { fluid, condenserPressure } = this.circuit;
    fluid.saturation(fluid.coordinate(condenserPressure), this.warm);
    const on = this.running();
    this.temperatures(out, on);
    this.exchangers(out, on);
    this.unit(out, on);
    this.flash(out, on);
    this.machines(out, on);
  }

  protected abstract running(): boolean;
  protected abstract economizing(): boolean;
  /** Shaft power into the refrigerant, W. */
  protected abstract shaftPower(): number;
  protected abstract machines(out: MetricValues, on: boolean): void;

  private temperatures(out: MetricValues, on: boolean): void {
    const { evaporator, tank, sump } = this.circuit;
    out['evaporator.saturation_temperature'] = evaporator.saturation.T - ZERO_CELSIUS;
    out['condenser.saturation_temperature'] = this.warm.T - ZERO_CELSIUS;
    out['flash_tank.saturation_temperature'] = tank.saturation.T - ZERO_CELSIUS;
    out['condenser.subcooling'] = on ? this.warm.T - sump.T : null;
    out['main_compressor.suction_superheat'] = on ? this.circuit.leavingVapour.superheat : null;
    out['main_compressor.lift'] = on ? this.warm.T - evaporator.saturation.T : null;
    out['main_compressor.pressure_ratio'] = on ? this.warm.p / evaporator.saturation.p : null;
  }

  private exchangers(out: MetricValues, on: boolean): void {
    const { evaporator, chilledWater, condenserWater } = this.circuit;
    const cold = evaporator.saturation.T;
    const warm = this.warm.T;
    out['evaporator.approach'] = on ? chilledWater.leaving - cold : null;
    out['condenser.approach'] = on ? warm - condenserWater.leaving : null;
    const evaporatorMean = logMean(chilledWater.entering - cold, chilledWater.leaving - cold);
    const condenserMean = logMean(warm - condenserWater.entering, warm - condenserWater.leaving);
    out['evaporator.ua'] = on && evaporatorMean !== null ? -chilledWater.pickedUp / evaporatorMean / 1e3 : null;
    out['condenser.ua'] = on && condenserMean !== null ? condenserWater.pickedUp / condenserMean / 1e3 : null;
  }

  private unit(out: MetricValues, on: boolean): void {
    const { chilledWater, condenserWater, motorHeat, unitPower } = this.circuit;
    const capacity = -chilledWater.pickedUp;
    const rejected = condenserWater.pickedUp;
    const loaded = on && capacity > LEAST_LOAD * this.ratedCapacity;
    const cop = capacity / unitPower;
    const carnot = chilledWater.leaving / (condenserWater.leaving - chilledWater.leaving);
    const into = capacity + this.shaftPower() + motorHeat;
    out['unit.capacity'] = on ? capacity / 1e3 : null;
    out['condenser.heat_rejected'] = on ? rejected / 1e3 : null;
    out['unit.load_fraction'] = on ? capacity / this.ratedCapacity : null;
    for (const way of ['chilled_water', 'power', 'condenser_water'])
      out[`unit.capacity_from_${way}`] = on ? capacity / 1e3 : null;
    out['unit.power'] = unitPower / 1e3;
    out['unit.cop'] = loaded ? cop : null;
    out['unit.kw_per_ton'] = loaded ? unitPower / 1e3 / (capacity / WATTS_PER_TON) : null;
    out['unit.carnot_fraction'] = loaded && carnot > 0 ? cop / carnot : null;
    out['unit.heat_balance_error'] = loaded ? (into - rejected) / (0.5 * (into + rejected)) : null;
  }

  /**
   * Enthalpies of the refrigerant's way down, J/kg, and shares: x4 of vapour in the tank, `share` of all flow that
   * leaves it upwards at h7, y per flow to the evaporator. Liquid carried over is in h7, `share` and y.
   */
  protected expansion() {
    const { evaporator, tank, sump, leavingVapour, gas } = this.circuit;
    const { hLiquid, hVapour } = tank.saturation;
    const h3 = sump.h;
    const x4 = (h3 - hLiquid) / (hVapour - hLiquid);
    const h5 = this.economizing() ? hLiquid : h3;
    const saturated = (this.warm.hLiquid - hLiquid) / (hVapour - hLiquid);
    const h7 = gas.tankVapourEnthalpy;
    const share = (h3 - hLiquid) / (h7 - hLiquid);
    return {
      h1: leavingVapour.h,
      h3,
      h5,
      h7,
      x4,
      share,
      y: share / (1 - share),
      saturated,
      cold: evaporator.saturation,
    };
  }

  private flash(out: MetricValues, on: boolean): void {
    const { circuit } = this;
    const economizing = on && this.economizing();
    const { h1, h3, h5, x4, saturated, cold } = this.expansion();
    const latent = cold.hVapour - cold.hLiquid;
    out['flash_tank.flash_fraction'] = economizing ? x4 : null;
    out['flash_tank.flash_fraction_without_subcooling'] = economizing ? saturated : null;
    out['evaporator.flash_fraction'] = on ? (h5 - cold.hLiquid) / latent : null;
    out['evaporator.flash_fraction_without_economizer'] = on ? (h3 - cold.hLiquid) / latent : null;
    out['evaporator.mass_flow'] = on ? circuit.gas.suction - circuit.motorCoolingFlow : null;
    out['condenser.storage_mass_flow'] = on ? circuit.sumpStored : null;
    out['flash_tank.storage_mass_flow'] = on ? circuit.tankStored : null;
    out['condenser.mass_flow'] = on ? circuit.condenserValveFlow + circuit.motorCoolingFlow : null;
    out['flash_tank.vapour_mass_flow'] = economizing ? circuit.gas.tankVapour * (1 - circuit.ills.carryOver) : null;
    out['economizer.refrigerating_effect_gain'] = economizing ? (h3 - h5) / (h1 - h3) : null;
    const more = (h1 - h5) / (h1 - h3);
    out['economizer.suction_volume_flow_without'] = economizing
      ? (circuit.gas.suction * more) / circuit.leavingVapour.rho
      : null;
  }

  /**
   * Enthalpy (J/kg) after compression from h at pressure coordinate `low` to `high` with one efficiency of equal small
   * steps in ln p.
   */
  protected pathEnd(low: number, high: number, start: number, efficiency: number): number {
    const { fluid } = this.circuit;
    const { path, line } = this;
    path.superheat = 3;
    fluid.vapourOfEnthalpy(low, start, path);
    let h = start;
    let { rho } = path;
    fluid.saturation(low, line);
    let p = line.p;
    for (let i = 1; i <= PATH_STEPS; i++) {
      const z = low + ((high - low) * i) / PATH_STEPS;
      fluid.saturation(z, line);
      const step = line.p - p;
      // Heun: density at both ends of the step.
      fluid.vapourOfEnthalpy(z, h + step / rho / efficiency, path);
      h += (0.5 * step * (1 / rho + 1 / path.rho)) / efficiency;
      fluid.vapourOfEnthalpy(z, h, path);
      rho = path.rho;
      p = line.p;
    }
    return h;
  }
}

/** The efficiency at which `excess` is 0, by secant from 0.8. */
export function efficiencyOf(excess: (efficiency: number) => number): number {
  let a = 0.8;
  let b = 0.85;
  let atA = excess(a);
  for (let i = 0; i < 12; i++) {
    const atB = excess(b);
    if (Math.abs(atB) < 1e-3 || atB === atA) break;
    const next = Math.min(1.2, Math.max(0.2, b - (atB * (b - a)) / (atB - atA)));
    a = b;
    atA = atB;
    b = next;
  }
  return b;
}
