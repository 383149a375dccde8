/**
 * What both halves of the season's chart share: months, and work done as letters through both. Pure.
 * @import { View } from '../page-types.ts'
 */
import { text } from './ink.js';
import { dateText } from './season-figures.js';
import { r1 } from './text.js';

/**
 * @typedef {{ time: number, letter: string, words: string }} Event
 * @typedef {{ x: (t: number) => number, x0: number, x1: number, size: number, narrow: boolean }} Frame
 */

/**
 * Work done, in the order of time, lettered.
 * @param {View} view
 * @returns {Event[]}
 */
export function events(view) {
  const season = view.season;
  if (season === null) return [];
  const who = (/** @type {string} */ id) => (season.chillers.length > 1 ? `${id} ` : '');
  const works = season.chillers.flatMap((machine) =>
    machine.maintenance.map((work) => ({
      time: Date.parse(work.time),
      words: `${who(machine.chiller)}${work.kind === 'other' ? work.text.slice(0, 24) : work.kind.replace('_', ' ')}`,
    })),
  );
  return works
    .sort((a, b) => a.time - b.time)
    .slice(-12)
    .map((work, index) => ({ ...work, letter: String.fromCharCode(97 + index) }));
}

/**
 * @param {View} view
 * @param {Frame} frame
 * @param {[number, number, number]} at top, the line of letters, bottom
 */
export function lettered(view, { x, x1, size, narrow }, [top, middle, bottom]) {
  let busy = Number.NEGATIVE_INFINITY;
  return events(view)
    .filter(({ time }) => time > Date.parse(view.season?.from ?? ''))
    .map(({ time, letter, words }) => {
      const at = r1(x(time));
      const left = at > x1 - 150;
      const free = at - busy > 150;
      busy = at;
      const y = middle - 26;
      const name =
        narrow || !free
          ? ''
          : text(left ? at - 13 : at + 13, y + 13, words, { size, anchor: left ? 'end' : 'start', cls: 'dim lab' });
      const sign = text(at, y + 13, [{ t: letter, c: 'b' }], { size: 12, anchor: 'middle' });
      const box = `<rect class="ev2" x="${r1(at - 8)}" y="${r1(y)}" width="16" height="17"/>`;
      return `<path class="evt" d="M${at} ${top - 4}V${bottom}"/>${box}${sign}${name}`;
    })
    .join('');
}

/**
 * @param {View} view
 * @param {Frame} frame
 * @param {[number, number]} at bottoms of both halves
 */
export function months(view, { x, x0, x1, size, narrow }, [upper, lower]) {
  const season = /** @type {NonNullable<View['season']>} */ (view.season);
  const zone = view.site.time_zone;
  let axis = `M${x0} ${r1(upper)}H${r1(x1)}M${x0} ${r1(lower)}H${r1(x1)}`;
  let svg = '';
  if (season.step === 'hour') {
    const every = Math.max(1, Math.ceil(season.rows.length / (narrow ? 5 : 12)));
    for (const [i, row] of season.rows.entries()) {
      if (i % every !== 0) continue;
      axis += `M${r1(x(row[0]))} ${r1(lower)}v5`;
      svg += text(x(row[0]), lower + size + 5, dateText(row[0], zone, 'hour'), {
        size: size - 1,
        anchor: i === 0 ? 'start' : 'middle',
        cls: 'dim',
      });
    }
    return `<path class="axis" d="${axis}"/>${svg}`;
  }
  let busy = Number.NEGATIVE_INFINITY;
  for (const month of season.months) {
    const [from, to] = [Date.parse(month.from), Date.parse(month.to)];
    axis += `M${r1(x(from))} ${r1(lower)}v5M${r1(x(from))} ${r1(upper)}v-4`;
    const middle = (x(from) + x(to)) / 2;
    const words = month.name.endsWith('-01')
      ? dateText((from + to) / 2, zone, 'month')
      : dateText((from + to) / 2, zone, 'short');
    if (x(to) - x(from) < 14 || middle - busy < (narrow ? 44 : 40)) continue;
    busy = middle;
    svg += text(middle, lower + size + 5, words, { size: size - 1, anchor: 'middle', cls: 'dim' });
  }
  return `<path class="axis" d="${axis}"/>${svg}`;
}
