/**
 * Goal: a season against its baseline finds what was done to the machine, with sign, size, interval and price, and says
 * so where it cannot. Method: a year of hours by an independent formula (year.ts, ../baseline/helpers.ts) with a known
 * change; sums are made anew in the test.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import type { MaintenanceEntry } from '../../../agent/history/maintenance.ts';
import type { ChillerSeason, Step } from '../../../agent/season/answer.ts';
import type { SeasonAnswer } from '../../../agent/season/plant.ts';
import { askedPeriod, ReferenceShelf, readReference, seasonAnswer } from '../../../agent/seasons.ts';
import { askedAt, chance, HOUR, truePower } from '../baseline/helpers.ts';
import { KW_PER_TON } from './helpers.ts';
import { hourRecord, type Story, YearStore, yearSite } from './year.ts';

const at = (text: string): number => Date.parse(text);
const FROM = at('2025-03-31T22:00:00Z');
const CHANGE = at('2025-09-01T10:00:00Z');
const TO = at('2026-01-31T23:00:00Z');
const PRICE = 0.14;
const DECLARED = { from: '2025-04-01', to: '2025-08-31' };

function asked(
  story: Partial<Story>,
  {
    from,
    to,
    step = 'day',
    declared = DECLARED,
    tariff,
  }: {
    readonly from: string;
    readonly to: string;
    readonly step?: Step;
    readonly declared?: { from: string; to: string } | null;
    readonly tariff?: null;
  },
): SeasonAnswer {
  const site = tariff === undefined ? yearSite(declared) : yearSite(declared, tariff);
  const period = must(askedPeriod(site, { from, to, step, now: TO }));
  const store = new YearStore({ from: FROM, to: TO, ...story });
  return must(
    seasonAnswer(store, { site, shelf: new ReferenceShelf(site), asked: { chiller: null, period, step, now: TO } }),
  );
}

const first = ({ chillers }: SeasonAnswer): ChillerSeason => chillers[0] as ChillerSeason;

/** kWh of the steady hours that begin within, as the story has them; `clean`: without its factor and its scatter. */
function energyOf(story: Partial<Story>, { from, to }: { from: number; to: number }) {
  let [measured, clean] = [0, 0];
  for (let start = from; start < to; start += HOUR) {
    const record = hourRecord({ from: FROM, to: TO, ...story }, 'CH-1', start + HOUR);
    if (record?.['state'] !== 'steady') continue;
    measured += (record['values'] as Record<string, number>)['unit.power'] as number;
    clean += truePower(askedAt(start, chance(Math.floor((start + HOUR) / HOUR) * 2)));
  }
  return { measured, clean };
}

const AUTUMN = { from: '2025-09-02', to: '2025-10-15' };

