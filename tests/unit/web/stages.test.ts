import { describe, expect, it } from 'vitest';
import { numbersOf, openAlarms, stateWords } from '../../../agent/web/page/circuit.js';
import { diagram } from '../../../agent/web/page/diagram.js';
import { figureOf } from '../../../agent/web/page/figures.js';
import { keys, sentence } from '../../../agent/web/page/keys.js';
import { nowMain, pictures } from '../../../agent/web/page/page.js';
import { overlap } from '../../../agent/web/page/place.js';
import { edgeAt } from '../../../agent/web/page/plane.js';
import { legWords, readout, walk } from '../../../agent/web/page/readout.js';
import { sheet } from '../../../agent/web/page/sheet.js';
import type { View } from '../../../agent/web/page-types.ts';
import type { StateFigure } from '../../../agent/web/types.ts';
import { viewOf } from './views.ts';

const plain = (html: string): string =>
  html
    .replace(/<[^>]*>/g, '')
    .replace(/\s+/g, ' ')
    .trim();
const two = (more: Parameters<typeof viewOf>[0] = {}): View => viewOf({ chosen: 'CH-2', ...more });
const drawn = (view: View): string => pictures(view, 'CH-2', { width: 1232, window: 1280 }, 'p');
const SIZES = [
  { width: 732, height: 484, size: 12.5, folded: false },
  { width: 892, height: 500, size: 14.5, folded: false },
  { width: 358, height: 390, size: 12.5, folded: true },
];

describe('a machine of two stages with tank vapour between them', () => {
  it('draws each state once in either picture, and both stages as legs with work', () => {
    const html = drawn(two());
    for (const n of ['1', '2', '3', '4', '5', '6', '7', '9', '10'])
      expect(html.split(`data-state="${n}"`).length - 1, n).toBe(2);
    expect(html).not.toContain('data-state="8"');
    for (const leg of ['first stage', 'second stage', 'tank vapour', 'condenser valve', 'tank valve'])
      expect(html).toContain(`data-leg="${leg}"`);
    for (const stage of ['first', 'second']) expect(html).toContain(`class="leg work" data-leg="${stage} stage"`);
    expect(html).not.toContain('economizer compressor');
    expect(html).not.toContain('class="leg work2"');
  });
  it('each leg of the diagram runs from its first state to its last: mixing lies between the stages', () => {
    const { svg } = diagram({ view: two(), id: 'CH-2', uid: 'd', ...SIZES[0]! });
    const dot = (n: string): string => {
      const order = walk(two(), 'CH-2').indexOf(n);
      const [, x, y] = [...svg.matchAll(/<circle class="dot" cx="([\d.]+)" cy="([\d.]+)"/g)][order] ?? [];
      return `${x} ${y}`;
    };
    const path = (leg: string): string[] =>
      (new RegExp(`data-leg="${leg}">.*?<path class="hit" d="M([^"]*)"`).exec(svg)?.[1] ?? '').split('L');
    expect(path('first stage')).toEqual([dot('1'), dot('2')]);
    expect(path('second stage')).toEqual([dot('9'), dot('10')]);
    expect(path('tank vapour')).toEqual([dot('4'), dot('7'), dot('9'), dot('2')]);
    expect(path('condenser')).toEqual([dot('10'), dot('3')]);
    expect(dot('9')).not.toBe(dot('2'));
  });
  it('is walked round the circuit, each state by its own words', () => {
    expect(walk(two(), 'CH-2')).toEqual(['1', '2', '9', '10', '3', '4', '5', '6', '7']);
    expect(plain(readout(two(), 'CH-2', '9'))).toMatch(
      /^9 second-stage suction, after mixing: 72\.1 °F, 15\.4 ±0\.1 psia/,
    );
    expect(plain(readout(two(), 'CH-2', '10'))).toMatch(/^10 second-stage discharge: /);
    expect(stateWords('1', { arrangement: 'interstage', circuit: null }).where).toBe('first-stage suction');
    expect(stateWords('1', { arrangement: 'parallel', circuit: null }).where).toBe('main compressor suction');
    expect(plain(legWords(two(), 'CH-2', 'second stage'))).toBe('second stage lifts by 28.2 ±0.4 °F');
  });
  it('has the lift of each stage in picture, key and table, and no second machine anywhere', () => {
    const view = two();
    expect(plain(keys(view, 'CH-2'))).toContain('Lift54.3 ±0.4 °Ffirst stage 26.1 ±0.4 °F');
    const text = plain(sheet(view, 'CH-2'));
    expect(text).toContain('lift of the first stage26.1');
    expect(text).toContain('lift of the second stage28.2');
    expect(text).not.toMatch(/economizer compressor|bad/);
    expect(figureOf(view, 'CH-2', 'economizer_compressor.power')).toBeNull();
    expect(figureOf(view, 'CH-1', 'main_compressor.first_stage_lift')).toBeNull();
  });
  it('vapour line closed: one compression from 1 to 10, points 2, 5, 7 and 9 gone, and what is missed', () => {
    const view = two({ second: 'off' });
    const html = drawn(view);
    for (const n of ['1', '3', '4', '6', '10']) expect(html.split(`data-state="${n}"`).length - 1, n).toBe(2);
    for (const n of ['2', '5', '7', '9']) expect(html).not.toContain(`data-state="${n}"`);
    expect(html).toContain('class="leg work" data-leg="main compressor"');
    expect(html).not.toContain('data-leg="first stage"');
    expect(html).toContain('vapour line closed');
    expect(html).toContain('with economizer');
    expect(plain(keys(view, 'CH-2'))).toContain('Economizer off, missed saving14.6 ±0.4 kW');
    expect(plain(keys(view, 'CH-2'))).not.toContain('economizer compressor');
    // also where the solution still names the states of the vapour side
    expect(numbersOf({ arrangement: 'interstage', circuit: null }, true, two().nows['CH-2']!.states)).toEqual([
      '1',
      '10',
      '3',
      '4',
      '6',
    ]);
  });
  it('reads vacuum in inches of mercury below the air, in SI as gauge below zero; the axis is absolute', () => {
    const ip = plain(sheet(two(), 'CH-2'));
    expect(ip).toContain('pressure12.0±0.1psigpressure12.3±0.1inHg vac');
    expect(drawn(two())).toContain('>psia</text>');
    const si = two({ system: 'si' });
    expect(plain(sheet(si, 'CH-2'))).toContain('pressure82.7±0.7−41.5±0.3kPa g');
    expect(drawn(si)).toMatch(/>kPa<\/text>/);
  });
  it('an alarm of the main compressor marks the stages', () => {
    const view = two();
    const alarm = {
      ...view.alarms[0]!,
      chiller: 'CH-2',
      metric: 'main_compressor.discharge_temperature',
      state: 'unacknowledged' as const,
      priority: 2 as const,
    };
    const html = drawn({ ...view, alarms: [alarm] });
    expect(html).toContain('class="machine hot p2" data-leg="first stage"');
    expect(html).toContain('class="flag p2"');
  });
});

