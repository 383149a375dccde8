/**
 * Which sensor is off, if the measurements contradict each other. First the global test; only if it fails, the
 * standardized correction of each candidate against the Sidak limit for the number tested, and the test again without
 * it. Candidates that show alike in the balances are one group; groups that explain the contradiction nearly as well
 * as the best one stand beside it. Mah & Tamhane 1982 (measurement test), Narasimhan & Mah 1987 (likelihood ratio).
 */
import { chiSquareTail, sidakLimit } from '../../base/chi-square.ts';
import type { Vector } from '../vector.ts';
import { type Adjustment, dot } from './adjust.ts';

/** Level of the global test, of the limit for single corrections, and of the test again. */
const LEVEL = 0.05;
/** Less than this share of its own uncertainty shows in the balances: they can neither judge it nor stand in for it. */
export const LEAST_SHARE = 0.1;
/** Cosine of two signatures from which on they are the same. */
const ALIKE = 1 - 1e-6;
/** Twice the log of the likelihood ratio under which one explanation is not preferred to another (chi-square, 95 %). */
const MARGIN = 3.84;

/** What may be off: a sensor, an assumption, or something that several sensors share. */
export interface Candidate {
  readonly name: string;
  /** An error of one standard uncertainty of it: by how much it moves each input. */
  readonly error: ReadonlyMap<number, number>;
}

export interface Verdict {
  readonly chi_square: { readonly value: number; readonly dof: number; readonly p: number };
  /** Standardized correction of each candidate that the balances check: positive where its value was raised. */
  readonly corrections: Readonly<Record<string, number>>;
  /** Share of each candidate's standard uncertainty that shows in the balances: 1 all of it. */
  readonly checked: Readonly<Record<string, number>>;
  /** Candidates that cannot be told apart, whatever the readings. */
  readonly groups: readonly (readonly string[])[];
  /** Limit of a single correction. */
  readonly limit: number;
  /**
   * Explanations of the contradiction, the best first: one of the first group is off, or one of the next. Empty where
   * nothing contradicts, or where no single error explains it.
   */
  readonly suspects: readonly (readonly string[])[];
}

interface Group {
  readonly names: string[];
  readonly direction: Vector;
  readonly z: number;
}

/** Null where there is nothing to test. */
export function judge(adjustment: Adjustment, candidates: readonly Candidate[]): Verdict | null {
  const { dof, chiSquare, closure } = adjustment;
  if (dof === 0) return null;
  const groups: Group[] = [];
  const corrections: Record<string, number> = {};
  const checked: Record<string, number> = {};
  for (const { name, error } of candidates) {
    const signature = adjustment.signature(error);
    const size = Math.sqrt(dot(signature, signature));
    checked[name] = size;
    if (size < LEAST_SHARE) continue;
    const direction = signature.map((part) => part / size);
    const z = dot(direction, closure);
    corrections[name] = z;
    const same = groups.find((group) => Math.abs(dot(group.direction, direction)) > ALIKE);
    if (same === undefined) groups.push({ names: [name], direction, z: Math.abs(z) });
    else same.names.push(name);
  }
  const limit = sidakLimit(groups.length, LEVEL);
  const p = chiSquareTail(chiSquare, dof);
  return {
    chi_square: { value: chiSquare, dof, p },
    corrections,
    checked,
    groups: groups.map(({ names }) => names),
    limit,
    suspects: p < LEVEL ? explanations(groups, adjustment, limit) : [],
  };
}

function explanations(groups: readonly Group[], { dof, chiSquare }: Adjustment, limit: number): string[][] {
  const order = [...groups].sort((a, b) => b.z - a.z);
  const [best] = order;
  if (best === undefined || best.z <= limit) return [];
  // Without it the rest must agree: taking it out lowers chi-square by the square of its correction.
  if (dof > 1 && chiSquareTail(Math.max(0, chiSquare - best.z ** 2), dof - 1) < LEVEL) return [];
  return order.filter(({ z }) => best.z ** 2 - z ** 2 < MARGIN).map(({ names }) => names);
}
