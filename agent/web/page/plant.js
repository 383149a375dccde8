/**
 * The plant at a glance: one row a chiller, and one for all of them together. Pure.
 * @import { Figure, View } from '../page-types.ts'
 * @import { ChillerFigure } from '../types.ts'
 */
import { openAlarms } from './circuit.js';
import { condition, economizerOf, overdue, shownNow, unheard } from './condition.js';
import { dataOf, figureOf, span } from './figures.js';
import { address, nowPath } from './mast.js';
import { esc, num, r1 } from './text.js';

/**
 * A priority's mark: solid, outlined or dashed square around its numeral.
 * @param {number} priority
 * @param {boolean} [unacknowledged]
 */
export function mark(priority, unacknowledged = false) {
  return `<span class="pr pr${priority}${unacknowledged ? ' unack' : ''}"><span class="hide">priority </span>${priority}</span>`;
}

/**
 * Load as a bar and a share of the rated capacity.
 * @param {View} view
 * @param {ChillerFigure} chiller
 */
function load(view, chiller) {
  const capacity = figureOf(view, chiller.id, 'unit.capacity');
  if (capacity?.off) return '<span class="word">off</span>';
  if (capacity === null || capacity.value === null) return '<span class="word">not known</span>';
  return bar(capacity.value / chiller.rated_capacity_kw, capacity.last);
}

/**
 * @param {number} share of the rated capacity
 * @param {boolean} last last known
 */
function bar(share, last) {
  const w = r1(82 * Math.min(1, Math.max(0, share)));
  const text = `${num(share * 100, 0)}`;
  return (
    `<svg class="bar${last ? ' last' : ''}" width="84" height="10" viewBox="0 0 84 10" aria-hidden="true"><rect class="all" x=".5" y=".5" width="83" height="9"/><rect class="part" x="1" y="1" width="${w}" height="8"/></svg>` +
    ` ${last ? `[${text}]` : text} %`
  );
}

/**
 * Power per ton of the last hour, without axes: its shape only, the figure stands beside it.
 * @param {View} view
 * @param {string} id
 */
function spark(view, id) {
  const series = view.sparks[id];
  const known = (series?.points ?? []).flatMap(([, mean]) => (mean === null ? [] : [mean]));
  if (series === undefined || known.length < 2) return '<span class="word">no history yet</span>';
  const low = Math.min(...known);
  const reach = Math.max(Math.max(...known) - low, 0.02);
  const to = view.clock;
  const x = (/** @type {number} */ t) => r1(120 + ((t - to) / 3_600_000) * 120);
  let d = '';
  let pen = 'M';
  for (const [s, mean] of series.points) {
    if (mean === null) pen = 'M';
    else {
      d += `${pen}${x(series.start + s * 1000)} ${r1(20 - ((mean - low) / reach) * 18)}`;
      pen = 'L';
    }
  }
  return `<svg class="spark" width="120" height="22" viewBox="0 0 120 22" role="img" aria-label="power per ton over the last hour, ${num(low, 3)} to ${num(Math.max(...known), 3)} kW/ton"><path d="${d}"/></svg>`;
}

/**
 * @param {View} view
 * @param {string} id
 */
function worst(view, id) {
  const alarm = openAlarms(view.alarms, id)[0];
  if (alarm === undefined) return 'none';
  return `${mark(alarm.priority, alarm.state === 'unacknowledged')} ${esc(alarm.title)}`;
}

/** The state in words: what the agent says, or that nobody knows.
 * @param {View} view
 * @param {string} id
 */
function stateWord(view, id) {
  const { kind } = condition(view, id);
  if (kind === 'waiting') return unheard(view, id) ? 'not known' : 'waiting';
  if (kind === 'lost') return 'not known';
  if (kind === 'stale') return 'last known';
  const { state } = shownNow(view, id);
  return state === 'unknown' ? 'not known' : state;
}