describe('a known change', () => {
  test.each([
    [0.03, 'three per cent more'],
    [-0.03, 'three per cent less'],
    [0, 'nothing'],
  ])('%d: %s, with its sign, its interval and its price', (change) => {
    const story = { factor: (_: string, time: number) => (time > CHANGE ? 1 + change : 1) };
    const answer = first(asked(story, AUTUMN));
    const { against, money } = answer;
    if (against === null || against.deviation === null) throw new Error('compared');
    const interval = against.uncertainty.deviation as number;
    // The model is off the independent formula by less than 0.3 per cent here; the interval is that of the model.
    expect(Math.abs(against.deviation - change)).toBeLessThan(interval + 0.003);
    expect(interval).toBeGreaterThan(0.0005);
    expect(interval).toBeLessThan(0.008);
    if (change !== 0) expect(Math.abs(against.deviation)).toBeGreaterThan(interval);
    if (change !== 0) expect(Math.sign(against.kwh_more)).toBe(Math.sign(change));
    const { measured } = energyOf(story, { from: at('2025-09-01T22:00:00Z'), to: at('2025-10-15T22:00:00Z') });
    expect(against.hours_outside / (against.hours + against.hours_outside)).toBeLessThan(0.1);
    if (against.hours_outside === 0) expect(against.kwh).toBeCloseTo(measured, 3);
    expect(against.cost).toBeCloseTo(PRICE * against.kwh_more, 9);
    expect(against.cost_uncertainty).toBeCloseTo(PRICE * (against.uncertainty.kwh_more as number), 9);
    expect(money?.energy).toBeCloseTo(PRICE * ((answer.kwh ?? 0) + (answer.kwh_standing ?? 0)), 6);
  });

  test('without a tariff no money, without a declared period no comparison', () => {
    const free = first(asked({}, { ...AUTUMN, tariff: null }));
    expect([free.money, free.against?.cost, free.against?.cost_uncertainty]).toEqual([null, null, null]);
    const none = first(asked({}, { ...AUTUMN, declared: null }));
    expect([none.baseline, none.against]).toEqual([null, null]);
    expect(none.steps.every(({ against, kwh_more_summed }) => against === null && kwh_more_summed === null)).toBe(true);
  });

  test('days, months and hours add up to the whole; the sum runs on from day to day', () => {
    const story = { factor: (_: string, time: number) => (time > CHANGE ? 1.03 : 1) };
    const day = first(asked(story, AUTUMN));
    for (const rows of [day.steps, day.months, first(asked(story, { ...AUTUMN, step: 'hour' })).steps]) {
      const sum = (of: (row: (typeof rows)[number]) => number): number => rows.reduce((all, row) => all + of(row), 0);
      expect(sum(({ kwh }) => kwh ?? 0)).toBeCloseTo(day.kwh as number, 4);
      expect(sum(({ against }) => against?.kwh_more ?? 0)).toBeCloseTo(day.against?.kwh_more as number, 4);
      expect(sum(({ against }) => against?.hours ?? 0)).toBeCloseTo(day.against?.hours as number, 6);
      expect(rows.at(-1)?.kwh_more_summed).toBeCloseTo(day.against?.kwh_more as number, 4);
    }
    expect(day.months.map(({ name }) => name)).toEqual(['2025-09', '2025-10']);
  });
});

describe('the clock and gaps', () => {
  test('the day with 25 hours has 1500 minutes, that with 23 has 1380', () => {
    const autumn = first(asked({}, { from: '2025-10-25', to: '2025-10-27' }));
    // Rule EU of the IANA data base: 26 October 2025, 01:00 UTC.
    expect(autumn.steps.map(({ minutes_due }) => minutes_due)).toEqual([1440, 1500, 1440]);
    expect(first(asked({}, { from: '2025-10-26', to: '2025-10-26', step: 'hour' })).steps.length).toBe(25);
  });

  test('what is not recorded is lacking, and nothing is expected of it', () => {
    const gap = (_: string, time: number): boolean =>
      time > at('2025-09-10T00:00:00Z') && time <= at('2025-09-12T12:00:00Z');
    const [whole, holed] = [first(asked({}, AUTUMN)), first(asked({ gap }, AUTUMN))];
    expect(whole.minutes_lacking).toBe(0);
    expect(holed.minutes_lacking).toBe(60 * 60);
    expect(holed.minutes_due).toBe(whole.minutes_due);
    expect((whole.against?.hours ?? 0) - (holed.against?.hours ?? 0)).toBeGreaterThan(50);
    const day = holed.steps.find(({ name }) => name === '2025-09-11');
    expect([day?.kwh, day?.against, day?.minutes_used]).toEqual([null, null, 0]);
    expect(Math.abs((holed.against?.deviation ?? 1) - (whole.against?.deviation ?? 0))).toBeLessThan(0.002);
  });
});

function entry(kind: string, time: number): MaintenanceEntry {
  return { id: 7, chiller: 'CH-1', time, entered: time, kind, text: 'done', mass_kg: null };
}

