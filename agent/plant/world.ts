/**
 * Load, weather and the water loops outside the chiller: what a district cooling plant sees through a summer's day. SI.
 */
import { WATTS_PER_TON } from '../base/units.ts';
import { RandomStream, Wander } from './random.ts';
import { waterHeatCapacity } from './water.ts';

export interface WorldParameters {
  readonly ratedTons: number;
  /** Part of rated load: mean, day swing, second harmonic. */
  readonly load: { readonly mean: number; readonly swing: number; readonly second: number; readonly peakHour: number };
  /** K. */
  readonly wetBulb: { readonly mean: number; readonly swing: number; readonly peakHour: number };
  /** Tower: approach at no load, further approach at full load, lowest water temperature (K, K, K). */
  readonly tower: { readonly approach: number; readonly loadApproach: number; readonly lowest: number };
  /** m3/s. */
  readonly chilledFlow: number;
  readonly condenserFlow: number;
  /** kg of water in the building loop. */
  readonly loopContent: number;
}

const DAY = 86_400;
const TOWER_LAG = 300;
/** s for a pump to come up to speed or down. */
const PUMP_RAMP = 20;
/** K, of the water that stands at the inlet while other machines carry the load, and the lag to it, s. */
const HEADER = 285.4;
const HEADER_LAG = 600;

export class World {
  wetBulb: number;
  dryBulb = 0;
  /** Pa. */
  barometer = 101_325;
  /** W asked of the chiller. */
  load = 0;
  chilledEntering: number;
  chilledFlow = 0;
  condenserEntering: number;
  condenserFlow = 0;
  room = 299;
  suctionSuperheat = 2;
  /** Whether the machine's own pumps are to run. */
  pumps = true;
  /** Part of rated load that is asked for whatever the day says. */
  heldLoad: number | null = null;
  private pumping = 1;
  private readonly parameters: WorldParameters;
  private readonly dayLoad: Wander;
  private readonly fastLoad: Wander;
  private readonly weather: Wander;
  private readonly dryness: Wander;
  private readonly air: Wander;
  private readonly chilledPump: Wander;
  private readonly condenserPump: Wander;
  private readonly fan: Wander;
  private readonly superheat: Wander;

  constructor(parameters: WorldParameters, seed: number) {
    this.parameters = parameters;
    const wander = (name: string, sigma: number, tau: number) =>
      new Wander(new RandomStream(seed, `world/${name}`), { sigma, tau });
    this.dayLoad = wander('day load', 0.02, DAY);
    this.fastLoad = wander('load', 0.006, 1800);
    this.weather = wander('weather', 0.8, DAY);
    this.dryness = wander('dryness', 1, DAY);
    this.air = wander('barometer', 600, 2 * DAY);
    this.chilledPump = wander('chilled pump', 0.003, 900);
    this.condenserPump = wander('condenser pump', 0.003, 900);
    this.fan = wander('fan', 0.06, 900);
    this.superheat = wander('superheat', 0.25, 1200);
    this.wetBulb = parameters.wetBulb.mean;
    this.condenserEntering = parameters.wetBulb.mean + parameters.tower.approach + parameters.tower.loadApproach;
    this.chilledEntering = 284;
  }

  /**
   * Carries the world on by dt (s) to `second` of the day's clock; `leaving` is the chilled water that the chiller
   * gives back (K).
   */
  step(dt: number, second: number, chilledLeaving: number, heatRejectedShare: number): void {
    for (const wander of [this.dayLoad, this.fastLoad, this.weather, this.dryness, this.air]) wander.step(dt);
    for (const wander of [this.chilledPump, this.condenserPump, this.fan, this.superheat]) wander.step(dt);
    const { load, wetBulb, tower, ratedTons } = this.parameters;
    const turn = (hour: number, times: number) => Math.cos((2 * Math.PI * times * (second - hour * 3600)) / DAY);
    this.wetBulb = wetBulb.mean + wetBulb.swing * turn(wetBulb.peakHour, 1) + this.weather.value;
    this.dryBulb = this.wetBulb + 3.5 + 1.5 * turn(15, 1) + 0.3 * this.dryness.value;
    this.room = 298 + 0.3 * (this.dryBulb - 298);
    this.barometer = 101_325 + this.air.value;
    const part =
      load.mean +
      load.swing * turn(load.peakHour, 1) +
      load.second * turn(load.peakHour, 2) +
      0.012 * this.weather.value +
      this.dayLoad.value +
      this.fastLoad.value;
    this.load = (this.heldLoad ?? Math.max(0.25, Math.min(1.03, part))) * ratedTons * WATTS_PER_TON;
    const ramp = dt / PUMP_RAMP;
    this.pumping = Math.min(1, Math.max(0, this.pumping + (this.pumps ? ramp : -ramp)));
    this.chilledFlow = this.pumping * this.parameters.chilledFlow * (1 + this.chilledPump.value);
    this.condenserFlow = this.pumping * this.parameters.condenserFlow * (1 + this.condenserPump.value);
    this.suctionSuperheat = Math.min(3, Math.max(1, 1 + heatRejectedShare + this.superheat.value));

    this.circulate(dt, chilledLeaving);
    const aim = Math.max(tower.lowest, this.wetBulb + tower.approach + tower.loadApproach * heatRejectedShare);
    this.condenserEntering += (aim + this.fan.value - this.condenserEntering) * (1 - Math.exp(-dt / TOWER_LAG));
  }

  /** The building's water: warmed by the load, cooled by the chiller; without its flow others take the load over. */
  private circulate(dt: number, chilledLeaving: number): void {
    if (this.pumping === 0) {
      this.chilledEntering += (HEADER - this.chilledEntering) * (dt / HEADER_LAG);
      return;
    }
    const flow = this.chilledFlow * 999.6;
    const mixed = flow * (chilledLeaving - this.chilledEntering) + this.load / waterHeatCapacity(this.chilledEntering);
    this.chilledEntering += (dt * mixed) / this.parameters.loopContent;
  }
}
