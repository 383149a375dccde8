/**
 * A year of two machines as hours in memory, in place of a store: made by an independent formula
 * (tests/unit/baseline/helpers.ts), with what happens to machines: a sheet of dirt that grows on the condenser tubes of
 * CH-1 and is brushed off on 12 May, its economizer off for two weeks of June, a gap, winter nights at standstill.
 */
import { ok, type Result } from '../../../agent/base/result.ts';
import type { MaintenanceEntry } from '../../../agent/history/maintenance.ts';
import type { SpansQuery } from '../../../agent/history/rollups.ts';
import { type SteadyHour, steadyOf } from '../../../agent/season/steady.ts';
import { addSums, NO_SUMS, type SeasonMinute, type Sums, seasonMinute, sumsOf } from '../../../agent/season/sums.ts';
import { localDate, type Span, zoneOffsets } from '../../../agent/season/zone.ts';
import type { SeasonStore } from '../../../agent/seasons.ts';
import type { Site } from '../../../agent/site/site.ts';
import { askedAt, chance, HOUR, truePower } from '../baseline/helpers.ts';
import { KW_PER_TON, RATED_KW } from './helpers.ts';

export const ZONE = 'Europe/Amsterdam';
const offsets = zoneOffsets(ZONE);
const at = (text: string): number => Date.parse(text);

export interface Story {
  readonly from: number;
  readonly to: number;
  readonly scatter?: number;
  /** Of the machine, over that of the formula; left out: 1. */
  readonly size?: number;
  /** Factor of the power of a clean machine by time. */
  readonly factor?: (chiller: string, time: number) => number;
  readonly economizer?: (chiller: string, time: number) => 'on' | 'off';
  /** Hours that were never recorded. */
  readonly gap?: (chiller: string, time: number) => boolean;
  readonly maintenance?: readonly MaintenanceEntry[];
}

/** What the machine did in the hour that ends at `time`, as the record of one long interval; null: nothing. */
export function hourRecord(story: Story, chiller: string, time: number): Record<string, unknown> | null {
  if (story.gap?.(chiller, time) === true) return null;
  const dice = chance(Math.floor(time / HOUR) * 2 + (chiller === 'CH-1' ? 0 : 1));
  const asked = askedAt(time - HOUR, dice);
  const size = (chiller === 'CH-1' ? 1 : 0.6) * (story.size ?? 1);
  const local = new Date(time - 1 + offsets(time));
  const winter = [10, 11, 0, 1, 2].includes(local.getUTCMonth());
  const points = {
    'chilled_water.leaving_temperature': asked.chilled - 273.15,
    'condenser_water.entering_temperature': asked.condenser - 273.15,
  };
  const base = { interval_s: 3600, points };
  if (winter && local.getUTCHours() < 7)
    return {
      ...base,
      state: 'standstill',
      economizer: 'off',
      values: { 'unit.power': 1.5 },
      uncertainty: { 'unit.power': 0.1 },
    };
  const economizer = story.economizer?.(chiller, time) ?? 'on';
  const clean = truePower(asked) * (economizer === 'on' ? 1 : 1.06);
  const power = size * clean * (story.factor?.(chiller, time) ?? 1) * (1 + (story.scatter ?? 0.012) * dice.normal());
  const capacity = size * asked.capacity;
  const ratio = (power / capacity) * KW_PER_TON;
  const on = economizer === 'on';
  return {
    ...base,
    state: 'steady',
    economizer,
    values: {
      'unit.power': power,
      'unit.capacity': capacity,
      'unit.kw_per_ton': ratio,
      'unit.load_fraction': asked.capacity / RATED_KW,
      'main_compressor.lift': asked.condenser - asked.chilled + 2 + (6 * asked.capacity) / RATED_KW,
      'main_compressor.power': on ? 0.94 * power : power,
      'economizer_compressor.power': on ? 0.06 * power : null,
      'economizer.power_saved': on ? 0.045 * power : null,
      'economizer.missed_saving': on ? null : 0.04 * power,
    },
    uncertainty: {
      'unit.power': 0.02 * power,
      'unit.capacity': 0.04 * capacity,
      'unit.kw_per_ton': 0.045 * ratio,
      'main_compressor.power': 0.02 * power,
      'economizer_compressor.power': 0.005 * power,
      'economizer.power_saved': 0.01 * power,
      'economizer.missed_saving': 0.012 * power,
    },
  };
}

