/** One loop over one window: does it hunt, how, and why. */
import { causeOf } from './cause.ts';
import { around, type Oscillation, strongest } from './oscillation.ts';
import { RULES } from './rules.ts';
import { type Signals, type Stretch, signalsOf, stretchOf, uncut, VALUES_LEAST } from './signals.ts';
import { flickerOf, mean, noiseOf, quantumOf, rms, spread } from './statistics.ts';
import { judgeSticking } from './sticking.ts';
import { turning } from './stroke.ts';
import type { Estimate, LoopVerdict, LoopWindow, Verdict } from './types.ts';

/**
 * `whole`: a recording is judged as one, at its own pace. `recent`: periods are judged by their last ten to thirty
 * cycles, short ones over a short while, so that what has ended is over and what has begun is seen.
 */
export type Scope = 'whole' | 'recent';

/** A recording longer than this is thinned; s of a loop's slowest hunting fit a window of two hours ten times. */
const VALUES_MAX = 7200;
const RECENT_VALUES = 720;
/** Each scale is so much shorter than the one before, and covers periods over the second ratio: they overlap. */
const RATIO = 2;
const REACH = 3;
/** Below this length of a window a quiet loop is not called steady: slower hunting could not have shown, ms. */
const STEADY_AFTER = 1_800_000;
const TOO_SHORT = 'a slower swing could not have shown yet';
/** Greatest index of a loop that is not hunting. */
const QUIET = 0.49;

const NOTHING: Omit<LoopVerdict, 'verdict' | 'reason'> = {
  index: null,
  period_s: null,
  level_amplitude: null,
  position_amplitude: null,
  travel_per_hour: null,
  reversals_per_hour: null,
  cause: null,
  driver: null,
  sticking: { verdict: 'undecided', score: null, from: null },
  seen: null,
  flags: [],
};

export function noVerdict(verdict: 'not_enough' | 'unusable', reason: string): LoopVerdict {
  return { ...NOTHING, verdict, reason };
}

interface Scale {
  /** ms */
  readonly length: number;
  readonly step: number;
  readonly shortest: number;
  readonly longest: number;
}

function scalesOf(length: number, interval: number, scope: Scope): Scale[] {
  const least = RULES.samples_per_period * interval;
  if (scope === 'whole') {
    const step = Math.max(interval, length / VALUES_MAX);
    return [{ length, step, shortest: RULES.samples_per_period * step, longest: length / RULES.periods }];
  }
  const scales: Scale[] = [];
  for (let part = length; part / RULES.periods > least; part /= RATIO) {
    const shortest = Math.max(least, part / RULES.periods / REACH);
    // Whole intervals: between them the values would be smoothed unevenly.
    const step = interval * Math.max(1, Math.ceil(part / RECENT_VALUES / interval));
    // A last scale of less than half an octave is left to the one before.
    const last = part / RATIO / RULES.periods < 1.4 * least;
    scales.push({ length: part, step, shortest: last ? least : shortest, longest: part / RULES.periods });
    if (last) break;
  }
  return scales;
}

interface Finding {
  readonly signals: Signals;
  readonly oscillation: Oscillation;
  readonly hunts: boolean;
  readonly flags: readonly string[];
}

export function analyseLoop(window: LoopWindow, scope: Scope): LoopVerdict {
  const part = stretchOf(window, scope === 'whole' ? 'longest' : 'last');
  if (part === null) return noVerdict('not_enough', 'fewer than three samples');
  const { measured, interval } = part;
  const length = (measured.times[measured.times.length - 1] as number) - (measured.times[0] as number);
  const seen = {
    interval_s: interval / 1000,
    shortest_s: (RULES.samples_per_period * interval) / 1000,
    longest_s: length / RULES.periods / 1000,
  };
  if (length < (VALUES_LEAST - 1) * interval)
    return {
      ...noVerdict('not_enough', `needs ten periods of five new values each; one comes every ${seen.interval_s} s`),
      seen,
      flags: part.flags,
    };
  const found = scalesOf(length, interval, scope).flatMap((scale) => findIn(window, part, scale));
  const base = signalsOf(window, part, { length, step: Math.max(interval, length / VALUES_MAX) });
  if (base === null) return { ...noVerdict('not_enough', 'too few values'), seen, flags: part.flags };
  const best = choose(found);
  return { ...describe(window, { part, base, best, scope, length }), seen };
}

function findIn(window: LoopWindow, part: Stretch, scale: Scale): Finding[] {
  const signals = signalsOf(window, part, scale);
  if (signals === null) return [];
  const oscillation = strongest(signals.measured, scale.shortest / scale.step, scale.longest / scale.step);
  if (oscillation === null) return [];
  return [{ signals, oscillation, ...judged(window, part, { signals, oscillation }) }];
}

