/**
 * SVG strokes and text, shared by diagram and schematic, so that a leg looks the same in both. Pure.
 * @import { Point, Run } from '../page-types.ts'
 */
import { esc, r1 } from './text.js';
import { width } from './widths.js';

/**
 * @param {readonly Point[]} points
 */
export function poly(points) {
  return points.length === 0 ? '' : `M${points.map((p) => `${r1(p[0])} ${r1(p[1])}`).join('L')}`;
}

/**
 * Places along a line every `step` px from `start`, with the line's direction in radians.
 * @param {readonly Point[]} points
 * @param {number} step
 * @param {number} start
 */
function along(points, step, start) {
  /** @type {[number, number, number][]} */
  const out = [];
  let need = start;
  let seen = 0;
  for (let i = 1; i < points.length; i++) {
    const [x0, y0] = /** @type {Point} */ (points[i - 1]);
    const [x1, y1] = /** @type {Point} */ (points[i]);
    const length = Math.hypot(x1 - x0, y1 - y0);
    for (; length > 0 && need <= seen + length; need += step) {
      const t = (need - seen) / length;
      out.push([x0 + (x1 - x0) * t, y0 + (y1 - y0) * t, Math.atan2(y1 - y0, x1 - x0)]);
    }
    seen += length;
  }
  return out;
}

/** @param {readonly Point[]} points */
function lengthOf(points) {
  let sum = 0;
  for (let i = 1; i < points.length; i++) {
    const [x0, y0] = /** @type {Point} */ (points[i - 1]);
    const [x1, y1] = /** @type {Point} */ (points[i]);
    sum += Math.hypot(x1 - x0, y1 - y0);
  }
  return sum;
}

/**
 * @param {readonly Point[]} points
 * @param {number} size
 * @param {string} attributes
 */
function barbs(points, size, attributes) {
  const length = lengthOf(points);
  const count = Math.max(1, Math.round(length / (size * 7.9)));
  let out = '';
  for (const [x, y, angle] of along(points, length / count, length / count / 2)) {
    const turn = r1((angle * 180) / Math.PI);
    const back = r1(-size * 0.8);
    out += `<path ${attributes} transform="translate(${r1(x)} ${r1(y)}) rotate(${turn})" d="M${r1(size)} 0L${back} ${r1(-size)}L${back} ${r1(size)}Z"/>`;
  }
  return out;
}

/**
 * @typedef {'heat-out' | 'heat-in' | 'work' | 'work2' | 'throttle1' | 'throttle2' | 'split'} RunningKind
 * @typedef {RunningKind | 'ghost' | 'before'} LegKind
 */

/**
 * Strokes of one leg. The texture says what crosses its boundary: hairs heat, barbs work, gaps nothing (throttling),
 * plain a split.
 * @param {LegKind} kind
 * @param {readonly Point[]} points
 * @param {number} k scale of the strokes
 * @param {Point} hair direction of the hairs
 */
function strokes(kind, points, k, hair) {
  const d = poly(points);
  const line = (/** @type {number} */ w, more = '') => `<path class="ln" d="${d}" stroke-width="${r1(w * k)}"${more}/>`;
  switch (kind) {
    case 'heat-out':
    case 'heat-in': {
      let hairs = '';
      for (const [x, y] of along(points, 9 * k, 6 * k))
        hairs += `M${r1(x + hair[0] * 2)} ${r1(y + hair[1] * 2)}l${r1(hair[0] * 7 * k)} ${r1(hair[1] * 7 * k)}`;
      return `${line(3)}<path class="ln" d="${hairs}" stroke-width="1.2"/>`;
    }
    case 'work':
      return line(3.4) + barbs(points, 5.6 * k, 'class="fl"');
    case 'work2':
      return `${line(5)}<path class="core" d="${d}" stroke-width="${r1(2.4 * k)}"/>${barbs(points, 5.2 * k, 'class="open" stroke-width="1.3"')}`;
    case 'throttle1':
      return line(2.6, ` stroke-dasharray="${r1(8 * k)} ${r1(4.5 * k)}"`);
    case 'throttle2':
      return line(3.2, ` stroke-dasharray="0.1 ${r1(6 * k)}" stroke-linecap="round"`);
    case 'split':
      return line(1.5);
    case 'ghost':
      return line(1.3, ' stroke-dasharray="11 3 2 3"');
    case 'before':
      return line(1.2);
  }
}

/**
 * One leg with its invisible wide stroke for pointing at.
 * @param {string} id
 * @param {LegKind} kind
 * @param {readonly Point[]} points
 * @param {{ hair?: Point, k?: number }} [how]
 */
export function leg(id, kind, points, { hair = [0, -1], k = 1 } = {}) {
  const body = strokes(kind, points, k, hair);
  return `<g class="leg ${kind}" data-leg="${esc(id)}">${body}<path class="hit" d="${poly(points)}"/></g>`;
}

/**
 * @param {number} x
 * @param {number} y baseline
 * @param {string | readonly Run[]} given
 * @param {{ size?: number, anchor?: string, cls?: string }} [how]
 */
export function text(x, y, given, { size = 12, anchor = 'start', cls = '' } = {}) {
  const list = typeof given === 'string' ? [{ t: given }] : given;
  const spans = list
    .map((run) => {
      if (run.c === undefined && run.data === undefined) return esc(run.t);
      const cls2 = run.c === undefined ? '' : ` class="${run.c}"`;
      return `<tspan${cls2}${run.data === undefined ? '' : ` ${run.data}`}>${esc(run.t)}</tspan>`;
    })
    .join('');
  const at = anchor === 'start' ? '' : ` text-anchor="${anchor}"`;
  return `<text${cls === '' ? '' : ` class="${cls}"`} x="${r1(x)}" y="${r1(y)}" font-size="${size}"${at}>${spans}</text>`;
}

/**
 * @param {string | readonly Run[]} given
 * @param {number} size
 */
export function runsWidth(given, size) {
  const list = typeof given === 'string' ? [{ t: given, c: '' }] : given;
  return list.reduce((sum, run) => sum + width(run.t, size, run.c === 'b'), 0);
}

/**
 * A state's number: a solid disc.
 * @param {string} n
 * @param {number} x
 * @param {number} y
 * @param {number} size px of the picture's text
 */
export function disc(n, x, y, size) {
  return `<g class="num" data-state="${esc(n)}"><circle cx="${r1(x)}" cy="${r1(y)}" r="${r1(size * 0.68)}"/><text x="${r1(x)}" y="${r1(y + size * 0.33)}" font-size="${r1(size * 0.92)}" text-anchor="middle">${esc(n)}</text></g>`;
}

/**
 * The mark of an alarm's priority in a picture.
 * @param {number} x
 * @param {number} y
 * @param {number} priority
 * @param {number} size
 */
export function flag(x, y, priority, size) {
  return `<g class="flag p${priority}" transform="translate(${r1(x)} ${r1(y)})"><path d="M0 0H${size}V${size}H0Z"/><text x="${r1(size / 2)}" y="${r1(size * 0.78)}" font-size="${r1(size * 0.82)}" text-anchor="middle">${priority}</text></g>`;
}

/**
 * Hatches of one drawing; ids carry the drawing's own, for several drawings stand on one page.
 * @param {string} uid
 */
export function defs(uid) {
  return `<defs><pattern id="${uid}-hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatchline" d="M0 0V7"/></pattern><pattern id="${uid}-liq" width="6" height="4" patternUnits="userSpaceOnUse"><path class="liqline" d="M0 2H6"/></pattern></defs>`;
}
