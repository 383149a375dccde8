/** Text helpers shared by every renderer. Pure. */

const ESCAPES = /** @type {Record<string, string>} */ ({
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
});

/**
 * Text made safe for HTML and SVG, in content and in quoted attributes.
 * @param {unknown} text
 */
export function esc(text) {
  return String(text).replace(/[&<>"']/g, (sign) => ESCAPES[sign] ?? sign);
}

/**
 * A coordinate at a tenth of a pixel.
 * @param {number} x
 */
export function r1(x) {
  return Math.round(x * 10) / 10;
}

/**
 * A number at a decimal place with a true minus sign and thousands in groups; negative places cut tens and hundreds.
 * @param {number} x
 * @param {number} places
 */
export function num(x, places) {
  const step = 10 ** -places;
  const cut = places < 0 ? Math.round(x / step) * step : x;
  const digits = Math.abs(cut).toFixed(Math.max(0, places));
  const [whole = '0', part] = digits.split('.');
  const grouped = whole.replace(/\B(?=(\d{3})+(?!\d))/g, ',');
  return (cut < 0 && Number(digits) !== 0 ? '−' : '') + grouped + (part ? `.${part}` : '');
}

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();

/**
 * Time of day at the site.
 * @param {number} time ms since the epoch
 * @param {string} zone IANA name; UTC where it is not known
 * @param {boolean} [seconds]
 */
export function clockText(time, zone, seconds = false) {
  const key = `${zone} ${seconds}`;
  let format = formats.get(key);
  if (format === undefined) {
    /** @type {Intl.DateTimeFormatOptions} */
    const options = { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' };
    if (seconds) options.second = '2-digit';
    try {
      format = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: zone });
    } catch {
      format = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: 'UTC' });
    }
    formats.set(key, format);
  }
  return format.format(time);
}

/**
 * A date and time of day at the site, the date left out where it is today's.
 * @param {number} time
 * @param {number} clock
 * @param {string} zone
 */
export function sinceText(time, clock, zone) {
  const day = (/** @type {number} */ t) => dayText(t, zone);
  return day(time) === day(clock) ? clockText(time, zone) : `${day(time)} ${clockText(time, zone)}`;
}

/**
 * @param {number} time
 * @param {string} zone
 */
function dayText(time, zone) {
  let format = formats.get(`day ${zone}`);
  if (format === undefined) {
    try {
      format = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', timeZone: zone });
    } catch {
      format = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', timeZone: 'UTC' });
    }
    formats.set(`day ${zone}`, format);
  }
  return format.format(time);
}

/**
 * A length of time in words: `40 s`, `11 minutes`, `2 h 10 min`, `3 days`.
 * @param {number} seconds
 * @param {boolean} [short] `11 min` for `11 minutes`
 */
export function spanText(seconds, short = false) {
  const s = Math.max(0, Math.floor(seconds));
  if (s < 90) return `${s} s`;
  const minutes = Math.floor(s / 60);
  if (minutes < 60) return short ? `${minutes} min` : `${minutes} minute${minutes === 1 ? '' : 's'}`;
  if (minutes < 48 * 60)
    return minutes % 60 === 0 ? `${minutes / 60} h` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
  return `${Math.floor(minutes / 1440)} days`;
}

/**
 * @param {string | null} time RFC 3339
 * @returns {number | null} ms since the epoch
 */
export function timeOf(time) {
  if (time === null) return null;
  const t = Date.parse(time);
  return Number.isNaN(t) ? null : t;
}