/** Regular, lasting, larger than band, noise and resolution, and not the set point's doing. */
function judged(
  window: LoopWindow,
  part: Stretch,
  { signals, oscillation }: Pick<Finding, 'signals' | 'oscillation'>,
): Pick<Finding, 'hunts' | 'flags'> {
  const { amplitude, index, sustained, period } = oscillation;
  const flags: string[] = [];
  const regular = index >= RULES.index;
  if (regular && !sustained) flags.push('not_sustained');
  const quantum = quantumOf(part.measured.values);
  const size = amplitude.value;
  const small =
    size < RULES.over_noise * noiseOf(signals.measured) ||
    size < RULES.over_quantum * quantum ||
    (window.band !== null && size < window.band);
  if (regular && small) flags.push('small_amplitude');
  let follows = false;
  if (part.setpointMoves && signals.setpoint !== null) {
    const swing = Math.SQRT2 * rms(around(signals.setpoint, period.value).values);
    follows = swing >= RULES.follows * size;
    if (regular && follows) flags.push('follows_setpoint');
  }
  return { hunts: regular && sustained && !small && !follows, flags };
}

function choose(found: readonly Finding[]): Finding | null {
  const hunting = found.filter(({ hunts }) => hunts);
  const among = hunting.length > 0 ? hunting : found;
  const size = ({ oscillation }: Finding): number =>
    oscillation.index * (hunting.length > 0 ? oscillation.amplitude.value : 1);
  return among.reduce<Finding | null>((best, each) => (best === null || size(each) > size(best) ? each : best), null);
}

interface Judged {
  readonly part: Stretch;
  /** The whole stretch. */
  readonly base: Signals;
  readonly best: Finding | null;
  readonly scope: Scope;
  readonly length: number;
}

function describe(window: LoopWindow, { part, base, best, scope, length }: Judged): LoopVerdict {
  const flags = [...part.flags, ...(part.setpointMoves ? ['setpoint_moves'] : []), ...(best?.flags ?? [])];
  if (window.band === null) flags.push('no_band');
  const { values } = part.measured;
  const still = values.every((value) => value === values[0]);
  const about = { kind: window.kind, stroke: window.stroke };
  // A step of the set point disturbs an oscillation and shows whether a valve answers.
  const all = scope === 'whole' && best?.hunts !== true ? uncut(window, part) : null;
  const wide = all === null ? null : signalsOf(window, all, { length: Number.POSITIVE_INFINITY, step: base.grid.step });
  const sticking = judgeSticking(best?.signals ?? base, best?.oscillation ?? null, { ...about, wide: wide ?? base });
  const travels = travel(base, length);
  if (still) return { ...noVerdict('unusable', 'the measured value never moves'), ...travels, sticking, flags };
  const index = best?.oscillation.index ?? 0;
  // The index alone must not say hunting where the verdict does not.
  const common = { ...NOTHING, ...travels, sticking, index: best?.hunts === true ? index : Math.min(index, QUIET) };
  if (best === null || !best.hunts) {
    // An index near 0 would say that nothing swings, which is what is not known yet. What the valve did is known.
    if (scope === 'recent' && length < STEADY_AFTER)
      return { ...common, index: null, verdict: 'not_enough', reason: TOO_SHORT, flags };
    return { ...common, verdict: 'steady' satisfies Verdict, reason: null, flags };
  }
  const { signals, oscillation } = best;
  const valve = signals.position ?? signals.output;
  const found = causeOf(window, { signals, oscillation, sticking, quantum: quantumOf(values) });
  return {
    ...common,
    verdict: 'hunting',
    reason: null,
    period_s: scaled(oscillation.period, signals.step),
    level_amplitude: oscillation.amplitude,
    position_amplitude: valve === null ? null : swingOf(valve, oscillation),
    ...found,
    flags,
  };
}

function scaled({ value, uncertainty }: Estimate, by: number): Estimate {
  return { value: value * by, uncertainty: uncertainty * by };
}

/** Amplitude of the valve over the level's own half-cycles: root mean square of each, as of a sine. */
function swingOf(valve: Float64Array, { period, halves, offset }: Oscillation): Estimate {
  const { values } = around(valve, period.value);
  const each = halves
    .map(({ from, to }) => values.subarray(Math.ceil(from), Math.floor(to) + 1))
    .filter((part) => part.length > 0 && offset >= 0)
    .map((part) => Math.SQRT2 * rms(part));
  return { value: mean(each), uncertainty: (2 * spread(each)) / Math.sqrt(Math.max(1, each.length)) };
}

function travel(base: Signals, length: number): Pick<LoopVerdict, 'travel_per_hour' | 'reversals_per_hour'> {
  const valve = base.position ?? base.output;
  if (valve === null) return { travel_per_hour: null, reversals_per_hour: null };
  const least = Math.max(4 * flickerOf(valve), 2.5 * quantumOf(valve));
  const { travel: sum, reversals } = turning(valve, least);
  const hours = length / 3_600_000;
  return { travel_per_hour: sum / hours, reversals_per_hour: reversals / hours };
}
