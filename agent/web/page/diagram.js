/**
 * Pressure-enthalpy diagram of one chiller at its real pixel size: circuit with the leg textures, ghost, rails, lever
 * scale, labels. Pure.
 * @import { PlacedLabel, Point, View } from '../page-types.ts'
 * @import { DiagramFigure, StateFigure } from '../types.ts'
 * @import { Leg } from './circuit.js'
 * @import { Plane } from './plane.js'
 */
import { axes, backdrop, foldMark, regions } from './backdrop.js';
import { alarmedPart, dischargeOf, legsOf, numbersOf } from './circuit.js';
import { chillerOf, condition, shownNow, unheard } from './condition.js';
import { dimension, ghostLabel, legLabels, railLabels } from './diagram-labels.js';
import { ghostLegs, leverScale } from './diagram-lines.js';
import { measuredRails, pressuresAlone, standing } from './diagram-rest.js';
import { defs, disc, leg, poly } from './ink.js';
import { Placer } from './place.js';
import { onPlane, planeOf } from './plane.js';
import { clockText, esc, r1, spanText } from './text.js';
import { width as textWidth } from './widths.js';

/**
 * @typedef {object} Scene What the parts of the diagram share.
 * @property {View} view
 * @property {string} id chiller
 * @property {Plane} plane
 * @property {DiagramFigure} diagram
 * @property {Placer} placer
 * @property {Readonly<Record<string, StateFigure>>} states
 * @property {Readonly<Record<string, StateFigure>>} ghost
 * @property {boolean} off economizer off
 * @property {boolean} thin hollow thin legs: not the present
 * @property {readonly (Leg & { points: Point[] })[]} legs
 * @property {{ cond: number, tank: number | null, evap: number }} rails y of the pressure lines
 * @property {{ part: string, priority: number } | null} alarm
 */

/**
 * @param {{ view: View, id: string, width: number, height: number, size: number, folded?: boolean, uid: string }} given
 * @returns {{ svg: string, rails: Scene['rails'] | null, labels: readonly PlacedLabel[] }}
 */
export function diagram({ view, id, width, height, size, folded = false, uid }) {
  const data = view.diagram;
  const chiller = chillerOf(view, id);
  if (data === null || chiller === null) return { svg: '', rails: null, labels: [] };
  const now = shownNow(view, id);
  const { kind } = condition(view, id);
  const needed = ['1', dischargeOf(chiller), '3'];
  const solved = kind !== 'waiting' && needed.every((n) => now.states[n] !== undefined);
  const states = solved ? now.states : {};
  const [low, high] = chiller.pressure_window;
  const plane = planeOf({ width, height, size, diagram: data, window: [low * 1000, high * 1000], states, folded });
  const placer = new Placer(plane.right, plane.bottom);
  const off = now.economizer === 'off';
  const y = (/** @type {string} */ n) => (states[n] === undefined ? null : plane.y(states[n].p));
  const tank = chiller.arrangement !== 'simple';
  const rails = solved
    ? { cond: y('3') ?? 0, tank: tank ? y('4') : null, evap: y('6') ?? y('1') ?? 0 }
    : measuredRails(plane, now, tank ? (chiller.circuit?.middle ?? 'flash_tank') : null);
  const legs = legsOf(chiller, off, states).map((one) => ({
    ...one,
    points: onPlane(
      plane,
      one.states.map((n) => [states[n]?.h ?? 0, states[n]?.p ?? 1]),
    ),
  }));
  /** @type {Scene} */
  const scene = {
    view,
    id,
    plane,
    diagram: data,
    placer,
    states,
    ghost: solved ? now.ghost : {},
    off,
    legs,
    rails: rails ?? { cond: 0, tank: null, evap: 0 },
    thin: kind === 'lost' || kind === 'stale',
    alarm: alarmedPart(view.alarms, id),
  };
  let svg = defs(uid) + backdrop(plane, data, view, placer, uid);
  if (solved) svg += circuit(scene, uid, numbersOf(chiller, off, states));
  if (!solved) svg += foldMark(plane, view, placer) + (rails === null ? '' : pressuresAlone(scene));
  svg += regions(plane, data, placer) + axes(plane, data, view);
  if (!solved) svg += veil(scene, uid, false);
  return { svg, rails, labels: placer.labels };
}

/**
 * @param {Scene} scene
 * @param {string} uid
 * @param {readonly string[]} numbers
 */
function circuit(scene, uid, numbers) {
  const { plane, placer, rails, states } = scene;
  let svg = '';
  const ends = { cond: states['3'], tank: states['5'] ?? states['4'], evap: states['6'] };
  for (const key of /** @type {const} */ (['cond', 'tank', 'evap'])) {
    const y = rails[key];
    const end = ends[key];
    if (y !== null && end !== undefined) svg += `<path class="rail" d="M0 ${r1(y)}H${r1(plane.x(end.h))}"/>`;
  }
  for (const { kind, points } of scene.legs) {
    placer.line(points, kind.startsWith('heat') ? 3 : 4);
    hairs(placer, kind, points);
  }
  const cover = scene.thin ? veil(scene, uid, true) : '';
  const lever = scene.thin || scene.off ? '' : leverScale(scene);
  const drawn = scene.legs.map(({ id, kind, points }) =>
    leg(id, scene.thin ? 'before' : kind, points, {
      hair: kind === 'heat-in' ? [0, 1] : [0, -1],
      k: plane.fold === null ? 1 : 0.85,
    }),
  );
  const ghost = scene.thin ? '' : ghostLegs(scene);
  svg += `${lever}<g class="legs${scene.thin ? ' last' : ''}" clip-path="url(#${uid}-clip)">${ghost}${drawn.join('')}</g>`;
  svg += foldMark(plane, scene.view, placer);
  const pressures = railLabels(scene);
  const { dots, discs } = marks(scene, numbers);
  const words = pressures + legLabels(scene) + (scene.thin ? '' : dimension(scene) + ghostLabel(scene));
  return svg + cover + dots + words + discs;
}

