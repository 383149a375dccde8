/**
 * Head of every view: name, views, units, look, clock, and the minute rule that shows the age of the data. Pure.
 * @import { View } from '../page-types.ts'
 */
import { openAlarms } from './circuit.js';
import { condition, overdue, reported } from './condition.js';
import { clockText, esc, r1, spanText } from './text.js';

/**
 * An address of the page with units and look as they are chosen.
 * @param {View} view
 * @param {string} path
 */
export function address(view, path) {
  return `${path}?units=${view.system}${view.look === 'auto' ? '' : `&amp;look=${view.look}`}`;
}

/** @param {string} id */
export function nowPath(id) {
  return `/now/${encodeURIComponent(id.toLowerCase())}`;
}

/**
 * @param {string} name
 * @param {string} legend
 * @param {readonly (readonly [string, string])[]} options
 * @param {string} current
 */
function radios(name, legend, options, current) {
  const labels = options.map(
    ([value, text]) =>
      `<label><input type="radio" name="${name}" id="${name}-${value}" value="${value}"${value === current ? ' checked' : ''}><span>${text}</span></label>`,
  );
  return `<fieldset><legend class="hide">${legend}</legend>${labels.join('')}</fieldset>`;
}

/** @param {View} view */
export function mast(view) {
  const open = openAlarms(view.alarms).length;
  const count = open === 0 ? '' : ` <b class="count">${open}</b><span class="hide"> open</span>`;
  const link = (/** @type {string} */ page, /** @type {string} */ path, /** @type {string} */ words) =>
    `<a href="${address(view, path)}"${view.page === page ? ' aria-current="page"' : ''}>${words}</a>`;
  return (
    `<div class="mast"><a class="name" href="${address(view, '/')}">Tonhour</a><span class="site">${esc(view.site.name)}</span>` +
    `<nav aria-label="Views">${link('now', nowPath(view.chosen), 'Now')}${link('alarms', '/alarms', `Alarms${count}`)}${link('season', '/season/both', 'Season')}</nav>` +
    `${view.site.demo ? '<p class="demo">Demonstration: the plant is emulated, no real machine is read.</p>' : ''}` +
    `<form class="prefs" method="get">${radios(
      'units',
      'Units',
      [
        ['ip', 'I-P'],
        ['si', 'SI'],
      ],
      view.system,
    )}` +
    `${radios(
      'look',
      'Look',
      [
        ['auto', 'auto'],
        ['light', 'light'],
        ['dark', 'dark'],
      ],
      view.look,
    )}` +
    `<noscript><button>Apply</button></noscript></form>` +
    `<div class="clock"><span class="hm" id="hm">${clockText(view.clock, view.site.time_zone, true)}</span> <span class="dim" id="age">${ageWords(view)}</span></div></div>`
  );
}

/**
 * Age of the chosen chiller's minute, in words beside the clock.
 * @param {View} view
 */
export function ageWords(view) {
  const { kind, time, age_s } = condition(view, view.chosen);
  if (kind === 'waiting' || time === null) return 'no minute yet';
  if (kind !== 'live') return '';
  const interval = reported(view, view.chosen).interval_s;
  const at = clockText(time, view.site.time_zone, interval % 60 !== 0);
  return `<span class="wideword">minute ${at}, </span>${spanText(age_s, true)} old`;
}

/**
 * Who is silent, since when, how long; empty while the figures are the present.
 * @param {View} view
 */
export function lateWords(view) {
  const { kind, time, age_s } = condition(view, view.chosen);
  if ((kind !== 'lost' && kind !== 'stale') || time === null) return '';
  const who = kind === 'lost' ? `controller ${view.chosen} silent` : 'no minute from the agent';
  return `${who} since ${clockText(time, view.site.time_zone)}, ${spanText(age_s)}`;
}

/**
 * The minute rule: ticks of one interval that fill as the minute ages; past that it is hatched and says who is silent.
 * @param {View} view
 * @param {number} width px
 */
export function rule(view, width) {
  const height = 22;
  const { kind, age_s } = condition(view, view.chosen);
  const words = lateWords(view);
  const box = `viewBox="0 0 ${width} ${height}" preserveAspectRatio="xMinYMid slice"`;
  const open = (/** @type {string} */ name) =>
    `<svg class="rule" id="rule" role="img" height="${height}" ${box} aria-label="${esc(name)}">`;
  if (words !== '') {
    let hatch = '';
    for (let x = -22; x < width; x += 9) hatch += `M${x} 22l22 -22`;
    const w = width < 640 ? width - 24 : 360;
    return (
      `${open(words)}<path class="late" d="${hatch}"/><g class="late-label"><rect x="${(width - w) / 2}" y="1" width="${w}" height="20"/>` +
      `<text x="${width / 2}" y="15.5" text-anchor="middle">${esc(words)}</text></g></svg>`
    );
  }
  const interval = reported(view, view.chosen).interval_s;
  const all = Math.round(overdue(interval) > interval + 15.5 ? interval : Math.max(interval, 10));
  const k = width / all;
  const step = all <= 120 ? 1 : 10;
  let ticks = '';
  let names = '';
  for (let i = 0; i <= all; i += step) {
    const major = i % (10 * step) === 0;
    ticks += `M${Math.round(i * k) + 0.5} 0v${major ? 10 : i % (5 * step) === 0 ? 7 : 4}`;
    if (major && i > 0 && i < all) names += `<text x="${r1(i * k + 4)}" y="17">${i} s</text>`;
  }
  const age = kind === 'waiting' ? 0 : Math.min(age_s, all);
  const name = kind === 'waiting' ? 'No minute yet' : `The minute is ${spanText(age_s)} old`;
  return `${open(name)}<rect class="fillbar" width="${r1(age * k)}" height="${height}"/><path class="t" d="${ticks}"/>${names}<path class="now" d="M${r1(age * k)} 0V${height}"/></svg>`;
}
