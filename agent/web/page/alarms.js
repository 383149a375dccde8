/**
 * The alarm list, grouped by state in the words of ISA-18.2, each with cause, consequence and what to do. Pure.
 * @import { View } from '../page-types.ts'
 * @import { AlarmFigure } from '../types.ts'
 */
import { address, nowPath } from './mast.js';
import { footLine, notice } from './page.js';
import { mark } from './plant.js';
import { esc, sinceText, spanText, timeOf } from './text.js';
import { kindOf, write } from './units.js';

/** @type {readonly (readonly [AlarmFigure['state'], string])[]} */
const GROUPS = [
  ['unacknowledged', 'Unacknowledged'],
  ['acknowledged', 'Acknowledged'],
  ['returned to normal', 'Returned to normal'],
  ['shelved', 'Shelved'],
  ['suppressed by design', 'Suppressed by design'],
  ['out of service', 'Out of service'],
];

/**
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function limitWords(view, alarm) {
  if (alarm.metric === null || alarm.unit === null) return '';
  const how = { system: view.system, barometer_kpa: view.site.barometer_kpa };
  const kind = kindOf(alarm.metric, alarm.unit);
  const one = (/** @type {number | null} */ v) => {
    const text = write(kind, v, null, how);
    return text.value === null ? null : `${text.value}${text.unit === '' ? '' : ` ${text.unit}`}`;
  };
  const found = one(alarm.value);
  const limit = one(alarm.limit);
  return [found === null ? '' : `found ${found}`, limit === null ? '' : `limit ${limit}`]
    .filter((t) => t !== '')
    .join(', ');
}

/**
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function record(view, alarm) {
  const since = timeOf(alarm.since);
  const zone = view.site.time_zone;
  const when =
    since === null ? '' : `since ${sinceText(since, view.clock, zone)}, ${spanText((view.clock - since) / 1000, true)}`;
  const line = [esc(when), esc(limitWords(view, alarm))].filter((t) => t !== '').join('; ');
  const pair = (/** @type {string} */ term, /** @type {string} */ words) =>
    words === '' ? '' : `<dt>${term}</dt><dd>${esc(words)}</dd>`;
  const evidence = alarm.evidence
    .map((e) => `<tr><th scope="row">${esc(e.name)}</th><td>${esc(e.expected)}</td><td>${esc(e.found)}</td></tr>`)
    .join('');
  return (
    `<article class="record" id="${esc(`${alarm.chiller}/${alarm.id}`)}"><div class="lead">${mark(alarm.priority, alarm.state === 'unacknowledged')}` +
    `<h3><a href="${address(view, nowPath(alarm.chiller))}">${esc(alarm.chiller)}</a> ${esc(alarm.title)}</h3><p class="dim">${line}</p>${packet(view, alarm)}</div>` +
    `<dl>${pair('cause', alarm.cause)}${pair('consequence', alarm.consequence)}${pair('what to do', alarm.action)}</dl>` +
    `${evidence === '' ? '' : `<table><caption class="hide">Evidence</caption><thead><tr><th scope="col">evidence</th><th scope="col">expected</th><th scope="col">found</th></tr></thead><tbody>${evidence}</tbody></table>`}</article>`
  );
}

/**
 * The way to the packet of the last time that it was raised; an alarm that was not raised has none.
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function packet(view, alarm) {
  if (alarm.raised === null) return '';
  const path = `/callout/${encodeURIComponent(alarm.chiller.toLowerCase())}/${encodeURIComponent(alarm.id)}`;
  return `<p><a class="packetlink" href="${path}?units=${view.system}">Callout packet</a></p>`;
}

/** @param {View} view */
function alarmPage(view) {
  const groups = GROUPS.map(([state, words]) => {
    const list = view.alarms
      .filter((alarm) => alarm.state === state)
      .sort((a, b) => a.priority - b.priority || b.since.localeCompare(a.since));
    if (list.length === 0)
      return `<section class="group none"><h2>${words} <span class="dim">none</span></h2></section>`;
    return `<section class="group"><h2>${words} <span class="dim">${list.length}</span></h2>${list.map((alarm) => record(view, alarm)).join('')}</section>`;
  });
  return (
    `<h1 class="viewname">Alarms</h1>${groups.join('')}` +
    '<p class="caution"><b>Before opening anything:</b> refrigerant only by certified people (EPA 608 or local law); lock-out and tag-out; pressure; ' +
    'machinery room rules of ASHRAE 15. Local codes and licensed practice govern.</p>'
  );
}

/** @param {View} view */
export function alarmsMain(view) {
  return `${notice(view)}${alarmPage(view)}${footLine(view)}`;
}
