import { describe, expect, it } from 'vitest';
import { plant } from '../../../agent/web/page/plant.js';
import type { View } from '../../../agent/web/page-types.ts';
import { viewOf } from './views.ts';

const plain = (html: string): string =>
  html
    .replace(/<[^>]*>/g, ' ')
    .replace(/\s+/g, ' ')
    .trim();
/** The row of all machines together, as text. */
function total(view: View): string {
  return plain(/<tr class="plant">.*?<\/tr>/s.exec(plant(view))?.[0] ?? 'no row');
}

describe('the plant at a glance', () => {
  it('has a row for all together, with the figures that the agent gives', () => {
    const view = viewOf();
    expect(total(view)).toBe('Plant 2 running 1,798 ±23 tons 75 % 945 ±7 kW 0.526 ±0.008 kW/ton 45.5 ±0.9 kW');
    const html = plant(view);
    for (const name of ['unit.capacity', 'unit.power', 'unit.kw_per_ton', 'economizer.power_saved'])
      expect(html, name).toContain(
        `data-metric="${name}" data-chiller="plant" data-value="${view.plant.values[name]}" data-unit="${view.site.catalogue[name]?.unit}" data-quality="good" data-time="2026-07-14T08:42:00.000Z"`,
      );
    expect(total(viewOf({ system: 'si' }))).toContain('6,320 ±80 kW');
    expect(total(viewOf({ system: 'si' }))).toContain('6.69 ±0.10');
  });
  it('never shows a sum that lacks a machine, but names it', () => {
    const view = viewOf({ second: 'lost' });
    expect(total(view)).toBe('Plant 1 running, CH-2 not known CH-2 missing CH-2 missing CH-2 missing CH-2 missing');
    expect(plant(view)).toContain('title="CH-2 missing: whether it runs is not known"');
  });
  it('counts a machine that stands still as nothing, and one that the page cannot hear as last known', () => {
    expect(total(viewOf({ second: 'standstill' }))).toBe(
      'Plant 1 of 2 running 1,186 ±20 tons 49 % 628 ±6 kW 0.529 ±0.012 kW/ton 31.0 ±0.8 kW',
    );
    expect(total(viewOf({ mode: 'standstill', second: 'standstill' }))).toBe('Plant none running off off off off');
    expect(total(viewOf({ age_s: 660 }))).toMatch(/^Plant last known 1,798 last known tons \[75\] %/);
    expect(total(viewOf({ mode: 'loading' }))).toMatch(/^Plant waiting · · · tons/);
  });
  it('of a machine of its own has no such row', () => {
    const view = viewOf();
    const alone = { ...view, site: { ...view.site, chillers: view.site.chillers.slice(0, 1) } };
    expect(plant(alone)).not.toContain('Plant</th>');
  });
  it('doubt of one machine is doubt of the plant', () => {
    expect(plant(viewOf({ second: 'starting' }))).toMatch(
      /data-metric="unit\.capacity" data-chiller="plant"[^>]*data-quality="uncertain"[^>]*title="CH-2: not steady: starting"/,
    );
  });
});
