/**
 * The callout packet as a page that stands alone: on paper, on a phone, attached to a mail. Pure; every text of the
 * packet is escaped here.
 * @import { CalloutPacket, CalloutTrend } from '../../callout/packet.ts'
 * @import { Cause } from '../../callout/weigh.ts'
 * @import { View } from '../page-types.ts'
 * @import { Reader } from './callout-words.js'
 */
import {
  amount,
  plainName,
  readerOf,
  respondWords,
  SAYS,
  signWords,
  sinceWords,
  sureWords,
  whatWords,
  whenText,
  workWords,
} from './callout-words.js';
import { arrangementWords, numbersOf, stateWords } from './circuit.js';
import { diagram } from './diagram.js';
import { mark } from './plant.js';
import { sheet } from './sheet.js';
import { esc, num, spanText, timeOf } from './text.js';
import { chart } from './trends.js';
import { kindOf, scaleOf, write } from './units.js';

/** Content of A4 and Letter between margins, and of a phone, px. */
const PAPER = 688;
const PHONE = 358;
const TREND = 332;

/** @param {CalloutPacket} packet */
export function calloutTitle({ alarm, chiller, site }) {
  return `${chiller.id} ${alarm.title}, ${site.name}`;
}

/**
 * @param {CalloutPacket} packet
 * @param {Reader} reader
 */
function head(packet, reader) {
  const { alarm, chiller, site } = packet;
  const rated = amount(reader, 'unit.capacity', 'kW', chiller.rated_capacity_kw);
  const machine = `${chiller.refrigerant_label}, ${arrangementWords(chiller)}, rated ${rated}`;
  const pair = (/** @type {string} */ term, /** @type {string} */ words) =>
    words === '' ? '' : `<dt>${term}</dt><dd>${esc(words)}</dd>`;
  return (
    `<header class="top"><p class="kicker"><span>Callout packet</span><span>${esc(site.name)}</span><span>${esc(`${chiller.id}/${packet.event}`)}</span></p>` +
    `<div class="lead">${mark(alarm.priority)}<h1>${esc(chiller.id)} ${esc(alarm.title)}</h1></div>` +
    `<p class="dim">${esc(machine)}</p></header>` +
    `<dl class="facts">${pair('what', `${whatWords(packet, reader)}.`)}${pair('since', sinceWords(packet, reader))}${pair('how sure', sureWords(packet))}` +
    `${pair('state', machineWords(packet, reader))}${pair('if nobody acts', alarm.consequence)}${pair('respond', respondWords(alarm.respond_within_s))}</dl>`
  );
}

/**
 * @param {CalloutPacket} packet
 * @param {Reader} reader
 */
function machineWords({ machine, alarm }, reader) {
  const load = machine.values['unit.load_fraction'];
  const at = typeof load === 'number' ? ` at ${amount(reader, 'unit.load_fraction', '1', load)} load` : '';
  const economizer =
    machine.economizer === 'on' || machine.economizer === 'off' ? `, economizer ${machine.economizer}` : '';
  return `${machine.state}${at}${economizer}; alarm ${alarm.state}, priority ${alarm.priority}`;
}

/** @param {CalloutPacket} packet */
function cautions({ cautions: list }) {
  const items = list.map(({ text }) => `<li>${esc(text)}</li>`).join('');
  return `<section class="caution"><h2>Before any work</h2><ul>${items}</ul></section>`;
}

/** @param {CalloutPacket} packet */
function checks({ first_checks }) {
  const items = first_checks.map((text) => `<li><span class="box"></span>${esc(text)}</li>`).join('');
  return `<section class="checks"><h2>First on site</h2><ol>${items}</ol></section>`;
}

/**
 * @param {Cause} cause
 * @param {number} at
 * @param {Reader} reader
 */
function cause({ title, says, signs, checks: its }, at, reader) {
  const verdict = SAYS[says] === '' ? '' : ` <span class="says ${says}">${SAYS[says]}</span>`;
  const rows = signs
    .map((sign) => {
      const word = sign.says === 'open' ? '' : sign.says;
      return `<tr><th scope="row">${esc(plainName(sign.name))}</th><td>${esc(sign.seen)}</td><td class="fig">${esc(signWords(sign, reader))}</td><td class="says ${sign.says}">${word}</td></tr>`;
    })
    .join('');
  const table =
    rows === ''
      ? ''
      : `<table><thead><tr><th scope="col">tells it apart</th><th scope="col">if this is it</th><th scope="col">found</th><th scope="col"><span class="hide">speaks</span></th></tr></thead><tbody>${rows}</tbody></table>`;
  const list = its.map((text) => `<li>${esc(text)}</li>`).join('');
  return `<article class="cause"><h3><span class="rank">${at + 1}</span>${esc(title)}${verdict}</h3>${table}<ul class="look">${list}</ul></article>`;
}

