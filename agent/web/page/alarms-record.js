/**
 * The record of one alarm: state, limit, cause, evidence, what happens and what to do. Pure.
 * @import { View } from '../page-types.ts'
 * @import { AlarmFigure } from '../types.ts'
 */
import { address, nowPath } from './mast.js';
import { mark } from './plant.js';
import { esc, sinceText, spanText, timeOf } from './text.js';
import { chart } from './trends.js';
import { kindOf, scaleOf, write } from './units.js';

/** @param {AlarmFigure} alarm */
export function alarmPath(alarm) {
  return `/alarms/${encodeURIComponent(alarm.chiller.toLowerCase())}/${encodeURIComponent(alarm.id)}`;
}

/**
 * @param {View} view
 * @param {AlarmFigure} alarm
 * @param {number | null} value
 */
function figure(view, { metric, unit }, value) {
  if (metric === null || unit === null || value === null) return null;
  const how = { system: view.system, barometer_kpa: view.site.barometer_kpa };
  const text = write(kindOf(metric, unit), value, null, how);
  return text.value === null ? null : `${text.value}${text.unit === '' ? '' : ` ${text.unit}`}`;
}

const WHEN = { running: 'while running', steady: 'in steady operation', always: 'always' };

/**
 * `above 7.2 °F for 30 min, in steady operation`
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function limitWords(view, alarm) {
  const { condition } = alarm;
  const limit = figure(view, alarm, alarm.limit);
  if (condition === null || limit === null) return '';
  const more = condition.beyond_uncertainty ? ' by more than its uncertainty' : '';
  const long = condition.on_delay_s === 0 ? '' : ` for ${spanText(condition.on_delay_s, true)}`;
  const run =
    condition.when === 'running' && condition.running_for_s > 0
      ? `after running ${spanText(condition.running_for_s, true)}`
      : WHEN[condition.when];
  return `limit: ${condition.side} ${limit}${more}${long}, ${run}`;
}

/**
 * @param {View} view
 * @param {string | null} text
 */
function at(view, text) {
  const time = timeOf(text);
  return time === null ? '' : sinceText(time, view.clock, view.site.time_zone);
}

/**
 * @param {View} view
 * @param {string | null} text
 */
function ago(view, text) {
  const time = timeOf(text);
  return time === null ? '' : spanText((view.clock - time) / 1000, true);
}

/**
 * Since when and for how long, and what is found.
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
export function since(view, alarm) {
  const found = figure(view, alarm, alarm.value);
  const limit = figure(view, alarm, alarm.limit);
  if (found === null) return alarm.evidence[0]?.found ?? '';
  return limit === null ? `found ${found}` : `found ${found}, limit ${limit}`;
}

/**
 * The state in a sentence: who, since when, until when.
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function stateWords(view, alarm) {
  const active = alarm.active ? `active since ${at(view, alarm.raised)}, ${ago(view, alarm.raised)}` : '';
  /** @param {{ by: string, reason: string | null } | null} deed */
  const by = (deed) => `by ${deed?.by ?? 'nobody known'}`;
  /** @param {{ by: string, reason: string | null } | null} deed */
  const why = (deed) => (deed === null || deed.reason === null ? '' : `: ${deed.reason}`);
  const { acknowledged, shelf } = alarm;
  switch (alarm.state) {
    case 'acknowledged':
      return `${by(acknowledged)} ${at(view, acknowledged?.time ?? null)}${why(acknowledged)}; ${active}`;
    case 'returned to normal':
      return `${at(view, alarm.cleared)}, ${ago(view, alarm.cleared)} ago; began ${at(view, alarm.raised)}; still to be acknowledged`;
    case 'latched':
      return `over since ${at(view, alarm.cleared)}; began ${at(view, alarm.raised)}; stays until it is acknowledged`;
    case 'shelved':
      return `until ${at(view, shelf?.until ?? null)} ${by(shelf)}${why(shelf)}; ${active === '' ? 'not active' : active}`;
    case 'suppressed by design':
      return `since ${at(view, alarm.since)}: ${alarm.suppression ?? ''}`;
    case 'out of service':
      return `since ${at(view, alarm.since)}: ${alarm.out_of_service ?? ''}`;
    default:
      return active;
  }
}

