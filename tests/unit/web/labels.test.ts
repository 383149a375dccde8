import { describe, expect, it } from 'vitest';
import { diagram } from '../../../agent/web/page/diagram.js';
import { pictures } from '../../../agent/web/page/page.js';
import { overlap, Placer } from '../../../agent/web/page/place.js';
import { edgeAt } from '../../../agent/web/page/plane.js';
import type { View } from '../../../agent/web/page-types.ts';
import type { StateFigure } from '../../../agent/web/types.ts';
import { viewOf } from './views.ts';

const SIZES = [
  { width: 732, height: 484, size: 12.5, folded: false },
  { width: 892, height: 500, size: 14.5, folded: false },
  { width: 358, height: 390, size: 12.5, folded: true },
];

/** The view with its circuit moved to other pressures: saturated states from the dome, the rest shifted along. */
function at(view: View, evaporator: number, tank: number, condenser: number): View {
  const now = view.nows['CH-1']!;
  const dome = view.diagram!;
  const p: Record<string, number> = {
    1: evaporator,
    2: condenser,
    3: condenser,
    4: tank,
    5: tank,
    6: evaporator,
    7: tank,
    8: condenser,
  };
  const move = (states: Readonly<Record<string, StateFigure>>): Record<string, StateFigure> => {
    const h3 = edgeAt(dome.liquid, condenser) - 5000;
    const h5 = edgeAt(dome.liquid, tank);
    const h: Record<string, number> = {
      1: edgeAt(dome.vapour, evaporator) + 800,
      2: edgeAt(dome.vapour, condenser) + 9000,
      3: h3,
      4: h3,
      5: h5,
      6: states['5'] === undefined ? h3 : h5,
      7: edgeAt(dome.vapour, tank),
      8: edgeAt(dome.vapour, condenser) + 6000,
    };
    return Object.fromEntries(Object.entries(states).map(([n, s]) => [n, { ...s, h: h[n] ?? s.h, p: p[n] ?? s.p }]));
  };
  const moved = { ...now, states: move(now.states), ghost: move(now.ghost) };
  return { ...view, nows: { ...view.nows, 'CH-1': moved } };
}

describe('labels of the diagram', () => {
  for (const mode of ['normal', 'off', 'alarm'] as const) {
    for (const system of ['ip', 'si'] as const) {
      it(`never overlap: ${mode}, ${system}, over the machine's range of pressures`, () => {
        const view = viewOf({ mode, system });
        let drawings = 0;
        for (const evaporator of [300e3, 351e3, 390e3])
          for (const condenser of [620e3, 760e3, 906e3, 1_120e3])
            for (const share of [0.35, 0.5, 0.65]) {
              const tank = evaporator * (condenser / evaporator) ** share;
              for (const size of SIZES) {
                const { labels } = diagram({
                  view: at(view, evaporator, tank, condenser),
                  id: 'CH-1',
                  uid: 'd',
                  ...size,
                });
                drawings++;
                expect(labels.length).toBeGreaterThan(10);
                for (const [i, a] of labels.entries())
                  for (const b of labels.slice(i + 1))
                    expect(
                      overlap(a.box, b.box),
                      `${a.id} on ${b.id}, ${evaporator} ${tank} ${condenser} at ${size.width}`,
                    ).toBe(0);
                for (const { id, box } of labels) {
                  expect(box[0], id).toBeGreaterThanOrEqual(0);
                  expect(box[2], id).toBeLessThanOrEqual(size.width);
                  expect(box[3], id).toBeLessThanOrEqual(size.height);
                }
              }
            }
        expect(drawings).toBe(108);
      });
    }
  }
  it('the pressure window does not move with the minute', () => {
    const view = viewOf();
    const ticks = (v: View): string =>
      /<path class="axis" d="([^"]*)"/.exec(diagram({ view: v, id: 'CH-1', uid: 'd', ...SIZES[0]! }).svg)?.[1] ?? '';
    expect(ticks(view)).not.toBe('');
    expect(ticks(at(view, 320e3, 540e3, 840e3))).toBe(ticks(view));
  });
});

describe('the placer', () => {
  it('takes the place that hits nothing, shifts what must stand, drops what need not', () => {
    const placer = new Placer(200, 100);
    expect(placer.put('a', 50, 10, [[10, 10, 'start']])?.box).toEqual([10, 10, 60, 20]);
    expect(
      placer.put('b', 50, 10, [
        [10, 12, 'start'],
        [10, 40, 'start'],
      ])?.box,
    ).toEqual([10, 40, 60, 50]);
    expect(placer.put('c', 50, 10, [[10, 12, 'start']], 100)).toBeNull();
    const shifted = placer.put('d', 50, 10, [[10, 12, 'start']]);
    expect(shifted).not.toBeNull();
    for (const { box } of placer.labels.slice(0, 2)) expect(overlap(box, shifted!.box)).toBe(0);
  });
});

describe('pictures', () => {
  it('draw every leg with its own texture and each state once in either picture', () => {
    const html = pictures(viewOf(), 'CH-1', { width: 1232, window: 1280 }, 'p');
    for (const leg of [
      'condenser',
      'evaporator',
      'condenser valve',
      'tank valve',
      'tank vapour',
      'main compressor',
      'economizer compressor',
    ])
      expect(html).toContain(`data-leg="${leg}"`);
    for (const kind of ['heat-out', 'heat-in', 'throttle1', 'throttle2', 'work', 'work2', 'split', 'ghost'])
      expect(html).toContain(`class="leg ${kind}"`);
    for (const n of '12345678') expect(html.split(`data-state="${n}"`).length - 1, n).toBe(2);
  });
  it('economizer off: points 5, 7 and 8 are gone', () => {
    const html = pictures(viewOf({ mode: 'off' }), 'CH-1', { width: 1232, window: 1280 }, 'p');
    for (const n of '578') expect(html).not.toContain(`data-state="${n}"`);
    expect(html).toContain('with economizer');
  });
  it('a lost controller leaves no texture, a stamp instead', () => {
    const html = pictures(viewOf({ mode: 'lost' }), 'CH-1', { width: 1232, window: 1280 }, 'p');
    expect(html).toContain('last known 10:42, 11 min old');
    expect(html).not.toContain('class="leg work"');
    expect(pictures(viewOf({ mode: 'loading' }), 'CH-1', { width: 1232, window: 1280 }, 'p')).toContain(
      'no minute solved yet',
    );
  });
  it('flag the part that the worst alarm concerns', () => {
    const html = pictures(viewOf({ mode: 'alarm' }), 'CH-1', { width: 1232, window: 1280 }, 'p');
    expect(html).toContain('class="valve hot p1" data-leg="tank valve"');
    expect(html.split('class="flag p1"').length - 1).toBe(2);
  });
});
