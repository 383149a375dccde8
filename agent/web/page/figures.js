/**
 * One figure: looked up by its metric or point name, and written as HTML or as runs of SVG text. Every figure carries
 * its name, chiller, value in catalogue units, unit, quality and time as data attributes. Pure.
 * @import { Figure, Run, View } from '../page-types.ts'
 */
import { staged } from './circuit.js';
import { chillerOf, condition, economizerOf, resting, shownNow } from './condition.js';
import { esc } from './text.js';
import { kindOf, label, write } from './units.js';

/** What a machine without economizer does not have. */
const TANK = /^(economizer|economizer_compressor|subcooling|flash_tank(_2)?|tank_valve(_2)?)\./;

/** What one machine of two stages does not have, and what only it has; neither has a second tank. */
const SECOND_MACHINE = /^economizer_compressor\.|^subcooling\.economizer_power_avoided$|^(flash_tank|tank_valve)_2\./;
const STAGES = /_stage_|^(flash_tank|tank_valve)_2\./;

/** Rows that are named beside a reason that they share; more than that carry its mark, which is enough. */
const NAMES_MOST = 5;

const DOTS = '· · ·';

/**
 * Whether the figure is one of a part that this machine does not have.
 * @param {View} view
 * @param {string} chiller
 * @param {string} name
 */
export function lacks(view, chiller, name) {
  if (shownNow(view, chiller).economizer === 'none' && TANK.test(name)) return true;
  const machine = chillerOf(view, chiller);
  if (machine?.circuit) return new RegExp(machine.circuit.hides).test(name);
  return (staged(machine) ? SECOND_MACHINE : STAGES).test(name);
}

/**
 * Looks a figure up among metrics, then points. Null where the agent has neither, so that a table leaves the row out.
 * @param {View} view
 * @param {string} chiller
 * @param {string} name
 * @returns {Figure | null}
 */
export function figureOf(view, chiller, name) {
  const now = shownNow(view, chiller);
  const { kind } = condition(view, chiller);
  const last = kind === 'lost' || kind === 'stale';
  const off =
    economizerOf(view, chiller) === 'off' &&
    /^(economizer|economizer_compressor|subcooling)\.|^flash_tank\.(flash|vapour)|_stage_/.test(name);
  const base = { name, chiller, time: now.time, last, off, waiting: kind === 'waiting' };
  if (lacks(view, chiller, name)) return null;
  const unit = view.site.catalogue[name]?.unit;
  const point = now.points[name];
  if (base.waiting)
    return {
      ...base,
      value: null,
      unit: unit ?? point?.unit ?? '',
      uncertainty: null,
      quality: 'bad',
      reason: 'not solved yet',
    };
  if (Object.hasOwn(now.values, name)) {
    const value = now.values[name] ?? null;
    const doubt = now.quality[name];
    return {
      ...base,
      value,
      unit: unit ?? '',
      uncertainty: now.uncertainty[name] ?? null,
      quality: doubt?.quality ?? (value === null ? 'bad' : 'good'),
      reason: doubt?.reason ?? (value === null ? 'no value this minute' : null),
      off: value === null && (off || (resting(now) && doubt?.reason === `the machine is ${now.state}`)),
    };
  }
  if (point !== undefined) {
    const { value, uncertainty, quality, reason } = point;
    return { ...base, value, unit: point.unit, uncertainty, quality, reason, off: off && value === null };
  }
  return null;
}

/**
 * @param {Figure} figure
 * @param {View} view
 */
export function written(figure, view) {
  const kind = kindOf(figure.name, figure.unit);
  return write(kind, figure.value, figure.uncertainty, {
    system: view.system,
    barometer_kpa: view.site.barometer_kpa,
    unit: figure.unit,
  });
}

/**
 * The unit as shown, also where the value is missing.
 * @param {Figure} figure
 * @param {View} view
 */
export function unitText(figure, view) {
  return figure.value === null ? label(kindOf(figure.name, figure.unit), view.system) : written(figure, view).unit;
}

/**
 * @param {Figure} figure
 */
export function dataOf(figure) {
  const { name, chiller, value, unit, quality, time, last } = figure;
  return (
    `data-metric="${esc(name)}" data-chiller="${esc(chiller)}" data-value="${value ?? ''}" data-unit="${esc(unit)}"` +
    ` data-quality="${quality}" data-time="${esc(time ?? '')}"${last ? ' data-last' : ''}`
  );
}

/**
 * What stands for a missing value, in words.
 * @param {Figure} figure
 */
function missingHtml(figure) {
  if (figure.waiting) return `<span class="v wait">${DOTS}</span>`;
  if (figure.off) return '<span class="word still">off</span>';
  return '<span class="blank"></span><span class="word"> bad</span>';
}

/**
 * The quality in words, for those who do not see it.
 * @param {Figure} figure
 */
