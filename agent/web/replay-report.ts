/** The report of a replay: one page that stands alone, for a person who looks after the machine. Pure. */
import { parseRfc3339 } from '../base/time.ts';
import { localTime, zoneOffsets } from '../season/zone.ts';
import type { Site } from '../site/site.ts';
import { esc, num } from './page/text.js';
import { chart } from './replay-chart.ts';
import { alarmsPart, daysPart, loopsPart, missingPart, pointsPart, type Writing } from './replay-parts.ts';
import { REPORT_STYLE } from './replay-style.ts';
import type { ChillerSummary, ReplaySummary } from './replay-types.ts';
import { troublesText } from './replay-words.ts';

/** `fonts`: style rules of the typeface, with its bytes; the report stands alone. */
export function replayReport(summary: ReplaySummary, site: Site, fonts: string): string {
  const offsets = zoneOffsets(site.time_zone);
  const local = (instant: string): string => localTime(parseRfc3339(instant) ?? 0, offsets);
  const how: Writing = { site, local, offsets };
  const { export: read } = summary;
  const chillers = Object.entries(summary.chillers);
  const title = `${site.name}: replay of ${read.file}`;
  const body = [
    `<header><b>Tonhour</b><span>${esc(site.name)}</span><span>${esc(local(summary.from))} to ${esc(local(summary.to))}, ${esc(site.time_zone)}</span></header>`,
    `<h1>Replay of ${esc(read.file)}</h1>`,
    `<p class="lead">${chillers.map(([id, each]) => sentence(id, each)).join(' ')}</p>`,
    exportPart(summary, how),
    ...chillers.map(([id, each]) => chillerPart(id, each, summary, how)),
    footer(summary),
  ];
  return (
    `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1">` +
    `<meta name="color-scheme" content="light dark"><title>${esc(title)}</title><style>${fonts}${REPORT_STYLE}</style></head>` +
    `<body><main>${body.join('\n')}</main></body></html>\n`
  );
}

function sentence(id: string, { season, alarms, loops }: ChillerSummary): string {
  const { kw_per_ton, uncertainty, ton_hours, kwh } = season;
  const raised = alarms.filter(({ change }) => change === 'raised').length;
  const hunted = Object.values(loops).reduce((sum, { verdicts }) => sum + (verdicts['hunting'] ?? 0), 0);
  const ends = [
    raised === 0 ? 'no alarm was raised' : raised === 1 ? 'one alarm was raised' : `${raised} alarms were raised`,
    ...(hunted > 0 ? ['a level loop hunted'] : []),
  ].join(' and ');
  if (kw_per_ton === null)
    return `<b>${esc(id)}</b>: no kW/ton (${esc(season.reasons['kw_per_ton'] ?? 'not known')}); ${ends}.`;
  const sure = uncertainty.kw_per_ton === null ? '' : ` ±${num(uncertainty.kw_per_ton, 3)}`;
  return `<b>${esc(id)}</b> made ${whole(ton_hours)} ton-hours with ${whole(kwh)} kWh: <b>${num(kw_per_ton, 3)}${sure} kW/ton</b>; ${ends}.`;
}

function whole(value: number | null): string {
  return value === null ? 'an unknown number of' : num(value, 0);
}

function exportPart(summary: ReplaySummary, { local }: Writing): string {
  const { export: read, interval_s } = summary;
  const troubles = troublesText(summary);
  const facts = [
    `${num(read.rows, 0)} of ${num(read.lines, 0)} lines are readings, from ${local(read.first)} to ${local(read.last)}`,
    read.step_s === null ? '' : `usually ${num(read.step_s, 0)} s apart`,
    `times taken as ${read.time_zone}`,
    `solved in intervals of ${num(interval_s, 0)} s`,
    `${num(read.readings, 0)} readings used, ${num(read.missing, 0)} marked as not measured`,
  ].filter((words) => words !== '');
  const unused = read.columns_unused;
  return (
    `<p>${esc(`${facts.join(', ')}.`)}</p>` +
    (troubles.length === 0
      ? '<p>Every line could be read.</p>'
      : `<h3>What was wrong with the export <small>each line costs itself alone</small></h3><ul>${troubles.map((words) => `<li>${esc(words)}</li>`).join('')}</ul>`) +
    (unused.length === 0
      ? ''
      : `<details><summary>${unused.length} columns are not in the map</summary><p>${unused.map(esc).join(', ')}</p></details>`)
  );
}

