/** Trends of a replay as SVG: one curve above a time axis in the site's time, alarms as strokes at its foot. Pure. */
import { localTime, type Offsets } from '../season/zone.ts';
import { esc } from './page/text.js';

export interface Chart {
  readonly title: string;
  readonly unit: string;
  /** Width of a column, ms, and where the first begins, ms since the epoch. */
  readonly from: number;
  readonly step: number;
  readonly values: readonly (number | null)[];
  readonly decimals: number;
  /** Filled down to zero: for a load; else the axis spans what occurs. */
  readonly filled: boolean;
  readonly marks: readonly { readonly time: number; readonly priority: number; readonly title: string }[];
  readonly height: number;
}

const WIDTH = 1130;
const LEFT = 52;
const RIGHT = 12;
const TOP = 12;
const FOOT = 26;

export function chart(given: Chart, offsets: Offsets): string {
  const { values, from, step, height, title, unit } = given;
  const known = values.filter((value) => value !== null);
  if (known.length === 0) return `<figure><figcaption><b>${esc(title)}</b> no minute gives it</figcaption></figure>`;
  const [low, high, ticks] = axis(known, given);
  const [right, foot] = [WIDTH - RIGHT, height - FOOT];
  const x = (time: number): number => LEFT + ((time - from) / (step * values.length)) * (right - LEFT);
  const y = (value: number): number => foot - ((value - low) / (high - low)) * (foot - TOP);
  const grid = ticks.map(
    (tick) =>
      `<line class="grid" x1="${LEFT}" x2="${right}" y1="${r(y(tick))}" y2="${r(y(tick))}"/>` +
      `<text x="${LEFT - 8}" y="${r(y(tick) + 4)}" text-anchor="end">${tick.toFixed(given.decimals)}</text>`,
  );
  const marks = given.marks.map(
    ({ time, priority, title: name }) =>
      `<line class="alarm${priority === 3 ? ' low' : ''}" x1="${r(x(time))}" x2="${r(x(time))}" y1="${foot - 9}" y2="${foot + 5}"><title>${esc(name)}</title></line>`,
  );
  const span = step * values.length;
  const picture =
    `<svg viewBox="0 0 ${WIDTH} ${height}" role="img" aria-label="${esc(title)}">${grid.join('')}` +
    `${curve(given, x, y, foot)}${marks.join('')}${times(from, span, offsets, x, foot)}</svg>`;
  return `<figure><figcaption><b>${esc(title)}</b> ${esc(unit)}</figcaption>${picture}</figure>`;
}

/** Least and greatest value of the axis, and where lines are drawn. */
function axis(known: readonly number[], { filled, decimals }: Chart): [number, number, number[]] {
  let [low, high] = [filled ? 0 : Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of known) [low, high] = [Math.min(low, value), Math.max(high, value)];
  const least = 4 * 10 ** -decimals;
  if (high - low < least) [low, high] = [low - (filled ? 0 : least / 2), low + least];
  const rough = (high - low) / 4;
  const decade = 10 ** Math.floor(Math.log10(rough));
  const tick = decade * ([1, 2, 5, 10].find((each) => each * decade >= rough) ?? 10);
  const first = Math.floor(low / tick + 1e-9) * tick;
  const count = Math.ceil((high - first) / tick - 1e-9);
  return [first, first + count * tick, Array.from({ length: count + 1 }, (_, index) => first + index * tick)];
}

/** Stretches without a gap, each a line; filled ones down to the foot. */
function curve(
  { values, from, step, filled }: Chart,
  x: (time: number) => number,
  y: (value: number) => number,
  foot: number,
): string {
  const parts: string[] = [];
  let run: string[] = [];
  let [first, last] = [0, 0];
  const end = (): void => {
    if (run.length > 0) {
      const line = run.join(' ');
      if (filled) parts.push(`<polygon class="area" points="${r(first)},${foot} ${line} ${r(last)},${foot}"/>`);
      parts.push(`<polyline class="curve" points="${run.length === 1 ? `${line} ${line}` : line}"/>`);
    }
    run = [];
  };
  values.forEach((value, index) => {
    if (value === null) {
      end();
      return;
    }
    const at = x(from + (index + 0.5) * step);
    if (run.length === 0) first = at;
    last = at;
    run.push(`${r(at)},${r(y(value))}`);
  });
  end();
  return parts.join('');
}

const HOUR = 3_600_000;
const STEPS = [1, 2, 3, 6, 12, 24, 48, 7 * 24, 14 * 24, 30 * 24, 61 * 24, 122 * 24, 365 * 24] as const;

/** Ticks at whole local hours or days, at most a dozen. */
function times(from: number, span: number, offsets: Offsets, x: (time: number) => number, foot: number): string {
  const step = HOUR * (STEPS.find((each) => span / HOUR / each <= 12) ?? 365 * 24);
  const parts: string[] = [];
  for (let local = Math.ceil((from + offsets(from)) / step) * step; ; local += step) {
    // The offset at the tick itself, so that days begin at midnight on both sides of a change of the clocks.
    const time = local - offsets(local - offsets(local));
    if (time > from + span) break;
    const [date = '', clock = ''] = localTime(time, offsets).split(' ');
    const label = step < 24 * HOUR && clock !== '00:00' ? clock : date.slice(5);
    const at = r(x(time));
    parts.push(
      `<line class="grid" x1="${at}" x2="${at}" y1="${foot}" y2="${foot + 5}"/><text x="${at}" y="${foot + 19}" text-anchor="middle">${label}</text>`,
    );
  }
  return parts.join('');
}

function r(value: number): number {
  return Math.round(value * 10) / 10;
}