describe('work', () => {
  const dirty = { factor: (_: string, time: number) => (time > CHANGE ? 1.01 : 1.06) };
  // Declared clean before the dirt of summer.
  const story = {
    factor: (id: string, time: number) => (time < at('2025-07-01T00:00:00Z') ? 1 : dirty.factor(id, time)),
    maintenance: [entry('tubes_cleaned', CHANGE)],
  };
  const declared = { from: '2025-04-01', to: '2025-06-30' };
  const period = { from: '2025-07-01', to: '2025-09-30', declared };

  test('is priced by the hours since, against the hours before', () => {
    const [work] = first(asked(story, period)).maintenance;
    const worth = work?.worth;
    if (worth?.kwh_avoided == null || worth.uncertainty === null) throw new Error(worth?.reason ?? 'priced');
    expect(worth.before).toBeCloseTo(0.06, 2);
    expect(worth.after).toBeCloseTo(0.01, 2);
    // The truth: five hundredths of what the clean machine takes in the hours since that were compared.
    const { clean } = energyOf(story, { from: CHANGE, to: at('2025-09-30T22:00:00Z') });
    const truth = 0.05 * clean * (worth.hours_after / 709);
    expect(Math.abs(worth.kwh_avoided / truth - 1)).toBeLessThan(0.12);
    expect(worth.uncertainty / worth.kwh_avoided).toBeLessThan(0.15);
    expect(worth.money).toBeCloseTo(PRICE * worth.kwh_avoided, 9);
  });

  test('restarts the baseline: a level of its own, the sum from zero', () => {
    const answer = first(asked(story, period));
    const [, level] = answer.baseline?.levels ?? [];
    expect([level?.kind, level?.hours, level?.reason]).toEqual(['tubes_cleaned', 72, null]);
    expect(Math.abs((level?.level ?? 0) - 1.01)).toBeLessThan((level?.uncertainty ?? 0) + 0.004);
    const sums = answer.steps.map(({ kwh_more_summed }) => kwh_more_summed ?? 0);
    const cleaned = answer.steps.findIndex(({ name }) => name === '2025-09-01');
    expect(sums[cleaned - 1]).toBeGreaterThan(10_000);
    // From then on the machine is as it was after the work.
    expect(Math.abs(sums.at(-1) ?? 1e9)).toBeLessThan(3000);
  });

  test('a replaced sensor is a step of the readings: told, not priced', () => {
    const [work] = first(asked({ ...story, maintenance: [entry('sensor_replaced', CHANGE)] }, period)).maintenance;
    expect(work?.worth?.kwh_avoided).toBeNull();
    expect(work?.worth?.before).toBeCloseTo(0.06, 2);
    expect(work?.worth?.reason).toMatch(/not of the machine/);
  });

  test('that came too late to compare says how many hours there are, and compares nothing since', () => {
    const late = { ...story, maintenance: [entry('tubes_cleaned', at('2025-09-29T22:00:00Z'))] };
    const answer = first(asked({ ...late, to: at('2025-09-30T22:00:00Z') }, period));
    expect(answer.baseline?.levels[1]?.reason).toMatch(/^\d+ of 72 steady hours since the work of 2025-09-29/);
    expect(answer.steps.at(-1)?.against).toBeNull();
  });

  test('within the declared period is refused, and everything else is not touched', () => {
    const answer = first(asked({ maintenance: [entry('tubes_cleaned', at('2025-05-20T08:00:00Z'))] }, AUTUMN));
    expect(answer.baseline?.reason).toMatch(/tubes_cleaned\) of 2025-05-20T08:00:00Z lies within the declared period/);
    expect(answer.against).toBeNull();
    expect(answer.kwh).toBeGreaterThan(0);
  });

  test('of another kind restarts nothing', () => {
    const answer = first(asked({ ...story, maintenance: [entry('other', CHANGE)] }, period));
    expect([answer.baseline?.levels.length, answer.maintenance[0]?.worth]).toEqual([1, null]);
  });
});

