import { describe, expect, it } from 'vitest';
import { condition, overdue } from '../../../agent/web/page/condition.js';
import { cell, figureOf, reasonRows, runs, span } from '../../../agent/web/page/figures.js';
import { keys, sentence } from '../../../agent/web/page/keys.js';
import { lateWords, rule } from '../../../agent/web/page/mast.js';
import { readout, walk } from '../../../agent/web/page/readout.js';
import { sheet } from '../../../agent/web/page/sheet.js';
import type { View } from '../../../agent/web/page-types.ts';
import { viewOf } from './views.ts';

const plain = (html: string): string =>
  html
    .replace(/<[^>]*>/g, '')
    .replace(/\s+/g, ' ')
    .trim();

describe('a figure', () => {
  it('carries name, chiller, catalogue value and unit, quality and time', () => {
    const view = viewOf();
    const html = span(figureOf(view, 'CH-1', 'unit.capacity'), view);
    expect(html).toContain('data-metric="unit.capacity" data-chiller="CH-1" data-value="4170.988" data-unit="kW"');
    expect(html).toContain('data-quality="good" data-time="2026-07-14T08:42:00.000Z"');
    expect(plain(html)).toBe('1,186 ±20 tons');
  });
  it('that is uncertain says so in words and by a mark', () => {
    const view = viewOf();
    const figure = figureOf(view, 'CH-1', 'condenser_water.leaving_temperature');
    expect(cell(figure, view)).toContain('data-quality="uncertain"');
    expect(plain(cell(figure, view))).toBe('92.5?±0.8 uncertain, sensor 2.4 standard uncertainties high');
    expect(
      runs(figure, view)
        .map((run) => run.t)
        .join(''),
    ).toBe('92.5? ±0.8 °F');
  });
  it('that is bad is a blank with its reason, never a number', () => {
    const view = viewOf({ mode: 'off' });
    const html = cell(figureOf(view, 'CH-1', 'unit.heat_balance_error'), view);
    expect(html).toContain('data-value=""');
    expect(plain(html)).toBe('bad needs condenser water flow');
    expect(plain(html)).not.toMatch(/\d/);
  });
  it('that is last known stands in brackets without an uncertainty', () => {
    for (const view of [viewOf({ mode: 'lost' }), viewOf({ age_s: 660 })]) {
      const figure = figureOf(view, 'CH-1', 'unit.capacity');
      expect(span(figure, view)).toContain('data-last');
      expect(plain(span(figure, view))).toBe('1,186 last known tons');
      expect(plain(cell(figure, view))).toBe('[1,186] last known');
      expect(
        runs(figure, view)
          .map((run) => run.t)
          .join(''),
      ).toBe('[1,186] tons');
    }
  });
  it('of a machine that is off says off', () => {
    const view = viewOf({ mode: 'off' });
    expect(plain(cell(figureOf(view, 'CH-1', 'economizer_compressor.power'), view))).toBe('off');
    // a point that is bad is not excused by the economizer
    expect(plain(cell(figureOf(view, 'CH-1', 'condenser_water.flow'), view))).toBe('bad signal open');
  });
  it('that the agent does not have is absent', () => {
    const view = viewOf();
    expect(figureOf(view, 'CH-1', 'main_compressor.surge_margin')).toBeNull();
    expect(cell(null, view)).toBe('<td></td>');
    expect(figureOf(viewOf({ chosen: 'CH-2', second: 'direct' }), 'CH-2', 'economizer.power_saved')).toBeNull();
  });
  it('before the first minute is three dots', () => {
    const view = viewOf({ mode: 'loading' });
    expect(plain(span(figureOf(view, 'CH-1', 'unit.capacity'), view))).toBe('· · · tons');
  });
  it('gives equal reasons one line', () => {
    const view = viewOf();
    const named = ['condenser.approach', 'condenser.ua'].map((name) => [name, figureOf(view, 'CH-1', name)] as const);
    expect(plain(reasonRows(named, 4))).toBe(
      'uncertain, condenser.approach, condenser.ua: depends on the suspect sensor',
    );
  });
});