/**
 * @param {CalloutPacket} packet
 * @param {Reader} reader
 */
function causes(packet, reader) {
  const own =
    packet.alarm.cause === ''
      ? ''
      : `<p class="own">${esc(packet.alarm.cause)} <span class="dim">(from the alarm list of the site)</span></p>`;
  const list = packet.causes.map((each, at) => cause(each, at, reader)).join('');
  return `<section class="causes"><h2>Likely causes, most likely first</h2>${own}${list}</section>`;
}

/**
 * Circuit in the pressure-enthalpy diagram, drawn for paper and for a phone.
 * @param {CalloutPacket} packet
 * @param {View} view
 * @param {Reader} reader
 */
function circuit(packet, view, reader) {
  const id = packet.chiller.id;
  const draw = (/** @type {number} */ width, /** @type {number} */ height, /** @type {boolean} */ folded) => {
    const { svg } = diagram({ view, id, width, height, size: 12.5, folded, uid: folded ? 'n' : 'w' });
    return `<svg class="${folded ? 'narrow' : 'wide'}" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" role="img" aria-label="Pressure-enthalpy diagram of ${esc(id)}">${svg}</svg>`;
  };
  const { states, economizer } = packet.machine;
  const numbers = numbersOf(packet.chiller, economizer === 'off', states);
  if (numbers.length === 0) return '';
  const how = { system: reader.system, barometer_kpa: reader.barometer_kpa };
  const one = (/** @type {string} */ kind, /** @type {number | null} */ value) => {
    const text = write(kind, value, null, how);
    return `<td>${text.value ?? ''} <span class="dim">${text.value === null ? '' : esc(text.unit)}</span></td>`;
  };
  const rows = numbers.map((n) => {
    const state = states[n];
    if (state === undefined) return '';
    const wet =
      state.q === null || state.q <= 0 || state.q >= 1
        ? '<td></td>'
        : `<td>${num(state.q * 100, 1)} <span class="dim">%</span></td>`;
    const where = `<span class="n">${esc(n)}</span> ${esc(stateWords(n, packet.chiller).where)}`;
    const dry = one('temperature', state.T - 273.15) + one('gauge', state.p / 1000) + one('enthalpy', state.h / 1000);
    return `<tr><th scope="row">${where}</th>${dry}${wet}${one('mass_flow', state.m)}</tr>`;
  });
  return (
    `<section class="circuit"><h2>Circuit in the minute of the alarm</h2><div class="plate">${draw(PAPER, 430, false)}${draw(PHONE, 390, true)}</div>` +
    `<div class="scroll"><table class="states"><thead><tr><th scope="col">state</th><th scope="col">temperature</th><th scope="col">pressure</th><th scope="col">enthalpy</th><th scope="col">vapour</th><th scope="col">flow</th></tr></thead><tbody>${rows.join('')}</tbody></table></div></section>`
  );
}

/**
 * @param {CalloutPacket} packet
 * @param {CalloutTrend} trend
 * @param {View} view
 */
function trend({ time, alarm, how_sure }, { name, unit, from, step_s, points }, view) {
  const first = timeOf(from) ?? 0;
  const last = first + (points.at(-1)?.[0] ?? step_s) * 1000;
  const scale = scaleOf(kindOf(name, unit), { system: view.system, barometer_kpa: view.site.barometer_kpa });
  const limit = name === alarm.metric && how_sure.limit !== null ? how_sure.limit * scale.factor + scale.shift : null;
  const svg = chart({
    series: { unit, start: first, points },
    name,
    view,
    from: first,
    to: last,
    width: TREND,
    height: 88,
    marked: timeOf(time),
    limit,
  });
  const label = scale.label === '' ? '' : `, ${scale.label}`;
  const body =
    svg === ''
      ? '<p class="dim none">one value only</p>'
      : `<svg width="${TREND}" height="88" viewBox="0 0 ${TREND} 88" role="img" aria-label="${esc(plainName(name))}">${svg}</svg>`;
  return `<figure><figcaption>${esc(plainName(name))}<span class="dim">${esc(label)}${limit === null ? '' : ', dashed: limit'}</span></figcaption>${body}</figure>`;
}

