/**
 * Words of the pressure-enthalpy diagram: rails, legs, flash fractions, effect gained. Each lists places where it
 * could stand. Pure.
 * @import { Point, Run } from '../page-types.ts'
 * @import { Scene } from './diagram.js'
 * @import { Place } from './place.js'
 */
import { partOf } from './circuit.js';
import { chillerOf } from './condition.js';
import { figureOf, runs } from './figures.js';
import { flag, runsWidth, text } from './ink.js';
import { r1 } from './text.js';

/** @type {(t: string) => Run[]} */
const bold = (t) => [{ t, c: 'b' }];

/**
 * Puts lines of text as one label.
 * @param {Scene} scene
 * @param {string} id
 * @param {readonly Run[][]} lines
 * @param {readonly Place[]} places
 * @param {number} [limit] optional where given
 */
export function label({ plane, placer, alarm }, id, lines, places, limit) {
  const { size } = plane;
  const hot = alarm !== null && alarm.part === partOf(id);
  const first = runsWidth(lines[0] ?? [], size);
  const wide = Math.max(first + (hot ? size + 9 : 0), ...lines.slice(1).map((line) => runsWidth(line, size)));
  const put = placer.put(id, wide, size * 1.22 * lines.length, places, limit);
  if (put === null) return '';
  let svg = '';
  for (const [i, line] of lines.entries()) {
    const cls = hot && i === 0 ? `lab hot p${alarm.priority}` : 'lab';
    svg += text(put.x, put.y + size * 0.92 + i * size * 1.22, line, { size, anchor: put.anchor, cls });
  }
  if (hot) {
    const x = put.anchor === 'start' ? put.x + first + 6 : put.x - first - size - 9;
    svg += flag(x, put.box[1] - 1, alarm.priority, size + 3);
  }
  return svg;
}

/**
 * Pressure and saturation temperature on each rail; where two rails come close, both lines move to one side.
 * @param {Scene} scene
 */
export function railLabels(scene) {
  const { view, id, plane, placer, rails } = scene;
  const { size } = plane;
  const order = /** @type {const} */ ([
    ['cond', 'condenser'],
    ['evap', 'evaporator'],
    ['tank', chillerOf(view, id)?.circuit?.middle ?? 'flash_tank'],
  ]);
  let svg = '';
  for (const [key, component] of order) {
    const y = rails[key];
    if (y === null) continue;
    const pressure = runs(figureOf(view, id, `${component}.pressure`), view);
    const temperature = [
      ...runs(figureOf(view, id, `${component}.saturation_temperature`), view),
      { t: ' sat.', c: 'dim' },
    ];
    const wide = Math.max(runsWidth(pressure, size), runsWidth(temperature, size));
    const line = size * 1.2;
    const around = y - line - 2.5;
    const above = y - 2 * line - 3;
    const below = y + 3;
    /** @type {Place[]} */
    const places = [];
    for (const x of [6, 14 + wide])
      for (const top of key === 'cond' ? [around, above] : key === 'evap' ? [around, below] : [around, above, below])
        places.push([x, top, 'start']);
    const split = placer.put(`rail ${key}`, wide + 2, 2 * line + 6, places);
    if (split === null) continue;
    const top = split.box[1];
    const joined = top !== around;
    const y1 = joined ? top + size * 0.95 : y - 5;
    const y2 = joined ? y1 + line : y + size + 1.5;
    svg += text(split.x, y1, pressure, { size, cls: 'lab' }) + text(split.x, y2, temperature, { size, cls: 'lab' });
  }
  return svg;
}

