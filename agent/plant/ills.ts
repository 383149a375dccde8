/** What can go wrong inside a circuit, as the physics sees it. SI; all 0: a clean, full, tight machine. */

/** J/(kg K), dry air. */
const AIR_CONSTANT = 287.05;
/** Parts of full charge per second that a leak loses or a filling restores. */
const LEAK_RATE = 1 / 3000;
/** How much air at the tubes hinders condensing, per share of it in the pressure: common practice, no source. */
const BLANKET = 3;

export class Ills {
  /** Part of the condenser's conductance that scale has taken. */
  fouling = 0;
  /** kg of air in the condenser. */
  air = 0;
  /** Liquid by mass in what leaves the tank as vapour. */
  carryOver = 0;
  /** Part of the full charge that is to be missing, and that is. */
  undercharge = 0;
  private missing = 0;
  private readonly fullCharge: number;

  /** `fullCharge` in kg. */
  constructor(fullCharge: number) {
    this.fullCharge = fullCharge;
  }

  /** kg of air that has a partial pressure (Pa) in a volume (m3) at T (K). */
  static airMass(pressure: number, volume: number, T: number): number {
    return (pressure * volume) / (AIR_CONSTANT * T);
  }

  /** Pa of the air in a vapour space. */
  airPressure(volume: number, T: number): number {
    return (this.air * AIR_CONSTANT * T) / volume;
  }

  /** Part of the condensing conductance that air leaves. */
  clear(pressure: number, saturation: number): number {
    return 1 / (1 + (BLANKET * (pressure - saturation)) / pressure);
  }

  /** kg/s that leave now to bring the missing charge where it is to be; negative: filled in. */
  leak(dt: number): number {
    const away = this.undercharge - this.missing;
    const most = LEAK_RATE * dt;
    const now = Math.min(most, Math.max(-most, away));
    this.missing += now;
    return (now * this.fullCharge) / dt;
  }
}
