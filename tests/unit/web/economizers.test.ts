/** Pictures and words of a machine with a subcooler and of one of three stages, drawn from what the solver found. */
import { describe, expect, it } from 'vitest';
import { economizerSchematic } from '../../../agent/web/page/economizers.js';
import { figureOf } from '../../../agent/web/page/figures.js';
import { keys, sentence } from '../../../agent/web/page/keys.js';
import { pictures } from '../../../agent/web/page/page.js';
import { readout, walk } from '../../../agent/web/page/readout.js';
import { sheet } from '../../../agent/web/page/sheet.js';
import type { View } from '../../../agent/web/page-types.ts';
import { economizerView } from './economizer-views.ts';
import { viewOf } from './views.ts';

const plain = (html: string): string => html.replace(/<[^>]*>/g, '').replace(/\s+/g, ' ');
const drawn = (view: View, width = 1280): string =>
  pictures(view, 'CH-2', { width: width - 48, window: width }, 'p', economizerSchematic);

const CASES = [
  {
    kind: 'subcooler',
    on: ['1', '2', '9', '10', '3', '4', '5', '6', '7'],
    off: ['1', '10', '3', '6'],
    legs: [
      'subcooled liquid',
      'economizer valve',
      'economizer vapour',
      'first stage',
      'second stage',
      'condenser valve',
    ],
    words: /^5 liquid leaving the subcooler: /,
    state: '5',
    about: 'Boils off in the subcooler',
  },
  {
    kind: 'three',
    on: ['1', '2', '14', '15', '9', '10', '3', '4', '5', '11', '12', '6', '7', '13'],
    off: ['1', '10', '3', '4', '11', '6'],
    legs: ['tank vapour', 'second tank vapour', 'second tank valve', 'first stage', 'second stage', 'third stage'],
    words: /^13 vapour leaving the second tank: /,
    state: '13',
    about: 'Flashes in the first tank',
  },
] as const;

describe.each(CASES)('$kind', ({ kind, on, off, legs, words, state, about }) => {
  it('draws each state once in either picture, and every leg', () => {
    for (const width of [1280, 390]) {
      const html = drawn(economizerView(kind), width);
      for (const n of on) expect(html.split(`data-state="${n}"`).length - 1, `${n} at ${width}`).toBe(2);
      for (const leg of legs) expect(html, leg).toContain(`data-leg="${leg}"`);
      expect(html).not.toContain('NaN');
      expect(html).not.toContain('data-state="8"');
    }
  });

  it('is walked round the circuit, each state in its own words', () => {
    const view = economizerView(kind);
    expect(walk(view, 'CH-2')).toEqual(on);
    expect(plain(readout(view, 'CH-2', state))).toMatch(words);
    expect(walk(economizerView(kind, false), 'CH-2')).toEqual(off);
  });

  it('economizer off: one compression, its vapour crossed out, and what is missed', () => {
    const view = economizerView(kind, false);
    const html = drawn(view);
    for (const n of on) expect(html.includes(`data-state="${n}"`), n).toBe((off as readonly string[]).includes(n));
    expect(html).toContain('class="leg work" data-leg="main compressor"');
    expect(html).not.toContain('data-leg="first stage"');
    expect(html).toContain('class="cross"');
    expect(plain(keys(view, 'CH-2'))).toContain('Economizer off, missed saving');
    expect(plain(sentence(view, 'CH-2'))).toContain('no vapour leaves it');
  });

  it('has its figures in keys, sentence and tables, and none of machines that it is not', () => {
    const view = economizerView(kind);
    expect(plain(keys(view, 'CH-2'))).toContain(about);
    expect(plain(sentence(view, 'CH-2'))).toMatch(/of the condensed refrigerant leaves the (subcooler|first tank)/);
    const text = plain(sheet(view, 'CH-2'));
    expect(text).toContain(kind === 'three' ? 'lift of the third stage' : 'approach of the subcooler');
    expect(text).toContain(kind === 'three' ? 'Compressor of three stages' : 'Compressor of two stages');
    expect(text).not.toContain('this arrangement has no');
    expect(figureOf(view, 'CH-2', 'economizer_compressor.power')).toBeNull();
    expect(figureOf(view, 'CH-2', 'flash_tank.flash_fraction') === null).toBe(kind === 'subcooler');
  });
});

/** What the tables of level loops say. */
function loops(view: View): { readonly heads: string[]; readonly figures: string[]; readonly words: string } {
  const table = (sheet(view, 'CH-2').match(/<table class="g[57]">.*?<\/table>/gs) ?? []).join('');
  return {
    heads: [...table.matchAll(/<th scope="col">(.*?)<\/th>/gs)].map(([, head = '']) => plain(head)),
    figures: [...table.matchAll(/data-metric="([^"]+)"/g)].map(([, name = '']) => name),
    words: plain(table),
  };
}

describe('level loops on the sheet', () => {
  it('three stages: every loop, the second tank that hunts among them', () => {
    const { heads, figures, words } = loops(economizerView('three'));
    expect(heads).toEqual(['condenser', 'tank', 'second tank']);
    for (const vessel of ['condenser', 'flash_tank', 'flash_tank_2'])
      for (const name of ['level', 'level_setpoint', 'storage_mass_flow'])
        expect(figures).toContain(`${vessel}.${name}`);
    for (const name of ['flash_tank_2.pressure', 'flash_tank_2.saturation_temperature', 'tank_valve_2.position'])
      expect(figures).toContain(name);
    for (const name of ['hunting_index', 'period', 'level_amplitude'])
      expect(figures).toContain(`tank_valve_2.${name}`);
    expect(words).toContain('0.83');
    expect(words).toContain('liquid taken up');
  });

  it('a subcooler: the one loop that it has', () => {
    const { heads, figures, words } = loops(economizerView('subcooler'));
    expect(heads).toEqual(['condenser']);
    expect(words).toContain('Level loop');
    expect(figures.filter((name) => /^(flash_tank|tank_valve)/.test(name))).toEqual([]);
  });

  it('two tanks belong to three stages alone', () => {
    const { heads, figures } = loops(viewOf({ chosen: 'CH-2' }));
    expect(heads).toEqual(['condenser', 'tank']);
    expect(figures.filter((name) => name.includes('_2.'))).toEqual([]);
  });
});