/**
 * @param {CalloutPacket} packet
 * @param {View} view
 */
function trends(packet, view) {
  if (packet.trends.length === 0) return '';
  const list = packet.trends.map((each) => trend(packet, each, view)).join('');
  const step = packet.trends[0]?.step_s ?? 60;
  return `<section class="around"><h2>Around the start</h2><p class="dim">The upright line is the minute of the alarm; each column spans least and greatest of ${spanText(step)}.</p><div class="grid2">${list}</div></section>`;
}

/**
 * Every point in two columns; doubtful ones are marked, with the reason below.
 * @param {CalloutPacket} packet
 * @param {Reader} reader
 */
function points({ machine, site }, reader) {
  const list = Object.entries(machine.points);
  if (list.length === 0) return '';
  const doubts = list.flatMap(([name, { quality, reason, age_s }]) => {
    const old = age_s !== null && age_s > 2 * site.interval_s ? [`read ${spanText(age_s)} before`] : [];
    const doubt = quality === 'good' ? old : [`${quality}: ${reason ?? 'no reason given'}`, ...old];
    return doubt.length === 0 ? [] : [`<li>${esc(plainName(name))}: ${esc(doubt.join('; '))}</li>`];
  });
  const row = (/** @type {typeof list[number]} */ [name, { value, uncertainty, unit, quality }]) =>
    `<tr><th scope="row">${esc(plainName(name))}</th><td class="fig">${esc(amount(reader, name, unit, value, uncertainty))}${quality === 'good' ? '' : ' ?'}</td></tr>`;
  const half = Math.ceil(list.length / 2);
  const table = (/** @type {typeof list} */ part) => `<table><tbody>${part.map(row).join('')}</tbody></table>`;
  const reasons = doubts.length === 0 ? '' : `<ul class="look">${doubts.join('')}</ul>`;
  return `<section class="points"><h2>Points used</h2><div class="grid2">${table(list.slice(0, half))}${table(list.slice(half))}</div>${reasons}</section>`;
}

/**
 * @param {CalloutPacket} packet
 * @param {Reader} reader
 */
function log(packet, reader) {
  const rows = packet.maintenance
    .map(
      (work) =>
        `<tr><th scope="row">${esc(whenText(work.time, reader.time_zone))}</th><td>${esc(workWords(work, reader.system))}</td></tr>`,
    )
    .join('');
  const body = rows === '' ? '<p>No entry.</p>' : `<table><tbody>${rows}</tbody></table>`;
  return `<section class="log"><h2>Maintenance log</h2>${body}</section>`;
}

/** @param {CalloutPacket} packet */
function others({ other_alarms }) {
  if (other_alarms.length === 0) return '';
  const items = other_alarms
    .map(
      ({ priority, title, state }) => `<li>${mark(priority)} ${esc(title)} <span class="dim">${esc(state)}</span></li>`,
    )
    .join('');
  return `<section class="others"><h2>Other alarms of this machine then</h2><ul>${items}</ul></section>`;
}

/**
 * @param {CalloutPacket} packet
 * @param {Reader} reader
 */
function foot(packet, reader) {
  const zone = reader.time_zone;
  const made = `Made ${whenText(packet.made, zone)} (${zone}) by Tonhour ${packet.version} from the minute ${whenText(packet.time, zone)}.`;
  const left = packet.left_out.length === 0 ? '' : `<p>Left out for size: ${esc(packet.left_out.join(', '))}.</p>`;
  return (
    `<section class="found"><h2>Found and done</h2><p class="lines"></p><p class="sign"><span>by</span><span>date</span><span>refrigerant added or taken, weighed</span></p></section>` +
    `<footer class="end">${left}<p>± expanded uncertainty, k = 2. ${esc(made)} ` +
    'Order of causes: what the figures speak for, then common practice of the trade. Tonhour never writes to a controller and is not a safety function.</p></footer>'
  );
}

/**
 * The body of the page.
 * @param {CalloutPacket} packet
 * @param {View} view of the packet's minute
 */
export function calloutBody(packet, view) {
  const reader = readerOf(packet, view.system);
  return (
    `<main class="packet">${head(packet, reader)}${cautions(packet)}${checks(packet)}${causes(packet, reader)}` +
    `${circuit(packet, view, reader)}${trends(packet, view)}` +
    `<section class="figures"><h2>Figures of that minute</h2>${sheet(view, packet.chiller.id)}</section>` +
    `${points(packet, reader)}${others(packet)}${log(packet, reader)}${foot(packet, reader)}</main>`
  );
}
