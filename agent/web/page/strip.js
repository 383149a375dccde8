/**
 * A strip chart of the last half hour that runs into a column at true scale. The window is ten points of percent
 * either way of the set point and opens to 0 to 100 % when the trace leaves it. Pure.
 * @import { Point, Series } from '../page-types.ts'
 */
import { poly, text } from './ink.js';
import { r1 } from './text.js';

/**
 * @typedef {object} Strip
 * @property {number} x right edge of the chart, its left edge is 0
 * @property {number} top
 * @property {number} bottom
 * @property {number} column left edge of the column
 * @property {number} columnWidth
 * @property {Series | null} series fractions of 1
 * @property {boolean} fill a level: liquid is filled; else a valve's opening
 * @property {number | null} set fraction
 * @property {number | null} value fraction
 * @property {boolean} last last known
 * @property {number} size px of the picture's text
 * @property {string} uid
 * @property {number} from start of the chart, ms
 * @property {number} to
 */

/**
 * Least and greatest of each bucket in order, in percent; a gap ends a piece.
 * @param {Series} series
 * @param {(time: number) => number} x
 * @param {(percent: number) => number} y
 */
function pieces(series, x, y) {
  /** @type {Point[][]} */
  const out = [];
  /** @type {Point[]} */
  let piece = [];
  let up = true;
  for (const point of series.points) {
    const [s, least, greatest] = point;
    if (least === null || greatest === null) {
      if (piece.length > 1) out.push(piece);
      piece = [];
      continue;
    }
    const at = x(series.start + s * 1000);
    const pair = up ? [least, greatest] : [greatest, least];
    for (const value of least === greatest ? [least] : pair) piece.push([at, y(value * 100)]);
    up = !up;
  }
  if (piece.length > 1) out.push(piece);
  return out;
}

/**
 * @param {Strip} strip
 */
export function strip(strip) {
  const { x, top, bottom, column, series, fill, set, value, last, size, uid } = strip;
  const known = (series?.points ?? []).flatMap(([, a, b]) => (a === null || b === null ? [] : [a * 100, b * 100]));
  const middle = set !== null ? set * 100 : value !== null ? value * 100 : (known.at(-1) ?? 50);
  const reach = known.reduce((most, v) => Math.max(most, Math.abs(v - middle)), 0);
  const wide = reach > 9.8 || value === null;
  const low = wide ? 0 : Math.round(middle - 10);
  const high = wide ? 100 : Math.round(middle + 10);
  const clamp = (/** @type {number} */ v, /** @type {number} */ a, /** @type {number} */ b) =>
    Math.min(b, Math.max(a, v));
  const y = (/** @type {number} */ v) => bottom - ((clamp(v, low, high) - low) / (high - low)) * (bottom - top);
  const full = (/** @type {number} */ v) => bottom - (clamp(v, 0, 100) / 100) * (bottom - top);
  const at = (/** @type {number} */ t) => clamp((t - strip.from) / (strip.to - strip.from), 0, 1) * x;
  let svg = `<path class="stripbg" d="M0 ${r1(top)}H${x}V${r1(bottom)}H0Z"/>`;
  for (const piece of series === null ? [] : pieces(series, at, y)) {
    const [first, end] = [piece[0] ?? [0, 0], piece.at(-1) ?? [0, 0]];
    if (fill)
      svg += `<path class="liqarea" d="${poly(piece)}L${r1(end[0])} ${r1(bottom)}L${r1(first[0])} ${r1(bottom)}Z"/>`;
    svg += `<path class="trace${last ? ' last' : ''}" d="${poly(piece)}"/>`;
  }
  if (set !== null) svg += `<path class="set" d="M0 ${r1(y(set * 100))}H${x}"/>`;
  svg += `<path class="wedge" d="M${x} ${r1(top)}L${column} ${r1(full(high))}M${x} ${r1(bottom)}L${column} ${r1(full(low))}"/>`;
  const cls = fill ? '' : 'dim';
  svg +=
    text(2, top + size - 2.5, `${high}`, { size: size - 2, cls }) +
    text(2, bottom - 2, `${low} %`, { size: size - 2, cls });
  return svg + columnOf(strip, full, uid);
}

/**
 * @param {Strip} strip
 * @param {(percent: number) => number} full
 * @param {string} uid
 */
function columnOf({ top, bottom, column, columnWidth: w, fill, set, value, last }, full, uid) {
  const box = `M${column} ${r1(top)}h${w}V${r1(bottom)}h${-w}Z`;
  let svg = `<path class="col" d="${box}"/>`;
  if (value !== null) {
    const y = r1(full(value * 100));
    const body = `M${column} ${y}h${w}V${r1(bottom)}h${-w}Z`;
    svg += fill
      ? `<path class="liqfill" d="${body}"/><path fill="url(#${uid}-liq)" d="${body}"/><path class="surface" d="M${column} ${y}h${w}"/>`
      : `<path class="openfill" d="M${column + 3} ${y}h${w - 6}V${r1(bottom - 1)}h${6 - w}Z"/>`;
  }
  if (last || value === null) svg += `<path fill="url(#${uid}-hatch)" d="${box}"/>`;
  if (set !== null) svg += `<path class="notch" d="M${column + w} ${r1(full(set * 100))}l6 -4v8Z"/>`;
  return svg;
}

/**
 * A strip and column without a sample: no minute yet.
 * @param {{ x: number, top: number, bottom: number, column: number, columnWidth: number }} strip
 */
export function emptyStrip({ x, top, bottom, column, columnWidth: w }) {
  return `<path class="stripbg" d="M0 ${r1(top)}H${x}V${r1(bottom)}H0Z"/><path class="col" d="M${column} ${r1(top)}h${w}V${r1(bottom)}h${-w}Z"/>`;
}