describe('a history that has only begun', () => {
  test('says how many hours there are', () => {
    const answer = first(asked({ to: FROM + 31 * HOUR }, { from: '2025-04-01', to: '2025-04-02' }));
    expect(answer.baseline?.reason).toBe('economizer on: 31 of at least 48 steady hours so far');
    expect(answer.against).toBeNull();
  });

  test('the same store gives the same baseline, whoever asks', () => {
    const site = yearSite(DECLARED);
    const store = new YearStore({ from: FROM, to: TO });
    const [chiller] = site.chillers;
    if (chiller === undefined) throw new Error('a chiller');
    const once = must(readReference(store, { site, chiller, now: TO }));
    const again = must(readReference(new YearStore({ from: FROM, to: TO }), { site, chiller, now: TO }));
    expect(again).toEqual(once);
    expect(once?.fits.on?.machine).not.toBeNull();
  });
});

describe('the plant', () => {
  const answer = asked({ factor: (id, time) => (id === 'CH-1' && time > CHANGE ? 1.03 : 1) }, AUTUMN);
  const [one, two] = answer.chillers as [ChillerSeason, ChillerSeason];
  const { plant } = answer;

  test('is the sum of its machines', () => {
    for (const key of ['kwh', 'ton_hours', 'minutes_due', 'minutes_used', 'minutes_standing', 'kwh_saved'] as const)
      expect(plant?.[key]).toBeCloseTo((one[key] ?? 0) + (two[key] ?? 0), 4);
    expect(plant?.kw_per_ton).toBeCloseTo((plant?.kwh ?? 0) / (plant?.ton_hours ?? 1), 12);
    expect(plant?.against?.kwh_more).toBeCloseTo((one.against?.kwh_more ?? 0) + (two.against?.kwh_more ?? 0), 6);
    expect(plant?.against?.uncertainty.kwh_more).toBeCloseTo(
      Math.hypot(one.against?.uncertainty.kwh_more ?? 0, two.against?.uncertainty.kwh_more ?? 0),
      6,
    );
    expect(plant?.money?.energy).toBeCloseTo((one.money?.energy ?? 0) + (two.money?.energy ?? 0), 6);
  });

  test('meters of their own, and errors in common', () => {
    const [a, b] = [one.uncertainty.kwh ?? 0, two.uncertainty.kwh ?? 0];
    expect(plant?.uncertainty.kwh).toBeCloseTo(Math.hypot(a, b), 6);
    expect(plant?.uncertainty_common.kwh).toBeCloseTo(a + b, 6);
    expect(plant?.uncertainty_common.kw_per_ton).toBeGreaterThan(plant?.uncertainty.kw_per_ton ?? 1);
  });

  test('the uncertainty of the ratio is that of Monte Carlo over meters that each keep their error', () => {
    // Two per cent of power and four of capacity, k = 2; the story's kW/ton has 4.5, so nearly nothing in common.
    const dice = chance(12);
    const ratios = Array.from({ length: 20_000 }, () => {
      let [p, q] = [0, 0];
      for (const machine of [one, two]) {
        p += (machine.kwh ?? 0) * (1 + 0.01 * dice.normal());
        q += ((machine.ton_hours ?? 0) * KW_PER_TON * (1 + 0.02 * dice.normal())) / KW_PER_TON;
      }
      return p / q;
    });
    const mean = ratios.reduce((sum, each) => sum + each, 0) / ratios.length;
    const spread = Math.sqrt(ratios.reduce((sum, each) => sum + (each - mean) ** 2, 0) / (ratios.length - 1));
    expect((plant?.uncertainty.kw_per_ton ?? 0) / (2 * spread)).toBeCloseTo(1, 1);
  });

  test('a machine of which nothing is recorded is named, and the sum is of the others', () => {
    const alone = asked({ gap: (id) => id === 'CH-2' }, AUTUMN);
    expect(alone.plant?.lacking).toEqual({ 'CH-2': 'no minute is recorded' });
    expect(alone.plant?.kwh).toBeCloseTo(first(alone).kwh as number, 6);
    expect(alone.plant?.minutes_lacking).toBe(first(alone).minutes_due);
  });
});