describe('the condition of the data', () => {
  it('is overdue after 75 s of a one-minute interval', () => {
    expect(overdue(60)).toBe(75);
    expect(overdue(5)).toBe(20);
    expect(condition(viewOf({ age_s: 74 }), 'CH-1').kind).toBe('live');
    expect(condition(viewOf({ age_s: 76 }), 'CH-1').kind).toBe('stale');
  });
  it('tells a lost controller from a silent agent, and leaves the other chiller alone', () => {
    const lost = viewOf({ mode: 'lost' });
    expect([condition(lost, 'CH-1').kind, condition(lost, 'CH-2').kind]).toEqual(['lost', 'live']);
    expect(lateWords(lost)).toBe('controller CH-1 silent since 10:42, 11 minutes');
    expect(lateWords(viewOf({ age_s: 660 }))).toBe('no minute from the agent since 10:42, 11 minutes');
    expect(lateWords(viewOf())).toBe('');
    expect(rule(viewOf({ age_s: 660 }), 1280)).toContain('class="late"');
    expect(rule(viewOf(), 1280)).toContain('class="fillbar"');
    expect(sentence(lost, 'CH-1')).toContain('the machine may have changed or stopped since');
  });
  it('before the first minute there is no circuit to walk', () => {
    const view = viewOf({ mode: 'loading' });
    expect(condition(view, 'CH-1').kind).toBe('waiting');
    expect(walk(view, 'CH-1')).toEqual([]);
    expect(readout(view, 'CH-1', null)).toBe('The circuit appears with the first solved minute.');
    expect(sheet(view, 'CH-1')).toBe('');
  });
});

describe('words', () => {
  it('say how the machine stands and what the economizer does', () => {
    expect(plain(sentence(viewOf(), 'CH-1'))).toBe(
      'Steady for 2 h 10 min. 9.4 ±0.2 % of the condensed refrigerant leaves the tank as vapour and saves 4.7 ±0.2 % of the power. One point is uncertain.',
    );
    expect(plain(sentence(viewOf({ mode: 'off' }), 'CH-1'))).toContain(
      'The economizer is off: no vapour leaves the tank, and 31.0 ±0.8 kW is spent that it would save.',
    );
  });
  it('a saving that is negative or undecided is not called a saving', () => {
    const change = (value: number): View => {
      const view = viewOf();
      const now = view.nows['CH-1']!;
      return {
        ...view,
        nows: { ...view.nows, 'CH-1': { ...now, values: { ...now.values, 'economizer.saving_fraction': value } } },
      };
    };
    expect(plain(sentence(change(-0.01), 'CH-1'))).toContain('the economizer costs power now');
    expect(plain(sentence(change(0.0005), 'CH-1'))).toContain('whether it saves power cannot be told');
  });
  it('third key by what the machine has', () => {
    expect(plain(keys(viewOf(), 'CH-1'))).toContain('Economizer saves31.0 ±0.8 kW');
    expect(plain(keys(viewOf({ mode: 'off' }), 'CH-1'))).toContain('Economizer off, missed saving31.0');
    expect(plain(keys(viewOf({ chosen: 'CH-2', second: 'direct' }), 'CH-2'))).toContain(
      'Share of the Carnot limit73.2',
    );
    expect(plain(keys(viewOf({ system: 'si' }), 'CH-1'))).toContain('Cooling per power6.64');
  });
  it('walk the states that the machine has', () => {
    expect(walk(viewOf(), 'CH-1')).toEqual(['1', '2', '3', '4', '5', '6', '7', '8']);
    expect(walk(viewOf({ mode: 'off' }), 'CH-1')).toEqual(['1', '2', '3', '4', '6']);
    // also where the solution still names the states of the vapour side
    const full = viewOf();
    const off = { ...full, nows: { 'CH-1': { ...full.nows['CH-1']!, economizer: 'off' as const } } };
    expect(walk(off, 'CH-1')).toEqual(['1', '2', '3', '4', '6']);
    expect(plain(readout(viewOf(), 'CH-1', '4'))).toBe(
      '4 entering the flash tank: 67.6 ±0.3 °F, 82.4 ±0.4 psia, 105.1 Btu/lb, 3,488 lb/min, 9.4 % vapour',
    );
    expect(plain(readout(viewOf({ age_s: 700 }), 'CH-1', '4'))).toContain('last known: [67.6] °F, [82.4] psia');
  });
  it('rows whose metric is null keep their place and give the reason; rows without a metric are left out', () => {
    const text = plain(sheet(viewOf({ mode: 'off' }), 'CH-1'));
    expect(text).toContain('heat balancebad');
    expect(text).toContain('bad, heat balance: needs condenser water flow');
    expect(text).not.toContain('surge');
    expect(plain(sheet(viewOf({ chosen: 'CH-2', second: 'direct' }), 'CH-2'))).not.toContain('tank');
  });
});
