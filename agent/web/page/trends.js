/**
 * The last hour as small trends in one row, thinned by least and greatest; the value of the newest minute stands
 * beside the name. Pure.
 * @import { Point, Series, View } from '../page-types.ts'
 */
import { condition, economizerOf } from './condition.js';
import { figureOf, span } from './figures.js';
import { poly, text } from './ink.js';
import { clockText, esc, num, r1 } from './text.js';
import { kindOf, scaleOf } from './units.js';

/** Trends of the live view, by metric; SI shows the coefficient of performance in place of power per ton. */
export const TRENDS = /** @type {const} */ ([
  ['power per ton', 'unit.kw_per_ton'],
  ['capacity', 'unit.capacity'],
  ['lift', 'main_compressor.lift'],
  ['flash fraction, first stage', 'flash_tank.flash_fraction'],
  ['flash fraction', 'evaporator.flash_fraction'],
  ['chilled water leaving', 'chilled_water.leaving_temperature'],
]);
export const TREND_SI = /** @type {const} */ (['coefficient of performance', 'unit.cop']);

/**
 * A step of 1, 2 or 5 that cuts a reach into at most `parts`.
 * @param {number} reach
 * @param {number} parts
 */
function step(reach, parts) {
  const raw = reach / parts;
  const e = 10 ** Math.floor(Math.log10(raw));
  for (const k of [1, 2, 5, 10]) if (k * e >= raw) return k * e;
  return 10 * e;
}

/**
 * One trend. `marked`: an instant with an upright line (ms); `limit`: a dashed line (as shown).
 * @typedef {{ series: Series, name: string, view: View, from: number, to: number }} Span
 * @param {Span & { width: number, height: number, marked?: number | null, limit?: number | null }} given
 */
export function chart({ series, name, view, from, to, width, height, marked = null, limit = null }) {
  const how = { system: view.system, barometer_kpa: view.site.barometer_kpa };
  const { factor, shift } = scaleOf(kindOf(name, series.unit), how);
  const share = (/** @type {number} */ time) => Math.min(1, Math.max(0, (time - from) / (to - from)));
  const across = (/** @type {number} */ time) => share(time) * (width - 40) + 36;
  const shown = series.points.map(([s, least, greatest]) => ({
    x: across(series.start + s * 1000),
    least: least === null ? null : least * factor + shift,
    greatest: greatest === null ? null : greatest * factor + shift,
  }));
  const known = shown.flatMap((p) => (p.least === null || p.greatest === null ? [] : [p.least, p.greatest]));
  if (known.length < 2) return '';
  const mean = known.reduce((a, b) => a + b, 0) / known.length;
  const least = Math.min(...known, limit ?? Number.POSITIVE_INFINITY);
  const most = Math.max(...known, limit ?? Number.NEGATIVE_INFINITY);
  const grid = step(Math.max(most - least, Math.abs(mean) * 0.01, 1e-6), 2);
  const low = Math.floor(least / grid) * grid;
  const high = Math.max(Math.ceil(most / grid) * grid, low + grid);
  const top = 8;
  const bottom = height - 20;
  const y = (/** @type {number} */ v) => bottom - ((v - low) / (high - low)) * (bottom - top);
  const places = Math.max(0, -Math.floor(Math.log10(grid) + 1e-9));
  let svg = marked === null ? '' : `<path class="marked" d="M${r1(across(marked))} ${top}V${bottom}"/>`;
  if (limit !== null) svg += `<path class="set" d="M36 ${r1(y(limit))}H${width - 4}"/>`;
  svg += `<path class="grid" d="M36 ${r1(y(low))}H${width - 4}M36 ${r1(y(high))}H${width - 4}"/>`;
  svg += text(31, y(high) + 4, num(high, places), { size: 11, anchor: 'end', cls: 'dim' });
  svg += text(31, y(low) + 4, num(low, places), { size: 11, anchor: 'end', cls: 'dim' });
  /** @type {Point[]} */
  let piece = [];
  const flush = () => {
    if (piece.length > 0) svg += `<path class="trace" d="${poly(piece)}"/>`;
    piece = [];
  };
  for (const [i, p] of shown.entries()) {
    if (p.least === null || p.greatest === null) flush();
    else {
      const pair = i % 2 === 0 ? [p.least, p.greatest] : [p.greatest, p.least];
      for (const v of p.least === p.greatest ? [p.least] : pair) piece.push([p.x, y(v)]);
    }
  }
  flush();
  for (const [part, anchor] of /** @type {const} */ ([
    [0, 'start'],
    [0.5, 'middle'],
    [1, 'end'],
  ])) {
    const x = 36 + (width - 40) * part;
    svg += `<path class="axis" d="M${r1(x)} ${bottom}v4"/>`;
    svg += text(x, height - 4, clockText(from + (to - from) * part, view.site.time_zone), {
      size: 11,
      anchor,
      cls: 'dim',
    });
  }
  return svg;
}

/**
 * @param {View} view
 * @param {string} id
 * @param {number} width of one trend, px
 */
export function trends(view, id, width) {
  const { kind, time } = condition(view, id);
  if (kind === 'waiting' || time === null) return '';
  const to = time;
  const from = to - 3_600_000;
  const height = width > 300 ? 64 : 78;
  const direct = economizerOf(view, id) === 'none';
  const list = TRENDS.filter(
    ([, name]) => name !== (direct ? 'flash_tank.flash_fraction' : 'evaporator.flash_fraction'),
  ).map((one) => (one[1] === 'unit.kw_per_ton' && view.system === 'si' ? TREND_SI : one));
  const items = list.flatMap(([words, name]) => {
    const figure = figureOf(view, id, name);
    const series = view.series[name];
    if (figure === null) return [];
    const svg = series === undefined ? '' : chart({ series, name, view, from, to, width, height });
    const body =
      svg === ''
        ? '<p class="word none">no history yet</p>'
        : `<svg width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" role="img" aria-label="${esc(words)} over the last hour">${svg}</svg>`;
    return [`<figure><figcaption>${words} ${span(figure, view)}</figcaption>${body}</figure>`];
  });
  if (items.length === 0) return '';
  return `<section class="hour" aria-labelledby="hour"><h2 id="hour">Last hour</h2><div class="trends">${items.join('')}</div></section>`;
}
