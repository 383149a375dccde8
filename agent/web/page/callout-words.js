/**
 * A callout packet in words, in the units of the reader: for the page, and for a mail that has only words. Pure.
 * @import { CalloutPacket, CalloutWork } from '../../callout/packet.ts'
 * @import { Cause, Sign } from '../../callout/weigh.ts'
 * @import { UnitSystem } from '../page-types.ts'
 */
import { num, spanText, timeOf } from './text.js';
import { kindOf, write } from './units.js';

/**
 * @typedef {object} Reader Who reads: units, zone, zero of gauge pressures.
 * @property {UnitSystem} system
 * @property {string} time_zone
 * @property {number} barometer_kpa
 */

/** @type {Record<string, string>} */
const NAMES = {
  'unit.kw_per_ton': 'power per ton',
  'unit.cop': 'coefficient of performance',
  'unit.capacity': 'capacity',
  'unit.power': 'power',
  'unit.starts': 'starts',
  'unit.load_fraction': 'load',
};

/**
 * Plain words for a metric or point.
 * @param {string} name
 */
export function plainName(name) {
  return NAMES[name] ?? name.replaceAll('_', ' ').replace('.', ' ');
}

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();

/**
 * Date and time of day at the site.
 * @param {string} time RFC 3339
 * @param {string} zone
 */
export function whenText(time, zone) {
  const at = timeOf(time);
  if (at === null) return time;
  let format = formats.get(zone);
  if (format === undefined) {
    format = new Intl.DateTimeFormat('en-GB', {
      day: 'numeric',
      month: 'short',
      year: 'numeric',
      hour: '2-digit',
      minute: '2-digit',
      hourCycle: 'h23',
      timeZone: zone,
    });
    formats.set(zone, format);
  }
  return format.format(at);
}

/**
 * A value with its expanded uncertainty, if one is given, and unit: `8.3 ±0.9 °F`.
 * @param {Reader} reader
 * @param {string} name metric or point
 * @param {string} unit catalogue unit
 * @param {number | null} value
 * @param {number | null} [uncertainty]
 */
export function amount({ system, barometer_kpa }, name, unit, value, uncertainty = null) {
  // A state is a word or a number of the controller's own; it has no digits to cut.
  if (unit === 'state' && value !== null)
    return /(^|[._])running$/.test(name) ? (value === 0 ? 'no' : 'yes') : String(value);
  const text = write(kindOf(name, unit), value, uncertainty, { system, barometer_kpa, unit });
  if (text.value === null) return 'no value';
  return `${text.value}${text.plus === null ? '' : ` ±${text.plus}`}${text.unit === '' ? '' : ` ${text.unit}`}`;
}

/**
 * @param {CalloutPacket} packet
 * @param {UnitSystem} system
 * @returns {Reader}
 */
export function readerOf({ site }, system) {
  return { system, time_zone: site.time_zone, barometer_kpa: site.barometer_kpa };
}

/**
 * What is found, against what.
 * @param {CalloutPacket} packet
 * @param {Reader} reader
 */
export function whatWords({ alarm, how_sure }, reader) {
  const { metric, unit } = alarm;
  if (metric === null || unit === null || how_sure.limit === null)
    return alarm.evidence.map(({ name, found }) => `${plainName(name)}: ${found}`).join('; ');
  const found = amount(reader, metric, unit, how_sure.value, how_sure.uncertainty);
  const limit = amount(reader, metric, unit, how_sure.limit);
  return `${plainName(metric)} ${found}, ${how_sure.side} its limit of ${limit}`;
}

/**
 * How sure that is.
 * @param {CalloutPacket} packet
 */
export function sureWords({ how_sure }) {
  const { verdict, distance, quality, reason } = how_sure;
  const doubt = quality === 'good' ? '' : ` The figure itself is ${quality}: ${reason ?? 'no reason given'}.`;
  if (verdict === 'no limit') return `No limit on a figure: the evidence says it.${doubt}`;
  if (distance === null) return `No uncertainty is known of this figure.${doubt}`;
  const far = `${num(Math.abs(distance), Math.abs(distance) < 10 ? 1 : 0)} standard uncertainties`;
  if (verdict === 'beyond measuring error') return `Beyond its limit by ${far}: more than measuring error.${doubt}`;
  return distance >= 0
    ? `Beyond its limit by only ${far}: measuring error alone could explain it.${doubt}`
    : `Back within its limit by ${far} in this minute.${doubt}`;
}

/**
 * @param {CalloutPacket} packet
 * @param {Reader} reader
 */
export function sinceWords({ alarm, time, made }, reader) {
  const began = alarm.raised ?? time;
  const [from, to] = [timeOf(began), timeOf(made)];
  const zone = reader.time_zone;
  const age =
    from === null || to === null || to - from < 90_000 ? '' : `, ${spanText((to - from) / 1000)} before this packet`;
  const delay = alarm.condition?.on_delay_s;
  const after = delay === undefined || delay === 0 ? '' : ` It had stood for ${spanText(delay)} by then.`;
  return `${whenText(began, zone)} (${zone})${age}.${after}`;
}

/** @type {Record<Cause['says'], string>} */
export const SAYS = { for: 'the figures speak for it', against: 'the figures speak against it', open: '' };

/**
 * What a sign was and is.
 * @param {Sign} sign
 * @param {Reader} reader
 */
export function signWords({ name, unit, now, before }, reader) {
  if (now === null) return 'not measured';
  const is = amount(reader, name, unit, now);
  return before === null ? is : `${is}, was ${amount(reader, name, unit, before)}`;
}

/**
 * @param {CalloutWork} work
 * @param {UnitSystem} system
 */
export function workWords({ kind, text, mass_kg }, system) {
  const mass =
    mass_kg === null ? '' : system === 'ip' ? `, ${num(mass_kg / 0.45359237, 1)} lb` : `, ${num(mass_kg, 1)} kg`;
  return `${kind.replaceAll('_', ' ')}${mass}: ${text}`;
}

/**
 * Time that a person has before the consequence.
 * @param {number | null | undefined} seconds
 */
export function respondWords(seconds) {
  return seconds === null || seconds === undefined ? '' : `within ${spanText(seconds)}`;
}
