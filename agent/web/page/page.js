/**
 * Whole views as HTML text, the same in agent and browser. Pure.
 * @import { View } from '../page-types.ts'
 * @import { Drawing } from './schematic.js'
 */
import { arrangementWords, openAlarms } from './circuit.js';
import { chillerOf, condition, reported, unheard } from './condition.js';
import { diagram } from './diagram.js';
import { keys, sentence } from './keys.js';
import { address, mast, rule } from './mast.js';
import { mark, plant } from './plant.js';
import { readout } from './readout.js';
import { schematic } from './schematic.js';
import { sheet } from './sheet.js';
import { clockText, esc, num, sinceText, spanText, timeOf } from './text.js';
import { trends } from './trends.js';

/**
 * @typedef {object} Size
 * @property {number} width of the content, px
 * @property {number} window of the window, px
 */

/**
 * The pictures at their real size: side by side from 1100 px on, else one above the other; folded where the diagram is
 * narrow.
 * @param {View} view
 * @param {string} id
 * @param {Size} size
 * @param {string} uid
 * @param {Drawing} [draw] of a machine that `schematic` does not know
 */
export function pictures(view, id, { width, window }, uid, draw) {
  const joined = window >= 1100;
  const narrow = window < 700;
  const huge = window >= 2300;
  const wall = window >= 1600;
  const font = huge ? 19 : wall ? 14.5 : 12.5;
  const height = huge ? 740 : wall ? 500 : 484;
  const left = joined ? (huge ? 820 : wall ? 610 : 500) : width;
  const right = joined ? width - left : width;
  const h1 = narrow ? 470 : height;
  const h2 = narrow ? 390 : height;
  const d = diagram({ view, id, width: right, height: h2, size: font, folded: narrow, uid: `${uid}d` });
  const s = schematic({
    view,
    id,
    width: left,
    height: h1,
    size: font,
    narrow,
    uid: `${uid}s`,
    rails: d.rails,
    joined,
    draw,
  });
  const svg = (
    /** @type {string} */ key,
    /** @type {number} */ w,
    /** @type {number} */ h,
    /** @type {string} */ role,
    /** @type {string} */ name,
    /** @type {string} */ body,
  ) =>
    `<div class="${key}"><svg data-picture="${key}" tabindex="0" width="${w}" height="${h}" viewBox="0 0 ${w} ${h}" role="group" aria-roledescription="${role}" aria-label="${esc(name)}">${body}</svg></div>`;
  return (
    svg('steel', left, h1, 'schematic', `Schematic of ${id}: levels and valves`, s) +
    (d.svg === '' ? '' : svg('ph', right, h2, 'diagram', `Pressure-enthalpy diagram of ${id}`, d.svg))
  );
}

/**
 * That the other machines go on, where they do.
 * @param {View} view
 */
function others(view) {
  const going = view.site.chillers
    .filter((c) => c.id !== view.chosen && condition(view, c.id).kind === 'live')
    .map((c) => c.id);
  return going.length === 0 ? [] : [`${going.join(', ')} ${going.length === 1 ? 'is' : 'are'} polled as usual.`];
}

