/** What a machine of the `parallel` arrangement is built of, and what its surroundings give it. SI. */
import type { CompressorParameters } from './compressor.ts';
import type { ActuatorOptions } from './control.ts';
import type { WaterSide } from './water.ts';

type WaterSideOptions = ConstructorParameters<typeof WaterSide>[0];

export interface ParallelParameters {
  readonly refrigerant: string;
  /** m3 and J/K. */
  readonly evaporator: { readonly volume: number; readonly metal: number };
  readonly condenser: { readonly volume: number; readonly metal: number; readonly sumpCapacity: number };
  readonly tank: { readonly volume: number; readonly metal: number };
  readonly mainCompressor: CompressorParameters;
  readonly economizerCompressor: CompressorParameters;
  readonly chilledWater: WaterSideOptions;
  readonly condenserWater: WaterSideOptions;
  /** W/K between the sump's liquid and the first water pass, at the level's set point. */
  readonly subcoolerConductance: number;
  /** m2 of flow coefficient times area, wide open. */
  readonly condenserValveArea: number;
  readonly tankValveArea: number;
  readonly valve: ActuatorOptions;
  readonly drives: ActuatorOptions;
  /** Part of drive and motor loss that liquid refrigerant carries off; the rest warms the machinery room. */
  readonly motorLossToRefrigerant: number;
  /** W/K to the machinery room. */
  readonly evaporatorAmbient: number;
  readonly condenserAmbient: number;
  readonly tankAmbient: number;
  /** W picked up by the vapour between tank and economizer compressor. */
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