/** The circuit of two stages moved to other pressures: saturated states from the dome, the rest shifted along. */
function at(view: View, evaporator: number, tank: number, condenser: number): View {
  const now = view.nows['CH-2']!;
  const dome = view.diagram!;
  const h3 = edgeAt(dome.liquid, condenser) - 4000;
  const h5 = edgeAt(dome.liquid, tank);
  const one = edgeAt(dome.vapour, evaporator) + 200;
  const p: Record<string, number> = { 1: evaporator, 6: evaporator, 10: condenser, 3: condenser };
  const h: Record<string, number> = {
    1: one,
    2: edgeAt(dome.vapour, tank) + 2500,
    3: h3,
    4: h3,
    5: h5,
    7: edgeAt(dome.vapour, tank),
    9: edgeAt(dome.vapour, tank) + 2300,
    10: edgeAt(dome.vapour, condenser) + 6000,
  };
  const move = (states: Readonly<Record<string, StateFigure>>): Record<string, StateFigure> =>
    Object.fromEntries(
      Object.entries(states).map(([n, s]) => [
        n,
        { ...s, p: p[n] ?? tank, h: h[n] ?? (states['5'] === undefined ? h3 : h5) },
      ]),
    );
  return { ...view, nows: { ...view.nows, 'CH-2': { ...now, states: move(now.states), ghost: move(now.ghost) } } };
}

function expectApart(view: View, size: (typeof SIZES)[number], what: string): number {
  const { labels } = diagram({ view, id: 'CH-2', uid: 'd', ...size });
  for (const [i, a] of labels.entries())
    for (const b of labels.slice(i + 1)) expect(overlap(a.box, b.box), `${a.id} on ${b.id}, ${what}`).toBe(0);
  for (const { id, box } of labels) {
    expect(box[0], id).toBeGreaterThanOrEqual(0);
    expect(box[2], id).toBeLessThanOrEqual(size.width);
    expect(box[3], id).toBeLessThanOrEqual(size.height);
  }
  return labels.length;
}

describe('labels of the diagram of two stages', () => {
  for (const second of ['normal', 'off'] as const)
    for (const system of ['ip', 'si'] as const)
      it(`never overlap: ${second}, ${system}, over the machine's range of pressures`, () => {
        const view = two({ second, system });
        for (const evaporator of [48e3, 60e3, 70e3])
          for (const condenser of [120e3, 150e3, 184e3, 230e3])
            for (const share of [0.35, 0.5, 0.65]) {
              const tank = evaporator * (condenser / evaporator) ** share;
              for (const size of SIZES)
                expect(
                  expectApart(
                    at(view, evaporator, tank, condenser),
                    size,
                    `${evaporator} ${tank} ${condenser} ${size.width}`,
                  ),
                ).toBeGreaterThan(8);
            }
      });
  it('nor at rest, where the pressures lie on one another', () => {
    for (const second of ['standstill', 'stopping'] as const)
      for (const system of ['ip', 'si'] as const)
        for (const size of SIZES) expectApart(two({ second, system }), size, `${second} ${size.width}`);
  });
});

