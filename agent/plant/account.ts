/** What a circuit keeps account of. */

/** The plant's own book-keeping across its boundary, J, and kg of refrigerant put in. */
export class Account {
  chilledWater = 0;
  condenserWater = 0;
  electric = 0;
  roomLoss = 0;
  ambient = 0;
  charged = 0;
  chargedMass = 0;
}

/** What the compressors of an arrangement do in a step; kg/s, J/kg and W. */
export interface Gas {
  /** Vapour drawn from the evaporator at `leavingVapour`. */
  suction: number;
  /** What leaves the tank, and its enthalpy there. */
  tankVapour: number;
  tankVapourEnthalpy: number;
  /** What arrives in the condenser: mass and energy, before the casing's losses. */
  discharge: number;
  dischargeEnergy: number;
  electric: number;
  driveLoss: number;
  casingLoss: number;
  /** Heat that the vapour line takes up from the room. */
  lineHeat: number;
  /** Whether anything turns or flows: a machine that stands lets vapour through. */
  turning: boolean;
}