/** @param {View} view */
export function notice(view) {
  const { kind, time, age_s } = condition(view, view.chosen);
  const now = reported(view, view.chosen);
  const zone = view.site.time_zone;
  const bar = (/** @type {string} */ title, /** @type {readonly string[]} */ words) =>
    `<div class="notice" role="status"><b>${esc(title)}</b>${words.map((w) => `<span>${esc(w)}</span>`).join('')}</div>`;
  if (unheard(view, view.chosen)) {
    const reason = now.link.reason === null ? '' : ` Reason: ${now.link.reason}.`;
    return bar(`Controller ${view.chosen} has not answered yet`, [`The agent keeps asking.${reason}`, ...others(view)]);
  }
  if (kind === 'waiting') {
    const counts = view.site.chillers.map(({ id }) => {
      const { points_read, points_mapped } = reported(view, id);
      return `${id} ${points_read} of ${points_mapped}`;
    });
    const read = `Points read so far: ${counts.join(', ')}.`;
    return bar('Waiting for the first solved minute', [`The agent solves every ${spanText(now.interval_s)}. ${read}`]);
  }
  if (kind === 'stale' && time !== null)
    return bar('This page has lost the agent', [
      `Last minute received ${clockText(time, zone)}, ${spanText(age_s)} ago. Trying again every 5 s. Values stand in [brackets] until a new minute arrives.`,
    ]);
  if (kind === 'lost' && time !== null) {
    const reason = now.link.reason === null ? '' : ` Reason: ${now.link.reason}.`;
    return bar(`Controller ${view.chosen} is silent`, [
      `Last answer ${clockText(time, zone)}, ${spanText(age_s)} ago.${reason} Last known values stand in [brackets].`,
      ...others(view),
    ]);
  }
  const suspects = view.suspectWords?.(view) ?? null;
  return suspects === null ? '' : bar(suspects.title, suspects.words);
}

/** @param {View} view */
function alarmLine(view) {
  const alarm = openAlarms(view.alarms).find((a) => a.priority === 1 && a.active);
  if (alarm === undefined) return '';
  const since = timeOf(alarm.since);
  const when =
    since === null
      ? ''
      : `, active since ${sinceText(since, view.clock, view.site.time_zone)}, ${spanText((view.clock - since) / 1000, true)}`;
  return (
    `<div class="alarmline p1" role="alert">${mark(1, alarm.state === 'unacknowledged')}<b>${esc(`${alarm.chiller}: ${alarm.title}`)}</b>` +
    `<span>${esc(alarm.state + when)}</span>${alarm.cause === '' ? '' : `<span>${esc(alarm.cause)}</span>`}<a class="go" href="${address(view, '/alarms')}">Cause and what to do</a></div>`
  );
}

/** @param {View} view */
export function footLine(view) {
  const { sequence } = reported(view, view.chosen);
  const parts = [
    '± expanded uncertainty, k = 2',
    '<b>41.2?</b> uncertain, the reason stands under its table',
    '<b>[41.2]</b> last known, no longer measured',
    sequence === null ? '' : `sequence ${num(sequence, 0)}`,
    `version ${esc(view.site.version)}`,
    'Tonhour never writes to a controller and is not a safety function.',
  ];
  return `<footer class="foot">${parts
    .filter((p) => p !== '')
    .map((p) => `<span>${p}</span>`)
    .join('')}</footer>`;
}

/**
 * The live view, without the head. `drawings`: what stands in the picture.
 * @param {View} view
 * @param {string} drawings
 * @param {{ state: string | null, trend: number, hint?: string }} how
 */
export function nowMain(view, drawings, { state, trend, hint = '' }) {
  const id = view.chosen;
  const chiller = chillerOf(view, id);
  const words = chiller === null ? '' : `${chiller.refrigerant}, ${arrangementWords(chiller)}`;
  return (
    `${notice(view)}${alarmLine(view)}${plant(view)}` +
    `<section class="one" aria-labelledby="who"><div class="who"><h1 id="who">${esc(id)}</h1><span class="dim">${esc(words)}</span><p class="say">${sentence(view, id)}</p></div>` +
    `${keys(view, id)}<div class="picture" id="picture">${drawings}<div class="read"><span id="read" aria-live="polite">${readout(view, id, state)}</span>${hint}</div></div></section>` +
    `${trends(view, id, trend)}${sheet(view, id)}${footLine(view)}`
  );
}

/**
 * Head: mast and minute rule.
 * @param {View} view
 * @param {number} window px
 */
export function head(view, window) {
  return `${mast(view)}${rule(view, window)}`;
}

/**
 * Title of the document.
 * @param {View} view
 */
export function title(view) {
  const what = view.page === 'now' ? `${view.chosen} now` : view.page === 'season' ? 'Season' : 'Alarms';
  return `${what}, ${view.site.name}, Tonhour`;
}