function spoken(figure) {
  if (figure.last) return '<span class="hide"> last known</span>';
  if (figure.quality === 'uncertain') return `<span class="hide"> uncertain, ${esc(figure.reason ?? '')}</span>`;
  if (figure.value === null && !figure.off && !figure.waiting)
    return `<span class="hide"> ${esc(figure.reason ?? 'no value')}</span>`;
  return '';
}

/**
 * A figure in a line of text or a table of the plant.
 * @param {Figure | null} figure
 * @param {View} view
 * @param {{ unit?: boolean, plus?: boolean }} [what]
 */
export function span(figure, view, { unit = true, plus = true } = {}) {
  if (figure === null) return '<span class="word">not measured</span>';
  const text = written(figure, view);
  const after = unit ? unitText(figure, view) : '';
  const tail = after === '' || figure.off ? '' : `<span class="unit"> ${esc(after)}</span>`;
  const title = figure.reason !== null && figure.quality !== 'good' ? ` title="${esc(figure.reason)}"` : '';
  const open = `<span class="fig" ${dataOf(figure)}${title}>`;
  if (text.value === null) return `${open}${missingHtml(figure)}${spoken(figure)}${tail}</span>`;
  const spread = text.plus !== null && plus && !figure.last ? `<span class="u"> ±${text.plus}</span>` : '';
  return `${open}<span class="v">${text.value}</span>${spoken(figure)}${spread}${tail}</span>`;
}

/**
 * A figure as a cell of a table of the sheet: decimals stand in line.
 * @param {Figure | null} figure
 * @param {View} view
 */
export function cell(figure, view) {
  if (figure === null) return '<td></td>';
  const text = written(figure, view);
  const open = `<td class="f" ${dataOf(figure)}><div class="c">`;
  if (text.value === null) {
    const word = figure.waiting
      ? `<span class="int wait">${DOTS}</span>`
      : figure.off
        ? '<span class="int"></span><span class="word">off</span>'
        : '<span class="int"><span class="blank"></span></span><span class="word">bad</span>';
    return `${open}${word}${spoken(figure)}</div></td>`;
  }
  const [whole = '', part] = text.value.split('.');
  const mark = figure.last ? ']' : figure.quality === 'uncertain' ? '?' : '';
  const before = figure.last ? '[' : '';
  const d = (/** @type {string} */ t) => (t === '' ? '' : `<span class="d">${t}</span>`);
  const spread = text.plus !== null && !figure.last ? `±${text.plus}` : '';
  return (
    `${open}<span class="int">${before}${d(whole)}</span><span class="frac">${d(part ? `.${part}` : '')}${mark}</span>` +
    `<span class="u">${spread}</span>${spoken(figure)}</div></td>`
  );
}

/**
 * A figure as runs of SVG text: value bold, uncertainty and unit light.
 * @param {Figure | null} figure
 * @param {View} view
 * @param {{ before?: string, plus?: boolean, unit?: boolean }} [what]
 * @returns {Run[]}
 */
export function runs(figure, view, { before = '', plus = true, unit = true } = {}) {
  /** @type {Run[]} */
  const out = before === '' ? [] : [{ t: `${before} `, c: 'dim' }];
  if (figure === null) return [...out, { t: 'not measured', c: 'dim' }];
  const text = written(figure, view);
  const data = dataOf(figure);
  if (text.value === null) {
    const word = figure.waiting ? DOTS : figure.off ? 'off' : 'bad';
    return [...out, { t: word, c: figure.off ? 'b' : 'dim', data }];
  }
  if (figure.last) out.push({ t: `[${text.value}]`, c: 'b', data });
  else {
    out.push({ t: text.value, c: 'b', data });
    if (figure.quality === 'uncertain') out.push({ t: '?', c: 'b' });
    if (plus && text.plus !== null) out.push({ t: ` ±${text.plus}`, c: 'dim' });
  }
  if (unit && text.unit !== '') out.push({ t: ` ${text.unit}`, c: 'dim' });
  return out;
}

/**
 * The reasons behind doubtful and missing figures, as rows under their table.
 * @param {readonly (readonly [string, Figure | null])[]} named label and figure
 * @param {number} columns
 */
export function reasonRows(named, columns) {
  /** @type {Map<string, string[]>} */
  const said = new Map();
  for (const [name, figure] of named) {
    if (figure === null || figure.waiting || figure.off || figure.quality === 'good' || figure.reason === null)
      continue;
    const key = `${figure.quality}\n${figure.reason}`;
    const names = said.get(key) ?? [];
    if (!names.includes(name)) names.push(name);
    said.set(key, names);
  }
  return [...said]
    .map(([key, names]) => {
      const [quality = '', reason = ''] = key.split('\n');
      const which = names.length > NAMES_MOST ? 'where marked' : names.join(', ');
      return `<tr class="why"><td colspan="${columns}">${esc(`${quality}, ${which}: ${reason}`)}</td></tr>`;
    })
    .join('');
}
