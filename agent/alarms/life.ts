/**
 * Life of one alarm as a pure fold: what is found in an interval and what people command become signals, and the table
 * of `states.ts` says what they do. Delays count evaluated intervals, not the clock: a step of the clock or a time
 * without the agent neither raises nor clears anything. A shelf ends by the clock or by counted intervals, whichever
 * is sooner, so that a clock that was set back cannot lengthen it.
 */
import { type AlarmNode, after, isActive, isShelved, type Signal } from './states.ts';

/** Who did something to an alarm, when (ms since the epoch), and why. */
export interface Deed {
  readonly by: string;
  readonly time: number;
  readonly reason: string | null;
}

export interface Shelf extends Deed {
  /** ms since the epoch. */
  readonly until: number;
  /** Seconds of counted intervals that it has lasted. */
  readonly lasted_s: number;
}

export interface AlarmState {
  readonly state: AlarmNode;
  /** Milliseconds since the epoch: end of the interval in which the state was entered. */
  readonly since: number;
  /** What is being counted towards, and seconds of the present run of intervals that speak for it. */
  readonly counting: 'raise' | 'suppress' | 'clear' | null;
  readonly counted_s: number;
  /** Value at the last evaluation that had one, catalogue unit. */
  readonly value: number | null;
  /** When the condition last began, and when it last ended; ms, null: not since the alarm was last normal. */
  readonly raised: number | null;
  readonly cleared: number | null;
  /** Of the present occurrence. */
  readonly acknowledged: Deed | null;
  readonly shelf: Shelf | null;
  /** What of the machine's state explains the crossed limit, while suppressed by design. */
  readonly explained: string | null;
}

/** How an alarm behaves. */
export interface Traits {
  readonly on_delay_s: number;
  readonly off_delay_s: number;
  /** Stays until it was acknowledged after its condition ended. */
  readonly latching: boolean;
  /** Why it is out of service; null: in service. */
  readonly out_of_service: string | null;
}

export interface AlarmInput {
  /** End of the interval, ms since the epoch. */
  readonly time: number;
  readonly interval_s: number;
  /**
   * `crossed`: on the bad side of the limit; `good`: on the good side of limit and deadband; `between`: inside the
   * deadband; `unknown`: no usable figure.
   */
  readonly verdict: 'crossed' | 'good' | 'between' | 'unknown';
  /** Why the machine's state explains whatever is found (start-up, stopped); null: it does not. */
  readonly explained: string | null;
  readonly value: number | null;
}

/** What became of an alarm. `raised` and `cleared`: its condition began and ended, whatever the state is then. */
export type Change =
  | 'raised'
  | 'cleared'
  | 'suppressed'
  | 'acknowledged'
  | 'shelved'
  | 'unshelved'
  | 'removed'
  | 'restored';

export interface Step {
  readonly state: AlarmState;
  readonly change: Change | null;
}

const CHANGES: Readonly<Record<Signal, Change>> = {
  raise: 'raised',
  clear: 'cleared',
  latch: 'cleared',
  suppress: 'suppressed',
  acknowledge: 'acknowledged',
  shelve: 'shelved',
  unshelve: 'unshelved',
  expire: 'unshelved',
  remove: 'removed',
  restore: 'restored',
};

export function firstState(time: number): AlarmState {
  return {
    state: 'normal',
    since: time,
    counting: null,
    counted_s: 0,
    value: null,
    raised: null,
    cleared: null,
    acknowledged: null,
    shelf: null,
    explained: null,
  };
}

/** Gives a signal at a time; the state as it was where the table knows no way. */
export function signalled(
  before: AlarmState,
  signal: Signal,
  at: { readonly time: number; readonly deed?: Deed; readonly shelf?: Shelf; readonly explained?: string | null },
): Step {
  const state = after(before.state, signal);
  if (state === null) return { state: before, change: null };
  const wasActive = isActive(before.state);
  const moved: AlarmState = {
    ...before,
    state,
    since: state === before.state ? before.since : at.time,
    counting: null,
    counted_s: 0,
    raised: signal === 'raise' ? at.time : before.raised,
    cleared: signal === 'raise' ? null : wasActive && !isActive(state) ? at.time : before.cleared,
    acknowledged:
      signal === 'acknowledge' ? (at.deed ?? null) : state === 'unacknowledged' ? null : before.acknowledged,
    shelf: isShelved(state) ? (at.shelf ?? before.shelf) : null,
    explained: state === 'suppressed by design' ? (at.explained ?? before.explained) : null,
  };
  const change = signal === 'suppress' && state !== 'suppressed by design' ? 'cleared' : CHANGES[signal];
  return { state: state === 'normal' ? ended(moved) : moved, change };
}

