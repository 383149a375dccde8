/** Tables of the report of a replay. Pure. */
import type { Offsets } from '../season/zone.ts';
import type { Site } from '../site/site.ts';
import { esc, num } from './page/text.js';
import type { AlarmSeen, ChillerSummary, FigureCount, ReplaySummary } from './replay-types.ts';

/** How the report writes. */
export interface Writing {
  readonly site: Site;
  /** Local time of an RFC 3339 instant. */
  readonly local: (instant: string) => string;
  readonly offsets: Offsets;
}

type Cell = string | { readonly text: string; readonly kind: string };

/** Cells are safe text already; `left` are the columns of words, beside the first. */
function table(head: readonly string[], rows: readonly (readonly Cell[])[], left: readonly number[] = []): string {
  const side = (column: number, kind = ''): string => {
    const names = [left.includes(column) ? 'l' : '', kind].filter((name) => name !== '').join(' ');
    return names === '' ? '' : ` class="${names}"`;
  };
  const cell = (given: Cell, column: number): string =>
    typeof given === 'string'
      ? `<td${side(column)}>${given}</td>`
      : `<td${side(column, given.kind)}>${given.text}</td>`;
  return (
    `<div class="scroll"><table><thead><tr>${head.map((name, column) => `<th${side(column)}>${esc(name)}</th>`).join('')}</tr></thead>` +
    `<tbody>${rows.map((row) => `<tr>${row.map(cell).join('')}</tr>`).join('')}</tbody></table></div>`
  );
}

/** Months where there are several, else days. */
export function daysPart({ season: { months, days } }: ChillerSummary): string {
  const [name, periods] = months.length > 1 ? ['Months', months] : ['Days', days];
  if (periods.length < 2) return '';
  const value = (given: number | null, places: number): string => (given === null ? '–' : num(given, places));
  const rows = periods.map((period) => [
    { text: esc(period.name), kind: 'when' },
    num(period.hours, Number.isInteger(period.hours) ? 0 : 1),
    num(period.minutes_due, 0),
    num(period.minutes_used, 0),
    num(period.minutes_standing, 0),
    value(period.ton_hours, 0),
    value(period.kwh, 0),
    `${value(period.kw_per_ton, 3)}${period.uncertainty.kw_per_ton === null ? '' : ` <small>±${num(period.uncertainty.kw_per_ton, 3)}</small>`}`,
  ]);
  const head = ['', 'hours', 'minutes due', 'used', 'standing', 'ton-hours', 'kWh', 'kW/ton'];
  return `<h3>${name} <small>kW/ton is energy over ton-hours of the minutes used</small></h3>${table(head, rows)}`;
}

const ALARMS_TOLD = 60;

export function alarmsPart({ alarms, alarms_left_out }: ChillerSummary, { local }: Writing): string {
  const title = '<h3>Alarms <small>as the site file sets them, and those that every machine has</small></h3>';
  if (alarms.length === 0) return `${title}<p>None was raised.</p>`;
  const figure = ({ value, unit }: AlarmSeen): string =>
    value === null ? '' : esc(`${Number(value.toPrecision(5))}${unit === null || unit === '1' ? '' : ` ${unit}`}`);
  const rows = alarms
    .slice(0, ALARMS_TOLD)
    .map((seen) => [
      { text: esc(local(seen.time)), kind: 'when' },
      esc(seen.change),
      { text: esc(seen.title), kind: seen.change === 'raised' ? `p${seen.priority}` : '' },
      figure(seen),
      seen.change === 'raised' ? `${esc(seen.found)}<br><small>${esc(seen.action)}</small>` : '',
    ]);
  const more = alarms.length - rows.length + alarms_left_out;
  const rest = more > 0 ? `<p>${more} more stand in alarms.ndjson.</p>` : '';
  return `${title}${table(['when', '', 'alarm', 'value', 'found, and what to do'], rows, [1, 2, 4])}${rest}`;
}

