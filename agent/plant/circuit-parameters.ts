/** What every machine with a flash tank is built of, and what its surroundings give it. SI. */
import type { ActuatorOptions } from './control.ts';
import type { WaterSide } from './water.ts';

type WaterSideOptions = ConstructorParameters<typeof WaterSide>[0];

export interface CircuitParameters {
  readonly refrigerant: string;
  /** m3 and J/K; `cover`: m3 of liquid that keeps all tubes wet. */
  readonly evaporator: { readonly volume: number; readonly metal: number; readonly cover: number };
  readonly condenser: { readonly volume: number; readonly metal: number; readonly sumpCapacity: number };
  readonly tank: { readonly volume: number; readonly metal: number };
  /** K and m3 as it is filled: near its design point. */
  readonly filling: {
    readonly evaporator: number;
    readonly tank: number;
    readonly condenser: number;
    readonly liquid: number;
    readonly evaporatorLiquid: number;
  };
  readonly chilledWater: WaterSideOptions;
  readonly condenserWater: WaterSideOptions;
  /** W/K between the sump's liquid and the first water pass, at the level's set point. */
  readonly subcoolerConductance: number;
  /** m2 of flow coefficient times area, wide open. */
  readonly condenserValveArea: number;
  readonly tankValveArea: number;
  /** m2 through which vapour goes either way between evaporator and condenser past a compressor that stands. */
  readonly standstillArea: number;
  /** W/K that shells and circulating vapour carry between condenser or tank and evaporator while all stands. */
  readonly standstillConductance: number;
  readonly valve: ActuatorOptions;
  readonly drives: ActuatorOptions;
  /** Part of drive and motor loss that liquid refrigerant carries off; the rest warms the machinery room. */
  readonly motorLossToRefrigerant: number;
  /** W/K to the machinery room. */
  readonly evaporatorAmbient: number;
  readonly condenserAmbient: number;
  readonly tankAmbient: number;
  /** W picked up by the vapour between tank and the compressor that takes it. */
  readonly vapourLinePickUp: number;
  /** W of oil pump and controls: in the unit's power, not in the refrigerant. */
  readonly auxiliaryPower: number;
  readonly levelSetpoints: { readonly condenser: number; readonly tank: number };
}

/** What the world gives the machine in a step. */
export interface Surroundings {
  chilledEntering: number;
  chilledFlow: number;
  condenserEntering: number;
  condenserFlow: number;
  room: number;
  /** K, of the vapour leaving the evaporator. */
  suctionSuperheat: number;
}