function key(label: string, value: string, unit: string, note: string): string {
  return `<div><span>${esc(label)}</span><strong>${esc(value)}</strong> <em>${esc(unit)}</em><small>${esc(note)}</small></div>`;
}

function keys({ season, intervals_due, intervals_recorded }: ChillerSummary): string {
  const { kw_per_ton, uncertainty, ton_hours, kwh, minutes_used, minutes_due, minutes_standing, economizer } = season;
  const pm = (value: number | null, places: number, unit: string): string =>
    value === null ? unit : `±${num(value, places)} ${unit}`;
  const share = minutes_due > 0 ? `${num((100 * minutes_used) / minutes_due, 1)} % of those due` : '';
  const saved = economizer.saved;
  return `<div class="keys">${[
    key(
      'Power per ton',
      kw_per_ton === null ? '–' : num(kw_per_ton, 3),
      pm(uncertainty.kw_per_ton, 3, 'kW/ton'),
      kw_per_ton === null ? (season.reasons['kw_per_ton'] ?? '') : 'energy over ton-hours',
    ),
    key('Cooling', ton_hours === null ? '–' : num(ton_hours, 0), pm(uncertainty.ton_hours, 0, 'ton-hours'), ''),
    key('Energy', kwh === null ? '–' : num(kwh, 0), pm(uncertainty.kwh, 0, 'kWh'), 'while cooling'),
    key(
      'Economizer saved',
      saved.kwh === null ? '–' : num(saved.kwh, 0),
      pm(saved.uncertainty, 0, 'kWh'),
      saved.reason ?? '',
    ),
    key(
      'Minutes used',
      num(minutes_used, 0),
      share,
      `${num(minutes_due, 0)} due, ${num(minutes_standing, 0)} at standstill; ${num(intervals_recorded, 0)} of ${num(intervals_due, 0)} intervals recorded`,
    ),
  ].join('')}</div>`;
}

function chillerPart(id: string, each: ChillerSummary, summary: ReplaySummary, how: Writing): string {
  const name = how.site.chillers.find((one) => one.id === id)?.name ?? id;
  const { trends, alarms } = each;
  const marks = alarms
    .filter(({ change }) => change === 'raised')
    .map(({ time, priority, title }) => ({ time: parseRfc3339(time) ?? 0, priority, title }));
  const base = { from: parseRfc3339(trends.from) ?? 0, step: 1000 * trends.step_s };
  const span = num(trends.step_s / 60, trends.step_s % 60 === 0 ? 0 : 1);
  const percent = trends.values['unit.load_fraction'].map((value) => (value === null ? null : 100 * value));
  return [
    `<h2>${esc(id)}${name === id ? '' : `, ${esc(name)}`}</h2>`,
    keys(each),
    chart(
      {
        ...base,
        title: 'Power per ton',
        unit: `kW/ton, means of ${span} min while running; strokes at the foot: alarms raised`,
        values: trends.values['unit.kw_per_ton'],
        decimals: 3,
        filled: false,
        marks,
        height: 210,
      },
      how.offsets,
    ),
    chart(
      {
        ...base,
        title: 'Load',
        unit: '% of rated capacity',
        values: percent,
        decimals: 0,
        filled: true,
        marks: [],
        height: 150,
      },
      how.offsets,
    ),
    daysPart(each),
    alarmsPart(each, how),
    loopsPart(each, summary, how),
    missingPart(each),
    pointsPart(each),
  ].join('\n');
}

function footer({ version, export: read }: ReplaySummary): string {
  return (
    `<footer><p>± is an expanded uncertainty (k = 2). A field value of the chiller alone, without pumps and tower; no certified rating. ` +
    `Nothing was put in the place of what the export does not hold.</p>` +
    `<p>What is said here about a machine is a reason to look, not an instruction to work: refrigerant handling, electrical work and work on ` +
    `pressure vessels follow local codes, the plant's own procedures (lock-out and tag-out among them) and certified people. ` +
    `Tonhour is no safety function.</p>` +
    `<p>Tonhour ${esc(version)}, ${esc(read.file)}, ${num(read.bytes, 0)} bytes.</p></footer>`
  );
}