/** @param {View} view */
export function plant(view) {
  const ip = view.system === 'ip';
  const ratio = ip ? 'unit.kw_per_ton' : 'unit.cop';
  const has = (/** @type {string} */ name) =>
    view.site.chillers.some((c) => condition(view, c.id).kind === 'waiting' || figureOf(view, c.id, name) !== null);
  const rows = view.site.chillers.map((chiller) => {
    const { id } = chiller;
    const figure = (/** @type {string} */ name) => span(figureOf(view, id, name), view);
    const on = id === view.chosen && view.page === 'now';
    return (
      `<tr class="${on ? 'on' : ''}"><th scope="row"><a id="row-${esc(id)}" href="${address(view, nowPath(id))}"${on ? ' aria-current="true"' : ''}>${esc(id)}</a></th>` +
      `<td class="state">${esc(stateWord(view, id))}</td><td class="n cap">${figure('unit.capacity')}</td><td class="wide w2">${load(view, chiller)}</td>` +
      `<td class="n wide w2">${figure('unit.power')}</td><td class="n ppt">${figure(ratio)}</td>` +
      `<td class="n wide w2">${figure('main_compressor.lift')}</td>` +
      `${has('economizer.power_saved') ? `<td class="n wide">${saves(view, id)}</td>` : ''}` +
      `<td class="wide w2 sp">${spark(view, id)}</td><td class="al">${worst(view, id)}</td></tr>`
    );
  });
  const head = (/** @type {string} */ cls, /** @type {string} */ words) =>
    `<th scope="col" class="${cls}">${words}</th>`;
  return (
    '<table class="glance"><caption class="hide">The plant at a glance, latest minute</caption><thead><tr><td></td>' +
    head('', 'state') +
    head('n', 'capacity') +
    head('w2', 'load') +
    head('n w2', 'power') +
    head('n', ip ? 'power per ton' : 'cooling per power') +
    head('n w2', 'lift') +
    (has('economizer.power_saved') ? head('n', 'economizer saves') : '') +
    head('w2 sp', 'power per ton, last hour') +
    head('', 'worst alarm') +
    `</tr></thead><tbody>${rows.join('')}${rows.length > 1 ? total(view, has('economizer.power_saved')) : ''}</tbody></table>`
  );
}

/**
 * A figure of all machines together, as the agent gives it.
 * @param {View} view
 * @param {string} name
 * @returns {Figure}
 */
function together(view, name) {
  const { time, values, uncertainty, quality } = view.plant;
  const value = values[name] ?? null;
  const doubt = quality[name];
  return {
    name,
    chiller: 'plant',
    value,
    unit: view.site.catalogue[name]?.unit ?? '',
    uncertainty: uncertainty[name] ?? null,
    quality: doubt?.quality ?? (value === null ? 'bad' : 'good'),
    reason: doubt?.reason ?? null,
    time,
    last: time !== null && (view.clock - Date.parse(time)) / 1000 > overdue(view.site.interval_s),
    off: value === null && doubt?.reason === 'no machine runs',
    waiting: time === null,
  };
}

/**
 * All machines together. A sum that lacks a machine names it in place of a number.
 * @param {View} view
 * @param {boolean} saves
 */
function total(view, saves) {
  const { running, chillers, unknown } = view.plant;
  const figure = (/** @type {string} */ name) => totalSpan(view, together(view, name));
  const share = together(view, 'unit.load_fraction');
  const some = running + unknown.length === chillers ? `${running} running` : `${running} of ${chillers} running`;
  const all = running === 0 && unknown.length === 0 ? 'none running' : some;
  const state = share.waiting ? 'waiting' : share.last ? 'last known' : all;
  const silent = unknown.length === 0 || share.waiting || share.last ? '' : `, ${unknown.join(', ')} not known`;
  const cell = (/** @type {string} */ cls, /** @type {string} */ body) => `<td class="${cls}">${body}</td>`;
  return (
    `<tr class="plant"><th scope="row">Plant</th>${cell('state', esc(state + silent))}${cell('n cap', figure('unit.capacity'))}` +
    cell('wide w2', share.value === null ? '' : bar(share.value, share.last)) +
    cell('n wide w2', figure('unit.power')) +
    cell('n ppt', figure(view.system === 'ip' ? 'unit.kw_per_ton' : 'unit.cop')) +
    cell('n wide w2', '') +
    (saves ? cell('n wide', figure('economizer.power_saved')) : '') +
    `${cell('wide w2 sp', '')}${cell('al', '')}</tr>`
  );
}

/**
 * @param {View} view
 * @param {Figure} figure
 */
function totalSpan(view, figure) {
  if (figure.value !== null || figure.waiting || figure.off || figure.reason === null) return span(figure, view);
  const [short = ''] = figure.reason.split(':');
  return `<span class="fig" ${dataOf(figure)} title="${esc(figure.reason)}"><span class="word">${esc(short)}</span></span>`;
}

/**
 * @param {View} view
 * @param {string} id
 */
function saves(view, id) {
  if (economizerOf(view, id) === 'off') return '<b>off</b>';
  const figure = figureOf(view, id, 'economizer.power_saved');
  return figure === null ? '' : span(figure, view);
}
