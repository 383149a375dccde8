/**
 * Figures of a season as people read them: value and uncertainty cut at the same place, in the site's units. Pure.
 * @import { View } from '../page-types.ts'
 */
import { esc, num } from './text.js';

/** kW of one ton of refrigeration. */
const TON = 3.516852842;

/**
 * @typedef {object} Shown One figure: catalogue value, and how it is written.
 * @property {string} name of the API
 * @property {number | null} value catalogue unit
 * @property {string} unit catalogue unit
 * @property {string} text
 * @property {string} plus uncertainty, empty where there is none
 * @property {string} label unit as people read it
 */

/**
 * Decimal places by the expanded uncertainty: one digit of it, two where it starts with 1 or 2; negative: tens.
 * @param {number} uncertainty
 */
function placesOf(uncertainty) {
  const exponent = Math.floor(Math.log10(uncertainty) + 1e-12);
  return -exponent + (Math.floor(uncertainty / 10 ** exponent + 1e-9) <= 2 ? 1 : 0);
}

/**
 * @param {number | null} value as shown
 * @param {number | null} uncertainty as shown
 * @param {number} places most decimal places
 * @param {boolean} [sign] a plus before what is above zero
 * @returns {{ text: string, plus: string }}
 */
export function cut(value, uncertainty, places, sign = false) {
  if (value === null || !Number.isFinite(value)) return { text: '', plus: '' };
  const known = uncertainty !== null && uncertainty > 0 && Number.isFinite(uncertainty);
  const at = known ? Math.min(places, placesOf(uncertainty)) : places;
  const step = 10 ** -at;
  const before = sign && Number((value / step).toFixed(0)) > 0 ? '+' : '';
  const plus = known ? num(Math.max(step, Math.ceil(uncertainty / step - 1e-9) * step), at) : '';
  return { text: before + num(value, at), plus };
}

/**
 * Energy per cooling: kW/ton, or what it is in SI, cooling per power.
 * @param {View} view
 * @param {string} name
 * @param {number | null} value kW/ton
 * @param {number | null} uncertainty
 * @returns {Shown}
 */
export function perTon(view, name, value, uncertainty) {
  const base = { name, value, unit: 'kw_per_ton' };
  if (view.system === 'ip' || value === null || !(value > 0))
    return { ...base, ...cut(value, uncertainty, 3), label: view.system === 'ip' ? 'kW/ton' : 'COP' };
  const cop = TON / value;
  return { ...base, ...cut(cop, uncertainty === null ? null : (cop * uncertainty) / value, 2), label: 'COP' };
}

/** @type {readonly (readonly [number, string, string])[]} */
const LARGE = [
  [1e6, 'G', 'million '],
  [1e4, 'M', 'thousand '],
  [0, 'k', ''],
];

/**
 * @param {number | null} most
 * @returns {{ factor: number, prefix: string, words: string }}
 */
function scaled(most) {
  const [, prefix = 'k', words = ''] = LARGE.find(([from]) => Math.abs(most ?? 0) >= from) ?? [];
  return { factor: prefix === 'G' ? 1e-6 : prefix === 'M' ? 1e-3 : 1, prefix, words };
}

/**
 * @param {string} name
 * @param {number | null} kwh
 * @param {number | null} uncertainty
 * @param {{ most?: number | null, sign?: boolean }} [how] `most`: greatest of a column that shares a unit
 * @returns {Shown}
 */
export function energy(name, kwh, uncertainty, { most = kwh, sign = false } = {}) {
  const { factor, prefix } = scaled(most);
  const places = prefix === 'G' ? 2 : prefix === 'k' && Math.abs(kwh ?? 0) >= 100 ? 0 : 1;
  return {
    name,
    value: kwh,
    unit: 'kWh',
    ...cut(kwh === null ? null : kwh * factor, uncertainty === null ? null : uncertainty * factor, places, sign),
    label: `${prefix}Wh`,
  };
}

/**
 * @param {View} view
 * @param {string} name
 * @param {number | null} tons ton-hours
 * @param {number | null} uncertainty
 * @param {number | null} [most]
 * @returns {Shown}
 */