/** @type {(points: readonly Point[], t: number) => Point} */
function part(points, t) {
  const [a, b] = [points[0] ?? [0, 0], points.at(-1) ?? [0, 0]];
  return [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
}

/**
 * @param {Scene} scene
 */
export function legLabels(scene) {
  const { view, id, plane, rails, legs } = scene;
  const { size } = plane;
  const narrow = plane.fold !== null;
  const points = (/** @type {string} */ leg) => legs.find((one) => one.id === leg)?.points ?? null;
  const value = (/** @type {string} */ name) => runs(figureOf(view, id, name), view);
  let svg = '';
  const flat = (/** @type {string} */ leg, /** @type {readonly number[]} */ at, /** @type {number} */ lift) => {
    const p = points(leg);
    if (p === null) return;
    svg += label(
      scene,
      leg,
      [bold(leg)],
      at.map((t) => [part(p, t)[0], (p[0]?.[1] ?? 0) - lift, 'middle']),
    );
  };
  flat('condenser', narrow ? [0.3, 0.35, 0.26, 0.8] : [0.5, 0.4, 0.6, 0.86], size + 16);
  for (const valve of ['condenser valve', 'tank valve']) {
    const p = points(valve);
    if (p === null) continue;
    const [x, y] = part(p, 0.42);
    const lines = narrow ? valve.split(' ').map(bold) : [bold(valve), value(`${valve.replace(' ', '_')}.position`)];
    svg += label(scene, valve, lines, [
      [x + 9, y - size, 'start'],
      [x - 9, y - size, 'end'],
      [x + 9, y, 'start'],
      [x + 9, y - 34, 'start'],
      [x - 9, y + 16, 'end'],
      [x - 9, y - 34, 'end'],
      [x + 9, y + 26, 'start'],
    ]);
  }
  svg += compressorLabel(scene, 'main compressor', narrow ? -1 : 1, narrow ? 0.28 : 0.4);
  svg += compressorLabel(scene, 'economizer compressor', -1, 0.52);
  svg += compressorLabel(scene, 'second stage', narrow ? -1 : 1, narrow ? 0.4 : 0.5);
  svg += compressorLabel(scene, 'first stage', narrow ? -1 : 1, narrow ? 0.3 : 0.5);
  if (!scene.thin && !narrow) svg += flashes(scene);
  flat('evaporator', narrow ? [0.8, 0.83, 0.77] : [0.28, 0.34, 0.22, 0.16, 0.4, 0.5].map((t) => 1 - t), size + 8);
  const vapour = points('tank vapour');
  if (vapour !== null && !narrow && rails.tank !== null) {
    const tank = rails.tank;
    const at = [0.6, 0.5, 0.7, 0.8, 0.4].map(
      (t) => /** @type {Place} */ ([part(vapour, t)[0], tank - size - 7, 'middle']),
    );
    svg += label(scene, 'tank vapour', [bold('tank vapour')], at, 300);
  }
  return svg;
}

/**
 * @param {Scene} scene
 * @param {string} leg
 * @param {1 | -1} side
 * @param {number} at
 */
function compressorLabel(scene, leg, side, at) {
  const { view, id, plane, legs } = scene;
  const p = legs.find((one) => one.id === leg)?.points;
  if (p === undefined) return '';
  const narrow = plane.fold !== null;
  const stage = leg.endsWith(' stage');
  const duty = stage
    ? runs(figureOf(view, id, `main_compressor.${leg.replace(' ', '_')}_lift`), view, { before: 'lift' })
    : runs(figureOf(view, id, `${leg.replace(' ', '_')}.power`), view);
  const [first = '', second = ''] = leg.split(' ');
  const split = narrow || leg.startsWith('economizer');
  const lines = split ? [bold(first), bold(second)] : [bold(leg)];
  if (!narrow) lines.push(duty);
  const times = narrow && at < 0.4 ? [at, 0.32, 0.22, 0.18, 0.4] : [at, 0.35, 0.65, 0.25, 0.75];
  const places = times.map((t) => {
    const [x, y] = part(p, t);
    return /** @type {Place} */ ([x + side * 19, y - lines.length * plane.size * 0.6, side > 0 ? 'start' : 'end']);
  });
  return label(scene, leg, lines, places);
}

/**
 * Flash fractions beside points 4 and 6.
 * @param {Scene} scene
 */
function flashes(scene) {
  const { view, id, plane, rails, states, ghost, off } = scene;
  const { size } = plane;
  let svg = '';
  const one = (
    /** @type {string} */ key,
    /** @type {string} */ name,
    /** @type {number} */ x,
    /** @type {number} */ y,
  ) => {
    const figure = figureOf(view, id, name);
    if (figure === null || figure.value === null) return;
    const line = runs(figure, view, { before: 'flashes' });
    const top = y - size - 7;
    svg += label(
      scene,
      key,
      [line],
      [
        [x + 10, top, 'start'],
        [x + size * 2.5, top, 'start'],
        [x + 10, top - size - 2, 'start'],
        [x + 62, top, 'start'],
        [x + 96, top, 'start'],
      ],
      900,
    );
  };
  const four = states['4'];
  const six = states['6'];
  if (four !== undefined && rails.tank !== null && !off)
    one('flash 4', 'flash_tank.flash_fraction', plane.x(four.h), rails.tank);
  const from = !off && ghost['6'] !== undefined ? ghost['6'] : six;
  if (from !== undefined) one('flash 6', 'evaporator.flash_fraction', plane.x(from.h), rails.evap);
  return svg;
}

/**
 * Effect gained: a dimension between the two evaporator inlets, with and without economizer.
 * @param {Scene} scene
 */
export function dimension(scene) {
  const { view, id, plane, placer, rails, states, ghost, off } = scene;
  const [six, other] = [states['6'], ghost['6']];
  const gain = figureOf(view, id, 'economizer.refrigerating_effect_gain');
  if (off || six === undefined || other === undefined || gain === null || gain.value === null) return '';
  const [a, b] = [plane.x(six.h), plane.x(other.h)];
  const y = rails.evap + 17;
  const line = `<path class="dimline" d="M${r1(a)} ${r1(rails.evap + 11)}v12M${r1(b)} ${r1(rails.evap + 11)}v12M${r1(a)} ${r1(y)}H${r1(b)}"/>`;
  placer.block([a, rails.evap + 8, b, rails.evap + 24]);
  const words = runs(gain, view, { before: plane.fold === null ? 'effect gained' : 'effect' });
  /** @type {Place[]} */
  const places =
    plane.fold === null
      ? [
          [b + 6, y - 5, 'start'],
          [a, y + 6, 'start'],
          [a - 4, y + 6, 'end'],
        ]
      : [
          [b + 6, y - 5, 'start'],
          [b, y + 8, 'end'],
          [a, y + 8, 'start'],
        ];
  return line + label(scene, 'effect gained', [words], places, 900);
}

/**
 * @param {Scene} scene
 */
export function ghostLabel(scene) {
  const { plane, rails, ghost, off } = scene;
  const { size } = plane;
  const six = ghost['6'];
  if (six === undefined || rails.tank === null) return '';
  /** @type {(t: string) => Run[]} */
  const dim = (t) => [{ t, c: 'dim' }];
  if (!off) {
    const x = plane.x(six.h) + 7;
    const middle = (rails.tank + rails.evap) / 2;
    return label(
      scene,
      'ghost',
      [dim('without'), dim('economizer')],
      [
        [x, middle - size, 'start'],
        [x, rails.tank + 26, 'start'],
        [x, rails.evap - 40, 'start'],
        [x + 40, middle - size, 'start'],
      ],
      300,
    );
  }
  const five = ghost['5'];
  if (five === undefined) return '';
  const y = plane.y(five.p);
  const x = (plane.left + plane.right) / 2;
  return label(
    scene,
    'ghost',
    [dim('with economizer')],
    [
      [x, y - size - 6, 'start'],
      [x + 40, y - size - 6, 'start'],
      [x - 60, y + 6, 'start'],
    ],
    600,
  );
}
