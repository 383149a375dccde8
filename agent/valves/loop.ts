/** One loop by itself, outside a machine: a recording, or samples that come one by one. */
import type { FastColumns } from '../points/fast-window.ts';
import { loopPayload } from './payload.ts';
import type { Recording } from './recording.ts';
import type { LoopKind, LoopVerdict, LoopWindow } from './types.ts';

export interface LoopSettings {
  readonly kind: LoopKind;
  /** Least amplitude worth a verdict, in the unit of the measured value; null: the noise alone is the measure. */
  readonly band: number | null;
  /** Full stroke in the unit of the output; null: 1 or 100, as the outputs lie. */
  readonly stroke: number | null;
}

export function loopOf(recording: Recording, { kind, band, stroke }: LoopSettings): LoopWindow {
  const { measured, output, setpoint, position } = recording;
  return { kind, measured, output, setpoint, position, drivers: [], band, stroke: stroke ?? strokeOf(output) };
}

/** The verdict in the unit of the measured value, whatever it is. */
export function loopAnswer(verdict: LoopVerdict): object {
  const { level_amplitude, level_amplitude_uncertainty, ...rest } = loopPayload(verdict);
  return { ...rest, amplitude: level_amplitude, amplitude_uncertainty: level_amplitude_uncertainty };
}

/** Outputs within 0 to 1 are parts of the stroke, within 0 to 100 %; else the stroke is not known. */
function strokeOf({ values }: FastColumns): number | null {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of values) [least, most] = [Math.min(least, value), Math.max(most, value)];
  if (least >= -0.05 && most <= 1.05) return 1;
  return least >= -5 && most <= 105 ? 100 : null;
}