export function loopsPart({ loops }: ChillerSummary, { interval_s }: ReplaySummary, { local }: Writing): string {
  const hours = (intervals: number | undefined): string => num(((intervals ?? 0) * interval_s) / 3600, 1);
  const rows = Object.entries(loops).map(([name, { verdicts, causes, greatest_index: worst, reasons }]) => [
    esc(name.replaceAll('_', ' ')),
    hours(verdicts['hunting']),
    hours(verdicts['steady']),
    hours((verdicts['not_enough'] ?? 0) + (verdicts['unusable'] ?? 0)),
    worst === null ? '–' : `${num(worst.index, 2)} <small>${esc(local(worst.time))}</small>`,
    esc(Object.keys(causes).join(', ').replaceAll('_', ' ')) || '–',
    esc(reasons[0]?.reason ?? ''),
  ]);
  const head = ['', 'hunting, h', 'steady, h', 'no verdict, h', 'greatest index', 'cause', 'mostly no verdict because'];
  return (
    `<h3>Level loops <small>hunting shows only in periods of ten readings or more: a slow trend hides a fast one</small></h3>` +
    table(head, rows, [4, 5, 6])
  );
}

const REASONS_TOLD = 2;
const NEARLY_ALL = 0.98;

interface Lacking {
  readonly why: string;
  readonly names: string[];
  /** Greatest share of the time. */
  share: number;
}

/** Figures that were not there for a good part of the time the machine ran, gathered by why. */
export function missingPart({ metrics }: ChillerSummary): string {
  const groups = new Map<string, Lacking>();
  for (const [name, { good, uncertain, missing, reasons }] of Object.entries(metrics)) {
    const share = missing / (good + uncertain + missing);
    if (share < 1 - NEARLY_ALL) continue;
    const why = reasons[0]?.reason ?? 'not known';
    const group = groups.get(why) ?? { why, names: [], share: 0 };
    group.names.push(name);
    group.share = Math.max(group.share, share);
    groups.set(why, group);
  }
  const title = '<h3>What is missing, and why <small>of the time that the machine ran</small></h3>';
  if (groups.size === 0)
    return `${title}<p>${Object.keys(metrics).length === 0 ? 'The machine was not seen running.' : 'Every figure was there nearly all the time.'}</p>`;
  const sorted = [...groups.values()].sort((a, b) => a.share - b.share);
  // What this machine or this site never has says nothing about these days.
  const [never, now] = [sorted.filter(({ share }) => share === 1), sorted.filter(({ share }) => share < 1)];
  const rows = (list: readonly Lacking[]): Cell[][] =>
    list.map(({ why, names, share }) => [
      { text: esc(why), kind: 'why' },
      { text: `${num(100 * share, share < 0.1 ? 1 : 0)} %`, kind: 'when' },
      esc(names.join(', ')),
    ]);
  const lists = (list: readonly Lacking[]): string => table(['why', 'up to', 'figures'], rows(list), [2]);
  const figures = never.reduce((sum, { names }) => sum + names.length, 0);
  return (
    title +
    (now.length === 0 ? '<p>Nothing came and went.</p>' : lists(now)) +
    (figures === 0 ? '' : `<details><summary>${figures} figures were never there</summary>${lists(never)}</details>`)
  );
}

/** Points that were not good all the time; those with one and the same story stand together. */
export function pointsPart({ points }: ChillerSummary): string {
  const groups = new Map<string, { readonly names: string[]; readonly count: FigureCount; readonly why: string }>();
  for (const [name, count] of Object.entries(points)) {
    if (count.uncertain + count.missing === 0) continue;
    const told = count.reasons.slice(0, REASONS_TOLD);
    const why = told.map(({ reason, count: times }) => `${reason} (${num(times, 0)})`).join('; ');
    const story = `${count.good} ${count.uncertain} ${told.map(({ reason }) => reason.replaceAll(/\d[\d.:TZ-]*/g, '#')).join()}`;
    const group = groups.get(story) ?? { names: [], count, why };
    group.names.push(name);
    groups.set(story, group);
  }
  const rows = [...groups.values()]
    .sort((a, b) => b.count.missing + b.count.uncertain - a.count.missing - a.count.uncertain)
    .map(({ names, count: { good, uncertain, missing }, why }): Cell[] => [
      { text: esc(why), kind: 'why' },
      num(good, 0),
      num(uncertain, 0),
      num(missing, 0),
      esc(names.join(', ')),
    ]);
  const title = '<h3>Readings <small>intervals by quality; one example of each reason</small></h3>';
  const all = Object.keys(points).length;
  if (rows.length === 0) return `${title}<p>All ${all} points were good in every interval.</p>`;
  const rest = Object.values(points).filter(({ uncertain, missing }) => uncertain + missing === 0).length;
  return (
    title +
    table(['why', 'good', 'uncertain', 'missing', 'points'], rows, [4]) +
    (rest > 0 ? `<p>The other ${rest} points were good in every interval.</p>` : '')
  );
}