export function cooling(view, name, tons, uncertainty, most = tons) {
  const si = view.system === 'si';
  const unit = si ? TON : 1;
  const { factor, prefix, words } = scaled(most === null ? null : most * unit);
  const k = unit * factor;
  return {
    name,
    value: tons,
    unit: 'ton_hours',
    ...cut(tons === null ? null : tons * k, uncertainty === null ? null : uncertainty * k, prefix === 'G' ? 2 : 1),
    label: si ? `${prefix}Wh of cooling` : `${words}ton-hours`,
  };
}

/**
 * @param {View} view
 * @param {string} name
 * @param {number | null} amount
 * @param {number | null} uncertainty
 * @param {boolean} [sign]
 * @returns {Shown}
 */
export function money(view, name, amount, uncertainty, sign = false) {
  const currency = view.season?.tariff?.currency ?? '';
  const places = amount === 0 ? 0 : 2;
  return { name, value: amount, unit: currency, ...cut(amount, uncertainty, places, sign), label: currency };
}

/**
 * @param {string} name
 * @param {number | null} share of 1
 * @param {number | null} uncertainty
 * @param {boolean} [sign]
 * @returns {Shown}
 */
export function percent(name, share, uncertainty, sign = false) {
  return {
    name,
    value: share,
    unit: '1',
    ...cut(share === null ? null : 100 * share, uncertainty === null ? null : 100 * uncertainty, 1, sign),
    label: '%',
  };
}

/**
 * Attributes that mark an element as a figure.
 * @param {View} view
 * @param {Shown} shown
 * @param {string} who
 */
export function dataOf(view, { name, value, unit }, who) {
  const quality = value === null ? 'bad' : 'good';
  return (
    `data-metric="season.${esc(name)}" data-chiller="${esc(who)}" data-value="${value ?? ''}" data-unit="${esc(unit)}"` +
    ` data-quality="${quality}" data-time="${esc(view.season?.to ?? '')}"`
  );
}

/**
 * A figure in a line of text.
 * @param {View} view
 * @param {Shown} shown
 * @param {{ who?: string, unit?: boolean, before?: boolean, missing?: string }} [how] `before`: the unit goes first
 */
export function figure(
  view,
  shown,
  { who = view.season?.who ?? '', unit = true, before = false, missing = 'none' } = {},
) {
  const open = `<span class="fig" ${dataOf(view, shown, who)}>`;
  if (shown.text === '') return `${open}<span class="word">${esc(missing)}</span></span>`;
  const plus = shown.plus === '' ? '' : `<span class="u"> ±${shown.plus}</span>`;
  const label = unit && shown.label !== '' ? esc(shown.label) : '';
  if (before && label !== '')
    return `${open}<span class="unit">${label} </span><span class="v">${shown.text}</span>${plus}</span>`;
  return `${open}<span class="v">${shown.text}</span>${plus}${label === '' ? '' : `<span class="unit"> ${label}</span>`}</span>`;
}

/**
 * A figure as a cell of a table, without its unit.
 * @param {View} view
 * @param {Shown} shown
 * @param {{ who?: string, cls?: string, missing?: string }} [how]
 */
export function cell(view, shown, { who = view.season?.who ?? '', cls = '', missing = '' } = {}) {
  const body =
    shown.text === ''
      ? `<i>${esc(missing)}</i>`
      : `<b>${shown.text}</b>${shown.plus === '' ? '' : ` <i>±${shown.plus}</i>`}`;
  return `<td${cls === '' ? '' : ` class="${cls}"`} ${dataOf(view, shown, who)}>${body}</td>`;
}

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();

/**
 * A date at the site: `14 Jul 2026`.
 * @param {number} time ms
 * @param {string} zone
 * @param {'day' | 'month' | 'long' | 'short' | 'hour'} [form]
 */
export function dateText(time, zone, form = 'day') {
  const key = `${zone} ${form}`;
  let format = formats.get(key);
  if (format === undefined) {
    /** @type {Record<string, Intl.DateTimeFormatOptions>} */
    const forms = {
      day: { day: 'numeric', month: 'short', year: 'numeric' },
      long: { day: 'numeric', month: 'long', year: 'numeric' },
      month: { month: 'short', year: 'numeric' },
      short: { month: 'short' },
      hour: { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' },
    };
    format = new Intl.DateTimeFormat('en-GB', { ...forms[form], timeZone: zone });
    formats.set(key, format);
  }
  return format.format(time);
}
