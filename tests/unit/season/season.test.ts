/** Goal: a season says what is known and why the rest is not; periods are those of the local calendar. */
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { monthStart, readPeriod } from '../../../agent/season/period.ts';
import { type SeasonFigure, season } from '../../../agent/season/season.ts';
import { addSums, NO_SUMS, type Sums, sumsOf } from '../../../agent/season/sums.ts';
import { daysOf, zoneOffsets } from '../../../agent/season/zone.ts';
import { type Given, minuteOf } from './helpers.ts';

const CHICAGO = zoneOffsets('America/Chicago');
const at = (text: string): number => Date.parse(text);
const TARIFF = { price_per_kwh: 0.2, currency: 'EUR' };

function of(minutes: readonly Given[], from = '2026-10-31T05:00:00Z', to = '2026-11-02T06:00:00Z'): SeasonFigure {
  const span = { from: at(from), to: at(to) };
  const days = daysOf(span, CHICAGO);
  const sums = days.map((): Sums => NO_SUMS);
  sums[0] = minutes.reduce((all, given) => addSums(all, sumsOf(minuteOf(given))), NO_SUMS);
  return season({ chiller: 'CH-1', time_zone: 'America/Chicago', tariff: TARIFF, ...span, days, sums });
}

test('days and months of the local calendar; 1 November 2026 has 25 hours in Chicago (IANA data base, rule US)', () => {
  const { days, months, minutes_due } = of([]);
  expect(days.map(({ name, hours, from }) => [name, hours, from])).toEqual([
    ['2026-10-31', 24, '2026-10-31T05:00:00Z'],
    ['2026-11-01', 25, '2026-11-01T05:00:00Z'],
  ]);
  expect(months.map(({ name, minutes_due: due }) => [name, due])).toEqual([
    ['2026-10', 1440],
    ['2026-11', 1500],
  ]);
  expect(minutes_due).toBe(2940);
});

test('a machine that stood all the time made no cooling, which is known; its ratio is not', () => {
  const found = of([{ state: 'standstill', power: 3, capacity: null, interval_s: 3600 }]);
  expect([found.ton_hours, found.kwh, found.kw_per_ton]).toEqual([0, 0, null]);
  expect(found.reasons).toEqual({ kw_per_ton: 'no cooling was made' });
  expect(found.kwh_standing).toBe(3);
  expect(found.money?.energy).toBeCloseTo(0.6, 12);
});

test('standing without a meter, or nothing recorded: its energy is not known', () => {
  expect(of([]).kwh_standing).toBeNull();
  expect(of([{}]).kwh_standing).toBe(0);
  expect(of([{ state: 'standstill', power: null, capacity: null }]).kwh_standing).toBeNull();
});

test('running without capacity throughout: nothing is made up', () => {
  const found = of([{ capacity: null }]);
  expect([found.ton_hours, found.kwh, found.kw_per_ton, found.money?.energy]).toEqual([null, null, null, null]);
  expect(found.reasons['kwh']).toBe('no minute has both power and capacity');
  expect(found.lacking).toMatchObject({ without_capacity: 1, without_power: 0, not_recorded: 2939 });
});

test('no economizer: neither saved nor missed, and no money for it', () => {
  const { economizer, money } = of([{ economizer: 'none' }]);
  expect([economizer.saved.kwh, economizer.missed.kwh]).toEqual([null, null]);
  expect(economizer.saved.reason).toBe('no economizer was seen on or off');
  expect([money?.saved, money?.missed]).toEqual([null, null]);
});

test('a saving that is negative stays so', () => {
  const { economizer, money } = of([{ more: { 'economizer.power_saved': -12 }, interval_s: 3600 }]);
  expect(economizer.saved.kwh).toBe(-12);
  expect(money?.saved).toBeCloseTo(-2.4, 12);
});

const NOW = at('2026-11-03T12:00:00Z');
const period = (from: string, to?: string) => readPeriod({ from, to }, { offsets: CHICAGO, now: NOW });

test('dates are whole local days, both included; what is still to come is left out', () => {
  expect(must(period('2026-10-31', '2026-11-01'))).toEqual({
    from: at('2026-10-31T05:00:00Z'),
    to: at('2026-11-02T06:00:00Z'),
  });
  expect(must(period('2026-11-01', '2026-12-31')).to).toBe(NOW);
  expect(must(period('2026-11-01')).to).toBe(NOW);
  expect(must(period('2026-11-01T00:00:00-05:00')).from).toBe(at('2026-11-01T05:00:00Z'));
  expect(monthStart(at('2026-11-01T04:59:00Z'), CHICAGO)).toBe('2026-10-01');
});

test.each([
  ['2026-11-31', undefined],
  ['2026-13-01', undefined],
  ['2026-11-04', undefined],
  ['2026-11-02', '2026-11-01'],
  ['1990-01-01', undefined],
  ['', undefined],
])('no period: %s to %s', (from, to) => {
  expect(period(from, to)).toMatchObject({ ok: false, fault: { code: 'usage' } });
});
