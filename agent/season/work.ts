/**
 * What a piece of work was worth: the hours since against what they would have taken had the machine gone on as in the
 * hours before, both at the load and the water temperatures of the hours since. The declared machine gives the shape.
 */

import { LIMITS } from '../base/limits.ts';
import { addExpected, type ExpectedSums, expected, expectedOf, NOTHING_EXPECTED } from '../baseline/expect.ts';
import { fewer } from '../baseline/fit.ts';
import { quadratic } from '../baseline/least-squares.ts';
import type { Reference } from './reference.ts';
import { MODES, type Mode, type SteadyMeans } from './steady.ts';
import { HOUR, type Span } from './zone.ts';

/** Fewest hours on either side for a figure (common practice, no source). */
const HOURS_MIN = 24;

export interface WorkWorth {
  readonly hours_before: number;
  readonly hours_after: number;
  /** Against the declared machine, measured over expected less 1. */
  readonly before: number | null;
  readonly after: number | null;
  /** kWh that the hours since would have taken more had nothing been done; below zero: less. */
  readonly kwh_avoided: number | null;
  /** Expanded, k = 2. */
  readonly uncertainty: number | null;
  /** Why there is none; null where there is. */
  readonly reason: string | null;
}

type Sides = Partial<Record<Mode, ExpectedSums>>;

/** `span`: from the work before to the work after this one, or the ends of what is asked. */
export function workWorth(
  reference: Reference,
  {
    kind,
    time,
    span,
    hours,
  }: {
    readonly kind: string;
    readonly time: number;
    readonly span: Span;
    readonly hours: readonly SteadyMeans[];
  },
): WorkWorth {
  const earliest = Math.max(span.from, time - LIMITS.baseline_before_hours * HOUR);
  const before = side(
    reference,
    hours.filter((hour) => hour.time >= earliest && hour.time + HOUR <= time),
  );
  const after = side(
    reference,
    hours.filter((hour) => hour.time >= time && hour.time < span.to),
  );
  const [a, b] = [total(before), total(after)];
  const counted = { hours_before: a.hours, hours_after: b.hours };
  const none = { ...counted, before: null, after: null, kwh_avoided: null, uncertainty: null };
  if (a.hours < HOURS_MIN || b.hours < HOURS_MIN)
    return {
      ...none,
      reason: `${Math.floor(a.hours)} comparable hours before and ${Math.floor(b.hours)} since; it takes ${HOURS_MIN} each`,
    };
  const sides = { before: a.measured / a.expected - 1, after: b.measured / b.expected - 1 };
  if (kind === 'sensor_replaced')
    return { ...none, ...sides, reason: 'a step of the readings, not of the machine: not priced' };
  const ratio = a.measured / a.expected;
  return {
    ...counted,
    ...sides,
    kwh_avoided: ratio * b.expected - b.measured,
    uncertainty: 2 * Math.sqrt(variance(reference, { before, after, ratio, share: b.expected / a.expected })),
    reason: null,
  };
}

/** Hours of the declared machine, whatever the level of the time. */
function side(reference: Reference, hours: readonly SteadyMeans[]): Sides {
  const sides: Sides = {};
  for (const hour of hours) {
    const machine = reference.fits[hour.mode]?.machine ?? null;
    const by = machine === null ? null : expected(machine, hour);
    if (by === null) continue;
    sides[hour.mode] = addExpected(
      sides[hour.mode] ?? NOTHING_EXPECTED,
      expectedOf(by, { hours: hour.hours, power: hour.power }),
    );
  }
  return sides;
}

function total(sides: Sides): Pick<ExpectedSums, 'hours' | 'measured' | 'expected'> {
  const all = MODES.flatMap((mode) => sides[mode] ?? []);
  const sum = (of: (sums: ExpectedSums) => number): number => all.reduce((so_far, sums) => so_far + of(sums), 0);
  return { hours: sum((s) => s.hours), measured: sum((s) => s.measured), expected: sum((s) => s.expected) };
}

/** First order; errors of the parameters are the same before and after, and partly cancel. */
function variance(
  reference: Reference,
  {
    before,
    after,
    ratio,
    share,
  }: {
    readonly before: Sides;
    readonly after: Sides;
    readonly ratio: number;
    readonly share: number;
  },
): number {
  return MODES.reduce((sum, mode) => {
    const machine = reference.fits[mode]?.machine ?? null;
    const [a, b] = [before[mode] ?? NOTHING_EXPECTED, after[mode] ?? NOTHING_EXPECTED];
    if (machine === null || (a.hours === 0 && b.hours === 0)) return sum;
    const slope = machine.parameters.map((_, k) => ratio * ((b.slope[k] ?? 0) - share * (a.slope[k] ?? 0)));
    const scatter = machine.scatter ** 2 * fewer(machine.autocorrelation);
    return sum + quadratic(machine.covariance, slope) + scatter * (b.square + share ** 2 * a.square);
  }, 0);
}
