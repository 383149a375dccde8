/** What a fault is to a callout: what tells it from its rivals, and what to look at first on site. */
import type { CautionId } from './cautions.ts';

/**
 * How a figure speaks for a fault. `above` and `below`: it lies beyond the limit by more than its uncertainty (and
 * speaks against where it lies as clearly on the other side, if `strict`). `moved`: since the beginning of the trend it
 * went that way by more than `by`; the other way speaks against. `by` is what is worth noticing: common practice, no
 * source. `still`: a move either way by more than this speaks against it. Catalogue units.
 */
export type Test =
  | { readonly is: 'above' | 'below'; readonly limit: number; readonly strict?: boolean }
  | { readonly moved: 'up' | 'down'; readonly by: number }
  | { readonly still: number };

export interface Tell {
  /** Metric or point. */
  readonly of: string;
  /** What is seen where this is the cause, in words. */
  readonly seen: string;
  /** Null: for people to judge. */
  readonly test: Test | null;
}

export interface FaultEntry {
  readonly title: string;
  /** Only in a machine with a flash tank. */
  readonly economizer?: true;
  readonly tells: readonly Tell[];
  /** In the order in which they are done. */
  readonly checks: readonly string[];
  readonly cautions: readonly CautionId[];
}

export const up = (of: string, by: number, seen: string): Tell => ({ of, seen, test: { moved: 'up', by } });
export const down = (of: string, by: number, seen: string): Tell => ({ of, seen, test: { moved: 'down', by } });
export const above = (of: string, limit: number, seen: string): Tell => ({ of, seen, test: { is: 'above', limit } });
export const below = (of: string, limit: number, seen: string): Tell => ({ of, seen, test: { is: 'below', limit } });
export const still = (of: string, by: number, seen: string): Tell => ({ of, seen, test: { still: by } });
export const look = (of: string, seen: string): Tell => ({ of, seen, test: null });