/** @param {AlarmFigure} alarm */
function evidence({ evidence: rows }) {
  if (rows.length === 0) return '';
  const lines = rows.map(
    ({ name, expected, found }) =>
      `<tr><th scope="row">${esc(words(name))}</th><td>${esc(expected)}</td><td>${esc(found)}</td></tr>`,
  );
  return (
    '<table class="evidence"><caption class="hide">Evidence</caption><thead><tr><th scope="col">evidence</th>' +
    `<th scope="col">expected</th><th scope="col">found</th></tr></thead><tbody>${lines.join('')}</tbody></table>`
  );
}

/**
 * A name of the catalogue in plain words.
 * @param {string} name
 */
function words(name) {
  return name.replaceAll(/[._]/g, ' ');
}

const HOUR = 3_600_000;

/**
 * Four hours around the beginning of an alarm, ms: one before it, and what there is after it.
 * @param {Pick<AlarmFigure, 'raised' | 'since'>} alarm
 * @param {number} clock
 */
export function around({ raised, since: entered }, clock) {
  const to = Math.min(clock, (timeOf(raised ?? entered) ?? clock) + 3 * HOUR);
  return { from: to - 4 * HOUR, to };
}

/**
 * What the alarm watches, around its beginning, with its limit.
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function trend(view, alarm) {
  const { metric, unit, raised } = alarm;
  const series = metric === null ? undefined : view.series[metric];
  if (series === undefined || metric === null || unit === null) return '';
  // The window stays as it was asked for: what the page was served.
  const { from, to } = around(alarm, timeOf(view.served) ?? view.clock);
  const { factor, shift } = scaleOf(kindOf(metric, unit), {
    system: view.system,
    barometer_kpa: view.site.barometer_kpa,
  });
  const limit = alarm.limit === null ? null : alarm.limit * factor + shift;
  const draw = (/** @type {string} */ name, /** @type {number} */ width) => {
    const svg = chart({ series, name: metric, view, from, to, width, height: 150, marked: timeOf(raised), limit });
    if (svg === '') return '';
    return `<svg class="${name}" width="${width}" height="150" viewBox="0 0 ${width} 150" role="img" aria-label="${esc(words(metric))} around the beginning">${svg}</svg>`;
  };
  const drawn = draw('wide', 520) + draw('narrow', 356);
  if (drawn === '') return '';
  const label = write(kindOf(metric, unit), 1, null, {
    system: view.system,
    barometer_kpa: view.site.barometer_kpa,
  }).unit;
  const say = [label, alarm.limit === null ? '' : 'limit dashed', raised === null ? '' : 'upright line: it began'];
  return `<h3>${esc(words(metric))} <span class="dim">${esc(say.filter((text) => text !== '').join(', '))}</span></h3><div class="around">${drawn}</div>`;
}

/** States in which somebody is to acknowledge. */
const TO_ACKNOWLEDGE = ['unacknowledged', 'returned to normal', 'latched'];

