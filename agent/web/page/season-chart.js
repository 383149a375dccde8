/**
 * The season's one chart: energy per cooling of each day above, summed money below, shared months; events lettered
 * through both. Gaps stay gaps. Pure.
 * @import { Point, SeasonRow, View } from '../page-types.ts'
 */
import { poly, text } from './ink.js';
import { lettered, months } from './season-axis.js';
import { money } from './season-figures.js';
import { esc, num, r1 } from './text.js';

const TON = 3.516852842;

/** @typedef {import('./season-axis.js').Frame} Frame */

/**
 * A step of 1, 2 or 5 that cuts a reach into at most `parts`.
 * @param {number} reach
 * @param {number} parts
 */
function stepOf(reach, parts) {
  const e = 10 ** Math.floor(Math.log10(reach / parts));
  return e * ([1, 2, 5].find((k) => k * e * parts >= reach) ?? 10);
}

/**
 * Ratios of sums over the last `count` rows; null where less than half of them have something.
 * @param {readonly SeasonRow[]} rows
 * @param {number} above column
 * @param {number} below column
 * @param {number} count
 */
function rolling(rows, above, below, count) {
  return rows.map((row, i) => {
    let [p, q, n] = [0, 0, 0];
    for (const one of rows.slice(Math.max(0, i - count + 1), i + 1)) {
      const [a, b] = [one[above] ?? null, one[below] ?? null];
      if (a === null || b === null || b <= 0) continue;
      p += a;
      q += b;
      n += 1;
    }
    return row[above] === null || row[below] === null || q <= 0 || n < Math.min(count, i + 1) / 2 ? null : p / q;
  });
}

/**
 * Lines of what is known, broken at gaps.
 * @param {readonly (Point | null)[]} points
 * @returns {Point[][]}
 */
function pieces(points) {
  /** @type {Point[][]} */
  const out = [[]];
  for (const point of points)
    if (point === null) out.push([]);
    else out.at(-1)?.push(point);
  return out.filter((piece) => piece.length > 1);
}

/**
 * @param {View} view
 * @param {{ width: number, size: number }} how px
 */
export function chart(view, { width, size }) {
  const season = view.season;
  if (season === null || season.rows.length === 0) return '';
  const narrow = width < 700;
  const height = narrow ? 360 : size > 14 ? 440 : 400;
  const x0 = narrow ? 46 : 58;
  const x1 = width - (narrow ? 10 : 168);
  const from = Date.parse(season.from);
  const to = Date.parse(season.to);
  const x = (/** @type {number} */ t) => x0 + ((x1 - x0) * (t - from)) / Math.max(1, to - from);
  /** @type {Frame} */
  const frame = { x, x0, x1, size, narrow };
  const upper = [30, height * 0.6];
  const lower = [height * 0.6 + 32, height - 28];
  const body =
    ratios(view, frame, /** @type {[number, number]} */ (upper)) +
    sums(view, frame, /** @type {[number, number]} */ (lower)) +
    lettered(view, frame, [upper[0] ?? 0, lower[0] ?? 0, lower[1] ?? 0]) +
    months(view, frame, [upper[1] ?? 0, lower[1] ?? 0]);
  const what = `Energy per cooling by the ${season.step} and the summed cost; the tables below hold the figures`;
  return `<svg width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" role="img" aria-label="${esc(what)}">${body}</svg>`;
}

/**
 * @param {View} view
 * @param {Frame} frame
 * @param {[number, number]} span top and bottom
 */
