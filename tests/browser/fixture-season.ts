/** Seasons of the fixture plant: the year of tests/unit/season/year.ts, or a store that has only just begun. */
import type { Result } from '../../agent/base/result.ts';
import type { Step } from '../../agent/season/answer.ts';
import { monthStart } from '../../agent/season/period.ts';
import type { SeasonAnswer } from '../../agent/season/plant.ts';
import { zoneOffsets } from '../../agent/season/zone.ts';
import { askedPeriod, ReferenceShelf, seasonAnswer } from '../../agent/seasons.ts';
import { KESTREL_YEAR, YearStore, yearSite, ZONE } from '../unit/season/year.ts';

/** `bare`: without a baseline and without a tariff; `young`: five hours old. */
export type Year = 'whole' | 'bare' | 'young';

interface Question {
  readonly chiller: string | null;
  readonly from: string | undefined;
  readonly to: string | undefined;
  readonly step: Step;
  readonly now: number;
}

const HOUR = 3_600_000;
const stores = new Map<Year, YearStore>();
const shelves = new Map<Year, ReferenceShelf>();
const answers = new Map<string, Result<SeasonAnswer>>();

function storeOf(year: Year): YearStore {
  let store = stores.get(year);
  if (store === undefined) {
    const { to } = KESTREL_YEAR;
    store = new YearStore(year === 'young' ? { from: to - 5 * HOUR, to } : KESTREL_YEAR);
    stores.set(year, store);
  }
  return store;
}

/** The same question has the same answer: made once. */
export function seasonOf(year: Year, asked: Question): Result<SeasonAnswer> {
  const key = JSON.stringify([year, asked]);
  const answer = answers.get(key) ?? made(year, asked);
  answers.set(key, answer);
  return answer;
}

function made(year: Year, asked: Question): Result<SeasonAnswer> {
  const site = year === 'bare' ? yearSite(null, null) : yearSite({ from: '2024-07-15', to: '2025-07-14' });
  const { chiller, to, step, now } = asked;
  const from = asked.from ?? monthStart(now, zoneOffsets(ZONE));
  const period = askedPeriod(site, { from, to, step, now });
  if (!period.ok) return period;
  const shelf = shelves.get(year) ?? new ReferenceShelf(site);
  shelves.set(year, shelf);
  return seasonAnswer(storeOf(year), {
    site,
    shelf,
    asked: { chiller, period: period.value, step, now },
  });
}
