/**
 * The alarms: grouped by state in the words of ISA-18.2, and beside the list the record of one of them. Pure.
 * @import { View } from '../page-types.ts'
 * @import { AlarmFigure } from '../types.ts'
 */
import { alarmPath, record, since } from './alarms-record.js';
import { address } from './mast.js';
import { footLine, notice } from './page.js';
import { mark } from './plant.js';
import { clockText, esc, sinceText, spanText, timeOf } from './text.js';

/**
 * State, heading, what its count says; a state that most sites never see is listed only where it occurs.
 * @type {readonly (readonly [AlarmFigure['state'], string, string, boolean])[]}
 */
const GROUPS = [
  ['unacknowledged', 'Unacknowledged', 'active', true],
  ['acknowledged', 'Acknowledged', 'active', true],
  ['returned to normal', 'Returned to normal', 'unacknowledged', true],
  ['latched', 'Latched', 'until acknowledged', false],
  ['shelved', 'Shelved', 'until the time shown', true],
  ['suppressed by design', 'Suppressed by design', 'the machine explains it', true],
  ['out of service', 'Out of service', 'by the site file', true],
];

/**
 * @param {AlarmFigure} a
 * @param {AlarmFigure} b
 */
const worseFirst = (a, b) => a.priority - b.priority || b.since.localeCompare(a.since);

/** @param {readonly AlarmFigure[]} alarms */
function inOrder(alarms) {
  return GROUPS.flatMap(([state]) => alarms.filter((alarm) => alarm.state === state).sort(worseFirst));
}

/** @param {AlarmFigure} alarm */
function alarmKey(alarm) {
  return `${alarm.chiller.toLowerCase()}/${alarm.id}`;
}

/**
 * What stands behind the title: who and why, or since when.
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function second(view, alarm) {
  const zone = view.site.time_zone;
  const when = (/** @type {string} */ text) => sinceText(timeOf(text) ?? 0, view.clock, zone);
  if (alarm.shelf !== null)
    return `by ${alarm.shelf.by}${alarm.shelf.reason === null ? '' : `, ${alarm.shelf.reason}`}${alarm.active ? '; active' : ''}`;
  if (alarm.state === 'out of service') return alarm.out_of_service ?? '';
  if (alarm.suppression !== null) return alarm.suppression;
  if (alarm.acknowledged !== null) return `by ${alarm.acknowledged.by}, ${when(alarm.acknowledged.time)}`;
  if (alarm.cleared !== null && alarm.raised !== null && !alarm.active) {
    const lasted = ((timeOf(alarm.cleared) ?? 0) - (timeOf(alarm.raised) ?? 0)) / 1000;
    return `until ${when(alarm.cleared)}, ${spanText(lasted, true)}`;
  }
  return since(view, alarm);
}

/**
 * The time at the right: end of a shelf, else the beginning.
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function right(view, alarm) {
  const time = timeOf(alarm.shelf?.until ?? (alarm.active ? alarm.raised : null) ?? alarm.since) ?? 0;
  const text = sinceText(time, view.clock, view.site.time_zone);
  const today = clockText(time, view.site.time_zone) === text;
  return today ? text : text.split(' ').slice(0, -1).join(' ');
}

/**
 * @param {View} view
 * @param {AlarmFigure | null} chosen
 */
function list(view, chosen) {
  const groups = GROUPS.map(([state, words, what, always]) => {
    const alarms = view.alarms.filter((alarm) => alarm.state === state).sort(worseFirst);
    if (alarms.length === 0 && !always) return '';
    const count = alarms.length === 0 ? 'none' : `${what}, ${alarms.length}`;
    const rows = alarms.map((alarm) => {
      const on = chosen !== null && alarmKey(alarm) === alarmKey(chosen);
      return (
        `<li${on ? ' class="on"' : ''}><a href="${address(view, alarmPath(alarm))}"${on ? ' aria-current="true"' : ''}>` +
        `${mark(alarm.priority, alarm.state === 'unacknowledged')}<span><b>${esc(alarm.chiller)}</b> ${esc(alarm.title)}</span>` +
        `<time>${esc(right(view, alarm))}</time><span class="dim">${esc(second(view, alarm))}</span></a></li>`
      );
    });
    const items = rows.length === 0 ? '' : `<ul>${rows.join('')}</ul>`;
    return `<section class="group"><h2>${words} <span class="dim">${count}</span></h2>${items}</section>`;
  });
  return `<div class="alarmlist">${groups.join('')}</div>`;
}

/**
 * The alarm whose record is shown: the one asked for, else the first of the list; null where there is none.
 * @param {readonly AlarmFigure[]} alarms
 * @param {string | null} asked `<chiller>/<id>`
 */
export function shownAlarm(alarms, asked) {
  if (asked === null) return inOrder(alarms)[0] ?? null;
  return alarms.find((alarm) => alarm.state !== 'normal' && alarmKey(alarm) === asked) ?? null;
}

/** @param {View} view */
function alarmPage(view) {
  const chosen = shownAlarm(view.alarms, view.alarm);
  const gone = view.alarm !== null && chosen === null;
  const none =
    `<div class="rec"><h2 class="big">${gone ? 'This alarm is normal' : 'Every alarm is normal'}</h2>` +
    `<p class="dim">${gone ? `${esc(view.alarm)} stands no more, or is none of this site.` : 'Nothing is to be acknowledged, nothing is shelved.'}</p></div>`;
  return (
    `<h1 class="hide">Alarms</h1><div class="alarms">${list(view, chosen)}` +
    `${chosen === null ? none : record(view, chosen)}</div>`
  );
}

/** @param {View} view */
export function alarmsMain(view) {
  return `${notice(view)}${alarmPage(view)}${footLine(view)}`;
}
