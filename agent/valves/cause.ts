/** Why a loop hunts: the first of the causes, in order, whose evidence is there. */
import { together } from './coherence.ts';
import { cleaned } from './grid.ts';
import type { Oscillation } from './oscillation.ts';
import { RULES } from './rules.ts';
import { covering, type Signals } from './signals.ts';
import { isFriction, isRounding, strokeFriction } from './sticking.ts';
import { atEnds, pegged } from './stroke.ts';
import type { Cause, Driver, LoopWindow, Sticking } from './types.ts';

export interface CauseFound {
  readonly cause: Cause;
  readonly driver: string | null;
}

export interface Evidence {
  readonly signals: Signals;
  readonly oscillation: Oscillation;
  readonly sticking: Sticking;
  /** Resolution of the measured value as sampled; 0: fine. */
  readonly quantum: number;
}

export function causeOf(window: LoopWindow, evidence: Evidence): CauseFound {
  const { signals, oscillation, sticking, quantum } = evidence;
  const alone = (cause: Cause): CauseFound => ({ cause, driver: null });
  if (isAtLimit(signals, window.stroke)) return alone('valve at its limit');
  const stroke = window.stroke ?? 100;
  const held = strokeFriction(signals, stroke);
  if (isCoarse(oscillation, quantum, isRounding(held, stroke))) return alone('coarse actuator or signal');
  if (!isFriction(held, stroke)) {
    const driver = drivenBy(window, signals, oscillation);
    if (driver !== null)
      return driver.relation === 'pressure'
        ? { cause: 'tank pressure swing', driver: driver.name }
        : { cause: 'driven', driver: driver.name };
  }
  if (isFriction(held, stroke) || sticking.verdict === 'sticking') return alone('friction or backlash');
  return alone('tuning');
}

function isAtLimit({ output, position }: Signals, stroke: number | null): boolean {
  const valve = position ?? output;
  if (valve === null) return false;
  if (stroke !== null && atEnds(valve, stroke, RULES.end_of_stroke) >= RULES.at_limit) return true;
  return output !== null && pegged(output) >= RULES.at_limit;
}

/** The level swings by little more than its own steps, or the positioner knows only a few places within the swing. */
function isCoarse({ amplitude }: Oscillation, quantum: number, rounds: boolean): boolean {
  return rounds || (quantum > 0 && 2 * amplitude.value <= 2.5 * quantum);
}

function drivenBy(window: LoopWindow, signals: Signals, oscillation: Oscillation): Driver | null {
  const period = oscillation.period.value;
  const level = signals.measured;
  // What flows in or out shows in the rate of a level, not in the level.
  const rate = window.kind === 'level' ? rateOf(level) : level;
  const valve = signals.position ?? signals.output;
  for (const driver of window.drivers) {
    const moves = covering(cleaned(driver.columns), signals.grid, 'line');
    if (moves === null) continue;
    const both = together(moves, driver.relation === 'pressure' ? level : rate, period);
    if (both === null || both.coherence < RULES.coherence) continue;
    if (driver.relation === 'inflow') {
      const own = valve === null ? null : together(moves, valve, period);
      if (own !== null && own.amplitudes[0] < RULES.driving * own.amplitudes[1]) continue;
      return driver;
    }
    // Half a period is a change of sign, not a lag: what remains is between -1/4 and 1/4 of a period.
    const lag = both.lag - Math.round(2 * both.lag) / 2;
    if (driver.relation === 'pressure' ? Math.abs(both.lag) >= RULES.opposite : lag >= -0.03) return driver;
  }
  return null;
}

function rateOf(values: Float64Array): Float64Array {
  const n = values.length;
  return values.map((_, i) => {
    const [a, b] = [Math.max(0, i - 1), Math.min(n - 1, i + 1)];
    return ((values[b] as number) - (values[a] as number)) / (b - a);
  });
}