function ratios(view, { x, x0, x1, size, narrow }, [top, bottom]) {
  const { rows, step } = /** @type {NonNullable<View['season']>} */ (view.season);
  const si = view.system === 'si';
  const shown = (/** @type {number | null} */ v) => (v === null || v <= 0 ? null : si ? TON / v : v);
  const half = step === 'hour' ? 1_800_000 : 43_200_000;
  const at = (/** @type {SeasonRow} */ row) => x(row[0] + half);
  const count = step === 'hour' ? 3 : 7;
  const days = rows.map((row) => shown(row[1] === null || row[2] === null || row[2] <= 0 ? null : row[1] / row[2]));
  const line = rolling(rows, 1, 2, count).map(shown);
  const base = rolling(rows, 4, 5, count).map(shown);
  const band = rows.map((row, i) => {
    const b = base[i] ?? null;
    return b === null || row[6] === null || row[4] === null || row[4] <= 0 ? null : (b * row[6]) / row[4];
  });
  const known = [...days, ...base].filter((v) => v !== null);
  let svg = title(view, { x: x0, y: 17, size, narrow });
  if (known.length === 0) return svg + text(x0, (top + bottom) / 2, 'no cooling was made', { size, cls: 'dim' });
  const sorted = [...known].sort((a, b) => a - b);
  // A day of a start alone would squeeze all others: what lies far out is drawn at the edge.
  const least = sorted[Math.floor(sorted.length * 0.01)] ?? 0;
  const most = sorted[Math.ceil(sorted.length * 0.99) - 1] ?? 1;
  const grid = stepOf(Math.max(most - least, most * 0.02), 5);
  const low = Math.floor(least / grid) * grid;
  const high = Math.max(low + grid, Math.ceil(most / grid) * grid);
  const y = (/** @type {number} */ v) =>
    bottom - ((Math.min(high, Math.max(low, v)) - low) / (high - low)) * (bottom - top);
  const places = Math.max(0, -Math.floor(Math.log10(grid) + 1e-9));
  for (let v = low; v <= high + grid / 2; v += grid) {
    svg += `<path class="grid" d="M${x0} ${r1(y(v))}H${r1(x1)}"/>`;
    svg += text(x0 - 6, y(v) + 4, num(v, places), { size: size - 1, anchor: 'end', cls: 'dim' });
  }
  const drawn = (/** @type {(number | null)[]} */ list) =>
    rows.map((row, i) => /** @type {Point | null} */ (list[i] == null ? null : [at(row), y(list[i] ?? 0)]));
  svg += bandOf(
    rows.map((row, i) => [at(row), base[i] ?? null, band[i] ?? null]),
    y,
  );
  for (const [i, v] of days.entries())
    if (v !== null)
      svg += `<circle class="day" cx="${r1(at(/** @type {SeasonRow} */ (rows[i])))}" cy="${r1(y(v))}" r="${narrow ? 1.2 : 1.7}"/>`;
  for (const piece of pieces(drawn(base))) svg += `<path class="base" d="${poly(piece)}"/>`;
  for (const piece of pieces(drawn(line))) svg += `<path class="roll" d="${poly(piece)}"/>`;
  return narrow ? svg : svg + lasts(view, { line, base, y, x: x1 + 10, size, count });
}

/**
 * @param {View} view
 * @param {{ x: number, y: number, size: number, narrow: boolean }} how
 */
function title(view, { x, y, size, narrow }) {
  const hourly = view.season?.step === 'hour';
  const name = view.system === 'si' ? 'cooling per power, COP' : 'power per ton, kW/ton';
  const based = (view.season?.rows ?? []).some((row) => row[4] !== null);
  const dots = hourly ? 'dots: hours; line: 3 hours' : 'dots: days; line: 7 days';
  const more = based ? '; dashed: clean machine at the same load and water, with its band' : '';
  const words = narrow ? `  ${dots}${based ? '; dashed: clean' : ''}` : `   ${dots}${more}`;
  return text(
    x,
    y,
    [
      { t: name, c: 'b' },
      { t: words, c: 'dim' },
    ],
    { size },
  );
}

/**
 * @param {(readonly [number, number | null, number | null])[]} given x, middle and half width
 * @param {(v: number) => number} y
 */
function bandOf(given, y) {
  const both = given.map(([at, middle, half]) => (middle === null || half === null ? null : { at, middle, half }));
  /** @type {{ at: number, middle: number, half: number }[][]} */
  const runs = [[]];
  for (const one of both)
    if (one === null) runs.push([]);
    else runs.at(-1)?.push(one);
  return runs
    .filter((run) => run.length > 1)
    .map((run) => {
      const above = run.map((one) => /** @type {Point} */ ([one.at, y(one.middle + one.half)]));
      const below = run.map((one) => /** @type {Point} */ ([one.at, y(one.middle - one.half)])).reverse();
      return `<path class="band" d="${poly([...above, ...below])}Z"/>`;
    })
    .join('');
}

