/**
 * Hours of a machine that the models of the baseline do not describe: a share of the Carnot limit that depends on load,
 * between temperatures that move with load. Its formula is of the trade and none of those fitted (common practice, no
 * source), so that a fit must show how well it does.
 */
import type { Observation } from '../../../agent/baseline/models.ts';

export const HOUR = 3_600_000;

/** Numbers in [0, 1) and normal ones, the same for the same seed (mulberry32, Box and Muller). */
export function chance(seed: number): { uniform(): number; normal(): number } {
  let state = seed >>> 0;
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), state | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  const normal = (): number => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
  return { uniform, normal };
}

/** kW of a 5275 kW machine. Temperatures in K. */
export function truePower({
  capacity,
  chilled,
  condenser,
}: Pick<Observation, 'capacity' | 'chilled' | 'condenser'>): number {
  const load = capacity / 5275;
  const cold = chilled - (0.6 + 1.2 * load);
  const warm = condenser + 5.2 * load + (0.7 + 1.1 * load);
  const share = 0.44 + 0.52 * load - 0.33 * load ** 2;
  return (capacity * (warm - cold)) / cold / share;
}

/** An hour of some day: loads by the hour of the day and the season, condenser water with the season. */
export function askedAt(
  time: number,
  { uniform }: { uniform(): number },
): Pick<Observation, 'capacity' | 'chilled' | 'condenser'> {
  const year = Math.cos((2 * Math.PI * (time / (24 * HOUR) - 200)) / 365.25);
  const day = Math.cos((2 * Math.PI * ((time / HOUR) % 24) - 2 * Math.PI * 15) / 24);
  return {
    capacity: 5275 * Math.min(1, Math.max(0.25, 0.6 + 0.15 * year + 0.15 * day + 0.1 * (uniform() - 0.5))),
    chilled: 279.9 + 0.6 * (uniform() - 0.5),
    condenser: 296 + 5 * year + 2 * day + 1.5 * (uniform() - 0.5),
  };
}

/** Hours from `from` on; scatter as a share of power, k = 1; `factor` of the power by time. */
export function hoursOf({
  from,
  count,
  seed,
  scatter = 0.01,
  factor = () => 1,
  every = 1,
}: {
  readonly from: number;
  readonly count: number;
  readonly seed: number;
  readonly scatter?: number;
  readonly factor?: (time: number) => number;
  /** Hours between two. */
  readonly every?: number;
}): Observation[] {
  const dice = chance(seed);
  return Array.from({ length: count }, (_, index) => {
    const time = from + index * every * HOUR;
    const asked = askedAt(time, dice);
    return { time, ...asked, power: truePower(asked) * factor(time) * (1 + scatter * dice.normal()) };
  });
}