/**
 * @param {Placer} placer
 * @param {string} kind
 * @param {readonly Point[]} points
 */
function hairs(placer, kind, points) {
  const [a, b] = points;
  if (a === undefined || b === undefined || !kind.startsWith('heat')) return;
  const up = kind === 'heat-out';
  placer.block([Math.min(a[0], b[0]), up ? a[1] - 10 : a[1], Math.max(a[0], b[0]), up ? a[1] : a[1] + 10], 0.3);
}

/** Where a state's number stands first, in steps from its point. */
const SIDES = /** @type {Record<string, readonly [number, number]>} */ ({
  1: [1, 1],
  2: [1, -1],
  3: [-1, -1],
  4: [1, -1],
  5: [-1, -1],
  6: [-1, 1],
  7: [-1, 1],
  8: [-1, -1],
  9: [-1, -1],
  10: [1, -1],
});

/**
 * @param {Scene} scene
 * @param {readonly string[]} numbers
 */
function marks({ plane, placer, states }, numbers) {
  const radius = plane.size * 0.68;
  const reach = (radius + 7) * 0.95;
  let dots = '';
  let discs = '';
  for (const n of numbers) {
    const state = states[n];
    if (state !== undefined)
      placer.block([plane.x(state.h) - 4, plane.y(state.p) - 4, plane.x(state.h) + 4, plane.y(state.p) + 4], 6);
  }
  for (const n of numbers) {
    const state = states[n];
    if (state === undefined) continue;
    const x = plane.x(state.h);
    const y = plane.y(state.p);
    const [sx, sy] = SIDES[n] ?? [1, -1];
    const offsets = [
      [sx, sy],
      [sx, -sy],
      [-sx, sy],
      [0, -1.4],
      [0, 1.4],
      [1.4, 0],
      [-1.4, 0],
      [-sx, -sy],
      [2, -1],
      [-2, 1],
      [2.2, 0],
      [-2.2, -1],
    ];
    /** @type {import('./place.js').Place[]} */
    const places = offsets.map(([dx = 0, dy = 0]) => [x + dx * reach - radius, y + dy * reach - radius, 'start']);
    const put = placer.put(`number ${n}`, radius * 2, radius * 2, places);
    dots += `<circle class="dot" cx="${r1(x)}" cy="${r1(y)}" r="3.4"/>`;
    if (put !== null) discs += disc(n, put.box[0] + radius, put.box[1] + radius, plane.size);
  }
  return { dots, discs };
}

/**
 * Hatch and stamp over a diagram that is not the present.
 * @param {Scene} scene
 * @param {string} uid
 * @param {boolean} solved
 */
function veil({ plane, placer, view, id, rails }, uid, solved) {
  const { kind, time, age_s } = condition(view, id);
  const now = shownNow(view, id);
  const words =
    kind === 'waiting' || time === null
      ? unheard(view, id)
        ? 'no answer yet'
        : 'no minute solved yet'
      : !solved && kind === 'live'
        ? standing(view, now)
        : `last known ${clockText(time, view.site.time_zone)}, ${spanText(age_s, true)} old`;
  const size = plane.size + 6;
  const w = textWidth(words, size, true) + 24;
  const h = size * 2 - 2;
  const x = (plane.left + plane.right) / 2;
  const y =
    solved && rails.tank !== null ? (rails.evap + rails.tank) / 2 : plane.top + (plane.bottom - plane.top) * 0.62;
  const shifts = [0, 40, 80, -40, 120];
  const put = placer.put(
    'stamp',
    w + 12,
    h + 12,
    shifts.map((shift) => [x + shift, y - h / 2 - 6, 'middle']),
  );
  const [cx, cy] = put === null ? [x, y] : [(put.box[0] + put.box[2]) / 2, (put.box[1] + put.box[3]) / 2];
  const { left, right, top, bottom } = plane;
  return (
    `<path class="veil" fill="url(#${uid}-hatch)" d="${poly([
      [left, top],
      [right, top],
      [right, bottom],
      [left, bottom],
    ])}Z"/>` +
    `<g class="stamp"><path d="M${r1(cx - w / 2)} ${r1(cy - h / 2)}h${r1(w)}v${r1(h)}h${r1(-w)}Z"/>` +
    `<text x="${r1(cx)}" y="${r1(cy + size * 0.34)}" font-size="${size}" text-anchor="middle">${esc(words)}</text></g>`
  );
}