/** A normal alarm remembers nothing of its last occurrence but when it ended. */
function ended(state: AlarmState): AlarmState {
  return { ...state, acknowledged: null, shelf: null };
}

/** A shelf that ended, and service as the site file says: before the interval's figures are judged. */
export function administered(before: AlarmState, traits: Traits, time: number, interval_s: number): readonly Step[] {
  const steps: Step[] = [];
  let state = before;
  const take = (step: Step): void => {
    state = step.state;
    if (step.change !== null) steps.push(step);
  };
  const out = state.state === 'out of service';
  if (traits.out_of_service !== null && !out) take(signalled(state, 'remove', { time }));
  if (traits.out_of_service === null && out) take(signalled(state, 'restore', { time }));
  if (state.shelf !== null) {
    const { time: from, until, lasted_s } = state.shelf;
    const lasted = lasted_s + interval_s;
    if (time >= until || lasted * 1000 >= until - from) take(signalled(state, 'expire', { time }));
    else steps.push({ state: { ...state, shelf: { ...state.shelf, lasted_s: lasted } }, change: null });
  }
  return steps;
}

/**
 * Next state by what was found. A verdict of `unknown` holds everything where it is: missing data neither raises nor
 * clears, unless the machine's state explains that there is none.
 */
export function nextState(before: AlarmState, input: AlarmInput, traits: Traits): Step {
  const value = input.value ?? before.value;
  const held = { ...before, value };
  if (before.state === 'out of service') return { state: held, change: null };
  const counting = spokenFor(before, input);
  if (counting === 'nothing known') return { state: held, change: null };
  const explained = before.state === 'suppressed by design' ? (input.explained ?? before.explained) : null;
  if (counting === null) return { state: { ...held, explained, counting: null, counted_s: 0 }, change: null };
  const counted_s = (counting === before.counting ? before.counted_s : 0) + input.interval_s;
  const needed_s = counting === 'clear' ? traits.off_delay_s : traits.on_delay_s;
  if (counted_s < needed_s) return { state: { ...held, explained, counting, counted_s }, change: null };
  const signal = counting === 'clear' ? endOf(before, input, traits) : counting;
  const step = signalled(held, signal, { time: input.time, explained: input.explained });
  return step.change === null ? { state: { ...held, counting, counted_s }, change: null } : step;
}

/** How a condition ends: crossed still while the machine's state says why is no return to normal. */
function endOf({ state }: AlarmState, { verdict, explained }: AlarmInput, { latching }: Traits): Signal {
  if (!isActive(state)) return 'clear';
  if (latching) return 'latch';
  return verdict === 'crossed' && explained !== null ? 'suppress' : 'clear';
}

/** What an interval speaks for in a state; null: for nothing, so that a count starts anew. */
function spokenFor(
  { state }: AlarmState,
  { verdict, explained }: AlarmInput,
): AlarmState['counting'] | 'nothing known' {
  const bySelf = explained === null;
  if (verdict === 'unknown' && bySelf) return 'nothing known';
  if (isActive(state)) return verdict === 'good' || !bySelf ? 'clear' : null;
  if (state === 'suppressed by design') {
    if (verdict === 'crossed') return bySelf ? 'raise' : null;
    if (verdict === 'unknown') return 'nothing known';
    return verdict === 'good' || bySelf ? 'clear' : null;
  }
  if (verdict === 'crossed') return bySelf ? 'raise' : 'suppress';
  return null;
}

/** Where a figure stands to a rule's limit. */
export function verdictOf(
  rule: { readonly side: 'above' | 'below'; readonly limit: number; readonly deadband: number },
  value: number,
  margin = 0,
): 'crossed' | 'good' | 'between' {
  const sign = rule.side === 'above' ? 1 : -1;
  const beyond = sign * (value - rule.limit);
  if (beyond > margin) return 'crossed';
  return beyond <= -rule.deadband ? 'good' : 'between';
}
