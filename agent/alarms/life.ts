/**
 * Life of one alarm as a pure fold, states in the words of ANSI/ISA-18.2: `normal` until the limit was crossed for
 * the on-delay, then `unacknowledged` until it was good for the off-delay. Delays count evaluated intervals, not the
 * clock: a step of the clock or a time without the agent neither raises nor clears anything.
 */
import type { AlarmRule } from './rules.ts';

export interface AlarmState {
  readonly state: 'normal' | 'unacknowledged';
  /** Milliseconds since the epoch: end of the interval in which the state was entered. */
  readonly since: number;
  /** Seconds of the present run of crossed intervals (while normal) or good intervals (while raised). */
  readonly counted_s: number;
  /** Value at the last evaluation that had one, catalogue unit. */
  readonly value: number | null;
}

export interface AlarmInput {
  /** End of the interval, ms since the epoch. */
  readonly time: number;
  readonly interval_s: number;
  /**
   * `crossed`: on the bad side of the limit; `good`: on the good side of limit and deadband; `between`: inside the
   * deadband; `unknown`: no usable figure; `not_judged`: the machine is not in the rule's state.
   */
  readonly verdict: 'crossed' | 'good' | 'between' | 'unknown' | 'not_judged';
  readonly value: number | null;
}

export type AlarmChange = 'raised' | 'cleared' | null;

export function firstState(time: number): AlarmState {
  return { state: 'normal', since: time, counted_s: 0, value: null };
}

/**
 * Next state, and what changed. A verdict of `unknown` holds everything where it is: missing data neither raises nor
 * clears.
 */
export function nextState(
  before: AlarmState,
  input: AlarmInput,
  delays: Pick<AlarmRule, 'on_delay_s' | 'off_delay_s'>,
): { readonly state: AlarmState; readonly change: AlarmChange } {
  const value = input.value ?? before.value;
  if (input.verdict === 'unknown') return { state: { ...before, value }, change: null };
  const raised = before.state === 'unacknowledged';
  const counts = raised ? input.verdict === 'good' || input.verdict === 'not_judged' : input.verdict === 'crossed';
  const counted_s = counts ? before.counted_s + input.interval_s : 0;
  const needed_s = raised ? delays.off_delay_s : delays.on_delay_s;
  if (!counts || counted_s < needed_s) return { state: { ...before, value, counted_s }, change: null };
  const state = raised ? 'normal' : 'unacknowledged';
  return { state: { state, since: input.time, counted_s: 0, value }, change: raised ? 'cleared' : 'raised' };
}

/** Where a figure stands to a rule's limit. */
export function verdictOf(
  rule: Pick<AlarmRule, 'side' | 'limit' | 'deadband'>,
  value: number,
): 'crossed' | 'good' | 'between' {
  const sign = rule.side === 'above' ? 1 : -1;
  const beyond = sign * (value - rule.limit);
  if (beyond > 0) return 'crossed';
  return beyond <= -rule.deadband ? 'good' : 'between';
}