describe('a machine that does not run', () => {
  const still = two({ second: 'standstill' });
  it('says off in words at its keys, never a number, never bad', () => {
    const html = keys(still, 'CH-2');
    expect(html.split('<span class="word still">off</span>').length - 1).toBe(5);
    expect(plain(html)).not.toMatch(/bad|\d ±/);
    expect(plain(html)).toContain('since 06:10');
    expect(plain(sentence(still, 'CH-2'))).toBe(
      'Standstill for 4 h 32 min. Since it is watched 212 starts, 9,841.0 h run. No circuit is solved while it does not run; pressures, levels and water are measured.',
    );
  });
  it('is not drawn as if it ran: no leg with its texture, no numbers, machines crossed, pressures shown', () => {
    const html = drawn(still);
    expect(html).not.toMatch(/class="leg (work|work2|heat-in|heat-out|throttle1|throttle2|split|ghost)"/);
    expect(html).not.toContain('data-state=');
    expect(html.split('class="machine off"').length - 1).toBe(2);
    expect(html).toContain('standstill since 06:10');
    for (const name of ['condenser', 'flash_tank', 'evaporator'])
      expect(html.split(`data-metric="${name}.pressure"`).length - 1, name).toBe(2);
    expect(walk(still, 'CH-2')).toEqual([]);
    expect(readout(still, 'CH-2', null)).toBe('No circuit while the machine does not run.');
  });
  it('its tables say off once, and keep what is measured', () => {
    const text = plain(sheet(still, 'CH-2'));
    expect(text).toContain('starts since watched212');
    expect(text).toContain('Compressor of two stagesalloff');
    expect(text).toContain('saturation temperature75.9');
    expect(text).not.toContain('bad');
  });
  it('a sensor that is bad at standstill is bad, not off', () => {
    const now = still.nows['CH-2']!;
    const quality = {
      ...now.quality,
      'evaporator.saturation_temperature': { quality: 'bad' as const, reason: 'evaporator.pressure is bad' },
    };
    const values = { ...now.values, 'evaporator.saturation_temperature': null };
    const view = { ...still, nows: { ...still.nows, 'CH-2': { ...now, values, quality } } };
    expect(figureOf(view, 'CH-2', 'evaporator.saturation_temperature')).toMatchObject({ off: false, quality: 'bad' });
  });
  it('with an economizer compressor: both machines rest, and no missed saving is spoken of', () => {
    const view = viewOf({ mode: 'standstill' });
    expect(plain(sentence(view, 'CH-1'))).toMatch(/^Off for 4 h 32 min\. /);
    expect(plain(sentence(view, 'CH-1'))).not.toContain('economizer');
    expect(plain(keys(view, 'CH-1'))).not.toContain('missed');
    expect(pictures(view, 'CH-1', { width: 1232, window: 1280 }, 'p').split('class="machine off"').length - 1).toBe(2);
  });
  it('stopping: it has stopped already, so that no circuit is drawn and its keys are off', () => {
    const view = two({ second: 'stopping' });
    expect(drawn(view)).toContain('stopping since 10:38');
    const html = keys(view, 'CH-2');
    expect(html.split('<span class="word still">off</span>').length - 1).toBe(5);
    expect(plain(html)).not.toMatch(/bad|uncertain|\d ±/);
    expect(plain(sheet(view, 'CH-2'))).not.toContain('bad');
  });
  it('starting: the circuit is drawn, every figure of it doubtful, the reason said once', () => {
    const view = two({ second: 'starting' });
    expect(drawn(view)).toContain('class="leg work" data-leg="first stage"');
    expect(plain(sentence(view, 'CH-2'))).toMatch(/^Starting for 4 min\. /);
    expect(plain(sheet(view, 'CH-2'))).toContain('uncertain, where marked: not steady: starting');
  });
});

describe('a controller that never answered', () => {
  it('has nothing last known, and the page says so', () => {
    const view = two({ second: 'lost' });
    const known = { ...view, last: {} };
    expect(plain(sentence(known, 'CH-2'))).toBe('Its controller has not answered yet: nothing is known of it.');
    const page = plain(nowMain(known, '', { state: null, trend: 200 }));
    expect(page).toContain(
      'Controller CH-2 has not answered yetThe agent keeps asking. Reason: no reply within 1 s.CH-1 is polled as usual.',
    );
    expect(page).not.toMatch(/last answer/i);
    expect(page).not.toContain('bad');
    expect(openAlarms(view.alarms, 'CH-2').map(({ title }) => title)).toEqual(['controller silent']);
  });
});
