/**
 * Learns the main compressor's efficiency from steady minutes, by suction flow and head. A pure fold: the next state
 * from the one before and one minute.
 *
 * Which minutes tell of the machine without economizer: where a compressor of its own lifts the tank's vapour, all of
 * them, for the main compressor works between the same two pressures whether that one runs or not. Where the vapour
 * joins between two stages it loads the second one, so only minutes with the economizer off.
 */
import type { Figure } from '../../base/metric.ts';
import { arrangementOf } from '../arrangements/table.ts';
import { efficiencyName } from '../metrics/compressors.ts';
import type { ChillerParameters } from '../parameters.ts';
import type { Operating, Solution } from '../types.ts';
import { type Cell, type Place, withMinute } from './cells.ts';

/** Plain JSON. */
export interface LearnedEfficiency {
  /** Learned from minutes after this instant alone, ms since the epoch. */
  readonly since: number;
  /** Minutes in a row fit to learn from, with the economizer as it is now. */
  readonly settled: { readonly economizer: Solution['economizer']; readonly minutes: number };
  readonly cells: readonly Cell[];
}

export const NOTHING_LEARNED: LearnedEfficiency = {
  since: 0,
  settled: { economizer: 'unknown', minutes: 0 },
  cells: [],
};

/** Minutes fit to learn from that must have passed before one is: what a change moved has settled. */
const SETTLED_MINUTES = 10;
const DAY_MS = 86_400_000;

/** A minute as the learner sees it. */
export interface LearningMinute {
  readonly solution: Pick<Solution, 'economizer' | 'operating'>;
  /** Catalogue units. */
  readonly figures: Readonly<Record<string, Figure>>;
  readonly parameters: ChillerParameters;
}

export interface LearningInput extends LearningMinute {
  readonly steady: boolean;
  readonly interval_s: number;
  /** End of the interval, ms since the epoch. */
  readonly time: number;
  /** When a sensor was last replaced, ms; what was learned before is of another one. */
  readonly replaced: number | null;
}

/** Learns from minutes that are steady and good, once ten of them followed each other with the economizer as it is. */
export function nextLearned(before: LearnedEfficiency, minute: LearningInput): LearnedEfficiency {
  const { solution, parameters, steady, interval_s, time, replaced } = minute;
  const { economizer, operating } = solution;
  const known = replaced !== null && replaced > before.since ? { ...NOTHING_LEARNED, since: replaced } : before;
  if (!steady || operating === null || !learnable(minute)) {
    return known.settled.minutes === 0 ? known : { ...known, settled: { economizer, minutes: 0 } };
  }
  const weight = interval_s / 60;
  const minutes = (known.settled.economizer === economizer ? known.settled.minutes : 0) + weight;
  const settled = { economizer, minutes: Number(Math.min(SETTLED_MINUTES, minutes).toFixed(3)) };
  if (minutes <= SETTLED_MINUTES) return { ...known, settled };
  const way = wayOf(parameters, economizer === 'on' ? 'on' : 'off', operating);
  const learned = { place: placeOf(operating), weight, day: time / DAY_MS };
  return { ...known, settled, cells: withMinute(known.cells, way, learned) };
}

/** Nothing about the minute is doubtful that its efficiency, flow or head come from. */
function learnable({ solution, figures, parameters }: LearningMinute): boolean {
  if (solution.economizer !== 'on' && solution.economizer !== 'off') return false;
  const needed = ['suction_volume_flow', 'isentropic_head'].map((name) => `main_compressor.${name}`);
  return [...needed, efficiencyName(parameters)].every((name) => figures[name]?.quality === 'good');
}

export function placeOf({ flow, head, sound, efficiency }: Operating): Place {
  return { x: Math.log(flow / sound), y: Math.log(head / sound ** 2), z: Math.log(efficiency) };
}

/**
 * Under which name an efficiency with the economizer `on` or `off` is kept. Flows by different balances are wrong by
 * different parts, so each balance has its own.
 */
export function wayOf(parameters: ChillerParameters, economizer: 'on' | 'off', { method }: Operating): string {
  const staged = arrangementOf(parameters).economizer === 'between_stages';
  return `${staged ? economizer : 'any'} ${method}`;
}