interface Hour {
  readonly minute: SeasonMinute;
  sums: Sums | null;
}

export class YearStore implements SeasonStore {
  readonly #story: Story;
  readonly #hours = new Map<string, Hour | null>();

  constructor(story: Story) {
    this.#story = story;
  }

  /** Made when first asked for. */
  #hour(chiller: string, time: number): Hour | null {
    if (time <= this.#story.from || time > this.#story.to) return null;
    const key = `${chiller} ${time}`;
    let hour = this.#hours.get(key);
    if (hour === undefined) {
      const minute = seasonMinute(hourRecord(this.#story, chiller, time), time);
      hour = minute === null ? null : { minute, sums: null };
      this.#hours.set(key, hour);
    }
    return hour;
  }

  seasonSums({ chiller, spans }: SpansQuery): Result<Sums[]> {
    return ok(
      spans.map(({ from, to }) => {
        let sums = NO_SUMS;
        for (let end = Math.floor(from / HOUR + 1) * HOUR; end <= to; end += HOUR) {
          const hour = this.#hour(chiller, end);
          if (hour === null) continue;
          hour.sums ??= sumsOf(hour.minute);
          sums = addSums(sums, hour.sums);
        }
        return sums;
      }),
    );
  }

  steadyHours({ chiller, from, to }: Span & { readonly chiller: string }): Result<SteadyHour[]> {
    const found: SteadyHour[] = [];
    for (let start = Math.ceil(from / HOUR) * HOUR; start + HOUR <= to; start += HOUR) {
      const hour = this.#hour(chiller, start + HOUR);
      const steady = hour === null ? {} : steadyOf(hour.minute);
      if (Object.keys(steady).length > 0) found.push({ start, steady });
    }
    return ok(found);
  }

  maintenance({ chiller, from, to }: { chiller: string | null; from: number; to: number }): Result<MaintenanceEntry[]> {
    const all = this.#story.maintenance ?? [];
    return ok(
      all.filter((entry) => entry.time >= from && entry.time <= to && (chiller === null || entry.chiller === chiller)),
    );
  }
}

/** Only what seasons ask of a site. */
export function yearSite(
  baseline: { from: string; to: string } | null,
  tariff: Site['tariff'] = { price_per_kwh: 0.14, currency: 'EUR' },
): Site {
  const chiller = (id: string, name: string, rated: number) => ({
    id,
    name,
    machine: { rated_capacity: rated * 1000 },
    baseline,
  });
  return {
    time_zone: ZONE,
    tariff,
    chillers: [chiller('CH-1', 'Chiller 1', RATED_KW), chiller('CH-2', 'Chiller 2', 0.6 * RATED_KW)],
  } as unknown as Site;
}

const DIRT_FROM = at('2025-10-06T00:00:00Z');
export const CLEANED = at('2026-05-12T09:00:00Z');

/** The story of the page's fixture. */
export const KESTREL_YEAR: Story = {
  from: at('2024-07-01T00:00:00Z'),
  to: at('2026-07-14T08:00:00Z'),
  factor(chiller, time) {
    if (chiller === 'CH-2') return 1 + 0.006 * Math.max(0, (time - at('2026-01-12T00:00:00Z')) / (180 * 24 * HOUR));
    if (time < DIRT_FROM) return 1;
    return time < CLEANED ? 1 + (0.075 * (time - DIRT_FROM)) / (CLEANED - DIRT_FROM) : 1.004;
  },
  economizer: (chiller, time) =>
    chiller === 'CH-1' && time > at('2026-06-03T12:00:00Z') && time <= at('2026-06-19T12:00:00Z') ? 'off' : 'on',
  gap: (chiller, time) =>
    // Of the year before, every third hour: enough for a baseline, and a third of the work.
    (time < at('2025-07-14T00:00:00Z') && (time / HOUR) % 3 !== 0) ||
    (chiller === 'CH-2' && ['2025-12-24', '2025-12-25'].includes(localDate(time - 1, offsets))),
  maintenance: [
    {
      id: 1,
      chiller: 'CH-1',
      time: CLEANED,
      entered: CLEANED,
      kind: 'tubes_cleaned',
      text: 'condenser tubes brushed',
      mass_kg: null,
    },
    {
      id: 2,
      chiller: 'CH-2',
      time: at('2026-02-10T10:00:00Z'),
      entered: at('2026-02-10T10:00:00Z'),
      kind: 'other',
      text: 'oil sampled',
      mass_kg: null,
    },
  ],
};
