/**
 * Pressures that belong to another refrigerant than the site file names: each of them then contradicts its temperature.
 */
import { REFRIGERANTS, refrigerant } from '../refrigerant/refrigerants.ts';
import { findMappingMistakes, type MappingFinding, type MappingInput } from './mapping.ts';

export interface JudgedMapping {
  readonly findings: readonly MappingFinding[];
  /** Refrigerants with which the pressures fit better by far; empty where the named one is not in doubt. */
  readonly rather: readonly string[];
}

/** Findings about pressures that must vanish with another refrigerant before the named one is doubted. */
const RELIEF_LEAST = 2;

/** The findings; where another refrigerant explains the pressures, those that are left with it. */
export function judgeMapping(input: MappingInput): JudgedMapping {
  const findings = findMappingMistakes(input);
  const own = pressuresIn(findings);
  if (own < RELIEF_LEAST) return { findings, rather: [] };
  const tried = REFRIGERANTS.flatMap((name) => {
    const other = refrigerant(name);
    if (!other.ok || name === input.refrigerant.name) return [];
    const found = findMappingMistakes({ ...input, refrigerant: other.value });
    return [{ name, found, left: pressuresIn(found) }];
  });
  const least = Math.min(...tried.map(({ left }) => left));
  if (own - least < RELIEF_LEAST) return { findings, rather: [] };
  const fitting = tried.filter(({ left }) => left === least);
  // Neighbours fit alike: the name plate decides. What is left is told with the one that leaves least.
  const [best] = [...fitting].sort((a, b) => a.found.length - b.found.length);
  return { findings: best?.found ?? findings, rather: fitting.map(({ name }) => name) };
}

function pressuresIn(findings: readonly MappingFinding[]): number {
  return findings.filter(({ points }) => points.some((name) => name.endsWith('.pressure'))).length;
}
