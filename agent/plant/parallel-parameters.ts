/** What a machine of the `parallel` arrangement is built of. SI. */
import type { CircuitParameters } from './circuit-parameters.ts';
import type { CompressorParameters } from './compressor.ts';

export interface ParallelParameters extends CircuitParameters {
  readonly mainCompressor: CompressorParameters;
  readonly economizerCompressor: CompressorParameters;
}