/**
 * What became of the form that was sent: until the next minute shows it, or why it was refused.
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function told({ desk, nows, served }, { chiller }) {
  if (desk === null) return '';
  if (desk.refused !== null) return `<p class="told" role="alert"><b>Refused</b> ${esc(desk.refused)}</p>`;
  const minute = timeOf(nows[chiller]?.time ?? null);
  const shown = minute !== null && minute > (timeOf(served) ?? 0);
  if (desk.sent === null || shown) return '';
  return `<p class="told" role="status"><b>Written down</b> ${esc(desk.sent)}: shown with the next minute.</p>`;
}

/**
 * The form by which a person acknowledges, shelves or takes off the shelf.
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
function deeds(view, alarm) {
  const { state, shelvable, shelf, raised } = alarm;
  if (view.desk === null || state === 'out of service') return '';
  const button = (/** @type {string} */ verb, /** @type {string} */ text) =>
    `<button name="verb" value="${verb}">${text}</button>`;
  const acknowledge = TO_ACKNOWLEDGE.includes(state) ? button('acknowledge', 'Acknowledge') : '';
  const hours = [1, 8, 24, 168].map(
    (h) => `<option value="${h}"${h === 8 ? ' selected' : ''}>${h < 48 ? `${h} h` : `${h / 24} days`}</option>`,
  );
  const shelve = shelvable
    ? `<span><label>shelve for <select name="hours">${hours.join('')}</select></label>${button('shelve', shelf === null ? 'Shelve' : 'Shelve anew')}</span>`
    : '';
  const unshelve = shelf === null ? '' : button('unshelve', 'Take off the shelf');
  if (acknowledge + shelve + unshelve === '') return '';
  const since = raised === null ? '' : `<input type="hidden" name="raised" value="${esc(raised)}">`;
  return (
    `<form class="deeds" method="post" action="${address(view, alarmPath(alarm))}"><h3>Acknowledge or shelve</h3>${since}` +
    '<label>your name <input name="by" required maxlength="100" autocomplete="name"></label>' +
    '<label>reason <input name="reason" maxlength="400"></label>' +
    `<div>${acknowledge}${shelve}${unshelve}</div><p class="dim">It speaks of this message alone and never reaches the controller. Shelving asks for a reason.</p></form>`
  );
}

/**
 * @param {View} view
 * @param {AlarmFigure} alarm
 */
export function record(view, alarm) {
  const { priority, respond_within_s } = alarm;
  const within = respond_within_s === null ? '' : `, respond within ${spanText(respond_within_s, true)}`;
  const traits = [
    alarm.latching ? 'stays until acknowledged after it is over' : '',
    alarm.shelvable ? '' : 'is never shelved',
  ].filter((text) => text !== '');
  const state = stateWords(view, alarm);
  const facts = [
    `<b>${esc(alarm.state)}</b>${state === '' ? '' : `, ${esc(state)}`}`,
    `priority ${priority}${within}`,
    esc(limitWords(view, alarm)),
    esc(traits.join(' and ')),
  ].filter((text) => text !== '');
  const part = (/** @type {string} */ title, /** @type {string} */ text) =>
    text === '' ? '' : `<h3>${title}</h3><p>${esc(text)}</p>`;
  const packet =
    alarm.raised === null
      ? ''
      : `<a class="do" href="${address(view, `/callout/${encodeURIComponent(alarm.chiller.toLowerCase())}/${encodeURIComponent(alarm.id)}`)}">Callout packet</a>`;
  return (
    `<article class="rec p${priority}" aria-labelledby="rec"><div class="head">${mark(priority, alarm.state === 'unacknowledged')}` +
    `<h2 class="big" id="rec">${esc(alarm.title)}, <a href="${address(view, nowPath(alarm.chiller))}">${esc(alarm.chiller)}</a></h2>${packet}` +
    `<p class="facts">${facts.map((text) => `<span>${text}</span>`).join('')}</p>${told(view, alarm)}</div>` +
    `<div class="what">${part('Likely cause', alarm.cause)}${evidence(alarm)}${part('If nobody acts', alarm.consequence)}${trend(view, alarm)}</div>` +
    `<div class="checks">${part('What to do first', alarm.action)}` +
    '<p class="caution"><b>Before opening anything:</b> refrigerant only by certified people (EPA 608 or local law); lock-out and tag-out; pressure; ' +
    'machinery room rules of ASHRAE 15. Local codes and licensed practice govern.</p>' +
    `${deeds(view, alarm)}</div></article>`
  );
}
