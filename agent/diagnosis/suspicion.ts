/**
 * Sensors found to be off minute after minute. One minute in twenty fails its test by chance; a sensor that is off
 * fails it again and again with the same suspects. So each suspect has a clock that runs forward while steady minutes
 * point at it and backward while they do not, and stands accused from the time it is full until it is empty again.
 */
import { rfc3339 } from '../base/time.ts';
import { differenceFromSi, isUnit, unitOf } from '../base/units.ts';
import type { Reconciliation } from '../cycle/types.ts';
import { isPoint, pointDefinition } from '../points/dictionary.ts';

/** Seconds of steady minutes that point at the same suspect before it is named, and against it before it is cleared. */
export const NAMED_AFTER_S = 600;

/** Plain JSON. */
export interface Suspicion {
  /** Seconds on the clock of each name that is pointed at. */
  readonly clocks: Readonly<Record<string, number>>;
  /** Groups of which one is off, the best explanation first; empty while nobody is accused. */
  readonly suspects: readonly (readonly string[])[];
  /** RFC 3339 UTC since when; null while nobody is accused. */
  readonly since: string | null;
  /** Catalogue units: what each of them would be off by, if it alone were (expanded, k = 2). */
  readonly off: Readonly<Record<string, Off>>;
}

export interface Off {
  readonly value: number;
  readonly uncertainty: number;
  readonly unit: string;
}

export const NO_SUSPICION: Suspicion = { clocks: {}, suspects: [], since: null, off: {} };

/** Minutes that are not steady, or in which nothing could be tested, leave everything as it was. */
export function nextSuspicion(
  before: Suspicion,
  now: {
    readonly reconciliation: Reconciliation;
    readonly steady: boolean;
    readonly interval_s: number;
    /** End of the interval, ms since the epoch. */
    readonly time: number;
  },
): Suspicion {
  const { reconciliation, steady, interval_s, time } = now;
  if (!steady || reconciliation.chi_square === null) return before;
  const pointed = new Set(reconciliation.suspects.flat());
  const clocks: Record<string, number> = {};
  for (const name of new Set([...Object.keys(before.clocks), ...pointed])) {
    const moved = (before.clocks[name] ?? 0) + (pointed.has(name) ? interval_s : -interval_s);
    if (moved > 0) clocks[name] = Math.min(moved, NAMED_AFTER_S);
  }
  const old = new Set(before.suspects.flat());
  const accused = Object.keys(clocks).filter((name) => clocks[name] === NAMED_AFTER_S || old.has(name));
  if (accused.length === 0) return { ...NO_SUSPICION, clocks };
  return {
    clocks,
    suspects: grouped(accused, before.suspects, reconciliation),
    since: before.since ?? rfc3339(time),
    off: { ...kept(before.off, accused), ...offOf(accused, reconciliation) },
  };
}

/** In the groups and the order of this minute where it points at them, else as they stood. */
function grouped(
  accused: readonly string[],
  before: Suspicion['suspects'],
  { suspects, groups }: Reconciliation,
): string[][] {
  const left = new Set(accused);
  const found: string[][] = [];
  for (const group of [...suspects, ...groups, ...before]) {
    const here = group.filter((name) => left.delete(name));
    if (here.length > 0) found.push(here);
  }
  return [...found, ...[...left].map((name) => [name])];
}

function kept(off: Suspicion['off'], accused: readonly string[]): Record<string, Off> {
  return Object.fromEntries(Object.entries(off).filter(([name]) => accused.includes(name)));
}

function offOf(accused: readonly string[], { points }: Reconciliation): Record<string, Off> {
  const found: Record<string, Off> = {};
  for (const name of accused) {
    const off = isPoint(name) ? (points[name]?.off ?? null) : null;
    if (off === null) continue;
    const { unit } = pointDefinition(name);
    const [value, uncertainty] = [differenceFromSi(off.value, unit), 2 * differenceFromSi(off.u, unit)];
    found[name] = { value: digits(value), uncertainty: digits(uncertainty), unit: STEP_UNITS[unit] ?? unit };
  }
  return found;
}

/** Catalogue units that count from a zero, and that of their differences. */
const STEP_UNITS: Readonly<Record<string, string>> = { degC: 'K', kPa: 'delta_kPa' };

const digits = (value: number): number => Number(value.toPrecision(3));

function label(unit: string): string {
  return isUnit(unit) ? unitOf(unit).label : unit;
}

/** Each accused with what is said of it, for an alarm's evidence: one is off, the sensors do not say which. */
export function suspicionWords({
  suspects,
  off,
}: Suspicion): readonly { readonly name: string; readonly reason: string }[] {
  const all = suspects.flat();
  return all.map((name) => {
    const by = off[name];
    const size = by === undefined ? 'off' : `off by ${by.value} ± ${by.uncertainty} ${label(by.unit)}`.trimEnd();
    return { name, reason: all.length === 1 ? `${size}, by the other sensors` : `${size}, if it is this one` };
  });
}