/**
 * The newest values at the right edge, apart where they would touch.
 * @param {View} view
 * @typedef {(number | null)[]} Values
 * @param {{ line: Values, base: Values, y: (v: number) => number, x: number, size: number, count: number }} given
 */
function lasts(view, { line, base, y, x, size, count }) {
  const newest = line.findLast((v) => v !== null) ?? null;
  const clean = base.findLast((v) => v !== null) ?? null;
  if (newest === null) return '';
  let [a, b] = [y(newest), clean === null ? 0 : y(clean)];
  if (clean !== null && Math.abs(a - b) < 30) {
    const middle = (a + b) / 2;
    [a, b] = a <= b ? [middle - 15, middle + 15] : [middle + 15, middle - 15];
  }
  const places = view.system === 'si' ? 2 : 3;
  const put = (/** @type {number} */ at, /** @type {number} */ v, /** @type {string} */ words) =>
    text(
      x,
      at + 5,
      [
        { t: num(v, places), c: 'b' },
        { t: ` ${words}`, c: 'dim' },
      ],
      { size },
    );
  const words = view.season?.step === 'hour' ? `last ${count} hours` : `last ${count} days`;
  return put(a, newest, words) + (clean === null ? '' : put(b, clean, 'clean machine'));
}

/**
 * @param {View} view
 * @param {Frame} frame
 * @param {[number, number]} span
 */
function sums(view, { x, x0, x1, size, narrow }, [top, bottom]) {
  const { rows, step, tariff, to } = /** @type {NonNullable<View['season']>} */ (view.season);
  const price = tariff?.price_per_kwh ?? null;
  const drift = rows.some((row) => row[4] !== null);
  let sum = 0;
  const values = rows.map((row) => {
    sum += drift ? (row[3] ?? 0) - (row[4] ?? 0) : (row[1] ?? 0);
    return sum * (price ?? 1);
  });
  const what = drift ? 'more than the clean machine, summed' : 'energy, summed';
  const unit = tariff === null ? 'kWh' : tariff.currency;
  const name = tariff === null ? `${what}, kWh` : `cost of ${drift ? 'drift' : 'energy'}, summed, ${unit}`;
  const span = step === 'hour' ? 3_600_000 : 86_400_000;
  const end = Date.parse(to);
  const least = Math.min(0, ...values);
  const most = Math.max(0, ...values);
  const grid = stepOf(Math.max(most - least, 1e-6), 3);
  // A hair below nothing is drawn on the line.
  const low = least > -0.05 * most ? 0 : Math.floor(least / grid + 1e-9) * grid;
  const high = Math.max(low + grid, Math.ceil(most / grid - 1e-9) * grid);
  const y = (/** @type {number} */ v) => bottom - ((Math.max(low, v) - low) / (high - low)) * (bottom - top);
  const places = Math.max(0, -Math.floor(Math.log10(grid) + 1e-9));
  let svg = text(x0, top - 11, [{ t: name, c: 'b' }], { size });
  for (let v = low; v <= high + grid / 2; v += grid) {
    svg += `<path class="grid" d="M${x0} ${r1(y(v))}H${r1(x1)}"/>`;
    svg += text(x0 - 6, y(v) + 4, num(v, places), { size: size - 1, anchor: 'end', cls: 'dim' });
  }
  const points = rows.map((row, i) => /** @type {Point} */ ([x(Math.min(end, row[0] + span)), y(values[i] ?? 0)]));
  const zero = r1(y(0));
  svg += `<path class="cusarea" d="${poly([[x0, y(0)], ...points])}V${zero}Z"/><path class="roll" d="${poly([[x0, y(0)], ...points])}"/>`;
  const last = values.at(-1) ?? 0;
  if (narrow) return svg;
  const { text: amount } = tariff === null ? { text: num(last, 0) } : money(view, 'cost', last, Math.abs(last) / 100);
  return (
    svg +
    text(
      x1 + 10,
      y(last) + 5,
      [
        { t: `${unit} ${amount}`, c: 'b' },
        { t: ' to date', c: 'dim' },
      ],
      { size },
    )
  );
}
