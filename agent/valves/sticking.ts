/**
 * Whether the valve sticks (static friction or backlash, not told apart). Where command and position are both there
 * they are compared; else the shape of the oscillation is read: of the measured value where it integrates (He et al.
 * 2007), of the output where the process follows its valve and the controller integrates.
 */
import { answerOf, answerScore } from './answer.ts';
import { together } from './coherence.ts';
import { around, halfCycles, type Oscillation } from './oscillation.ts';
import { RULES } from './rules.ts';
import { shapeIndex } from './shape.ts';
import type { Signals } from './signals.ts';
import { flickerOf, noiseOf, quantile, quantumOf, rms } from './statistics.ts';
import { type Friction, friction } from './stroke.ts';
import type { LoopKind, Sticking } from './types.ts';

const UNDECIDED: Sticking = { verdict: 'undecided', score: null, from: null };

/** Command against position; null where one is missing or the valve never stood. `stroke` in their unit. */
export function strokeFriction({ output, position }: Signals, stroke: number): Friction | null {
  if (output === null || position === null) return null;
  const range = rangeOf(position);
  // Noise and resolution of the feedback; steps as large as the movement itself are the valve's, not the feedback's.
  const tolerance = Math.max(3 * flickerOf(position), 2.5 * quantumOf(position), 5e-4 * stroke);
  return friction(output, position, Math.min(tolerance, 0.3 * range));
}

function rangeOf(values: Float64Array): number {
  return quantile(values, 0.97) - quantile(values, 0.03);
}

/** Command and position where the valve did not stand three times: it followed all the time, or never moved. */
function followed({ output, position }: Signals, stroke: number): Sticking | null {
  if (output === null || position === null) return null;
  const [asked, moved] = [rangeOf(output), rangeOf(position)];
  if (asked < RULES.dead_band * stroke) return null;
  return decided(moved < 0.1 * asked ? 1 : 0, 'stroke');
}

/** A positioner that knows only a few places: it stands next to its command, never far from it. */
export function isRounding(found: Friction | null, stroke: number): boolean {
  return (
    found !== null &&
    found.still >= RULES.still &&
    found.jump >= RULES.dead_band * stroke &&
    found.spread < RULES.rounding
  );
}

export function isFriction(found: Friction | null, stroke: number): boolean {
  return (
    found !== null &&
    found.band >= RULES.dead_band * stroke &&
    found.standing >= RULES.standing &&
    !isRounding(found, stroke)
  );
}

/** `wide`: all there is of the loop, also where its oscillation is sought in a part of it. */
export function judgeSticking(
  signals: Signals,
  oscillation: Oscillation | null,
  { kind, stroke, wide }: { readonly kind: LoopKind; readonly stroke: number | null; readonly wide: Signals },
): Sticking {
  const range = stroke ?? 100;
  const found = strokeFriction(signals, range);
  if (found !== null) {
    // Half of the score each: how wide the band is, how much of the time the stem stands in it.
    const wide = found.band / (found.band + RULES.dead_band * range);
    const score = Math.min(1, wide * Math.min(1, found.standing / RULES.standing) * 1.2);
    return decided(isFriction(found, range) ? Math.max(score, RULES.sticking) : Math.min(score, 0.5), 'stroke');
  }
  const following = followed(signals, range);
  if (following !== null) return following;
  if (oscillation === null || oscillation.index < RULES.index) return kind === 'level' ? UNDECIDED : fromAnswer(wide);
  const period = oscillation.period.value;
  if (kind === 'level' || signals.output === null)
    return fromShape(shapeOf(signals.measured, period), 'shape of the measured value');
  const shape = shapeOf(signals.output, period);
  const both = together(signals.output, signals.measured, period);
  if (kind !== 'flow' || both === null || both.coherence < RULES.coherence)
    return fromShape(shape, 'shape of the output');
  // A quarter period between output and flow is a valve that does not follow; none or half a period one that does
  // (Horch 1999, Control Eng. Practice 7, 1221-1231, from memory).
  const odd = Math.abs(Math.sin(2 * Math.PI * both.lag));
  return decided(shape === null ? odd : (odd + shape) / 2, 'lag and shape of the output');
}

function fromAnswer({ output, measured, setpoint }: Signals): Sticking {
  if (output === null || setpoint === null) return UNDECIDED;
  const found = answerOf({ output, measured, setpoint });
  return found === null ? UNDECIDED : decided(answerScore(found), 'answer to the output');
}

function fromShape(shape: number | null, from: string): Sticking {
  return shape === null ? UNDECIDED : decided(shape, from);
}

function decided(score: number, from: string): Sticking {
  return { verdict: score >= RULES.sticking ? 'sticking' : 'not_sticking', score, from };
}

/** Shape index of a signal at a period, with half the smoothing: corners tell. */
export function shapeOf(values: Float64Array, period: number): number | null {
  const { values: filtered } = around(values, period, 16);
  const halves = halfCycles(filtered, 0.25 * Math.SQRT2 * rms(filtered));
  const noise = noiseOf(values) ** 2 / Math.max(1, Math.round(period / 16));
  return shapeIndex(filtered, halves, noise);
}
