/** What a machine of the `interstage` arrangement is built of. SI. */
import type { CircuitParameters } from './circuit-parameters.ts';
import type { CompressorParameters } from './compressor.ts';
import type { ActuatorOptions } from './control.ts';

export interface InterstageParameters extends CircuitParameters {
  /** Both stages on one shaft; each carries its half of the one motor's rating and fixed loss. */
  readonly firstStage: CompressorParameters;
  readonly secondStage: CompressorParameters;
  /** m2 of flow coefficient times area of the vapour line from the tank, open. */
  readonly vapourLineArea: number;
  readonly vapourValve: ActuatorOptions;
}
