/**
 * What may be shown as the present: live, waiting for the first minute, controller lost, or the agent itself silent.
 * Pure.
 * @import { Condition, View } from '../page-types.ts'
 * @import { ChillerFigure, Now } from '../types.ts'
 */
import { timeOf } from './text.js';

/**
 * Seconds after which a minute is overdue: a quarter of the interval, at least 15 s (75 s for one minute).
 * @param {number} interval_s
 */
export function overdue(interval_s) {
  return interval_s + Math.max(15, interval_s / 4);
}

/** @type {Now} */
const NOTHING = {
  chiller: '',
  time: null,
  sequence: null,
  interval_s: 60,
  state: 'unknown',
  state_since: null,
  economizer: 'unknown',
  values: {},
  uncertainty: {},
  random_share: {},
  quality: {},
  points: {},
  states: {},
  ghost: {},
  reconciliation: null,
  link: { state: 'connecting', since: '1970-01-01T00:00:00Z', reason: null },
  points_read: 0,
  points_mapped: 0,
  alarms: [],
};

/**
 * The newest the agent said of a chiller.
 * @param {View} view
 * @param {string} id
 * @returns {Now}
 */
export function reported(view, id) {
  return view.nows[id] ?? { ...NOTHING, chiller: id };
}

/**
 * The minute whose figures are shown: the newest, or where its controller is lost the last one that it answered.
 * @param {View} view
 * @param {string} id
 * @returns {Now}
 */
export function shownNow(view, id) {
  const now = reported(view, id);
  return now.link.state === 'lost' ? (view.last[id] ?? now) : now;
}

/**
 * Whether its controller is silent and nothing is known of it from before: minutes without a figure are no minutes to
 * show.
 * @param {View} view
 * @param {string} id
 */
export function unheard(view, id) {
  const now = reported(view, id);
  return now.link.state === 'lost' && (now.time === null || view.last[id] === undefined);
}

/**
 * @param {View} view
 * @param {string} id
 * @returns {Condition}
 */
export function condition(view, id) {
  const now = reported(view, id);
  const newest = timeOf(now.time);
  const time = timeOf(shownNow(view, id).time);
  const age_s = time === null ? 0 : Math.max(0, (view.clock - time) / 1000);
  if (newest === null || unheard(view, id)) return { kind: 'waiting', time: null, age_s: 0 };
  if ((view.clock - newest) / 1000 > overdue(now.interval_s)) return { kind: 'stale', time, age_s };
  if (now.link.state === 'lost') return { kind: 'lost', time, age_s };
  return { kind: 'live', time, age_s };
}

/**
 * @param {View} view
 * @param {string} id
 * @returns {ChillerFigure | null}
 */
export function chillerOf(view, id) {
  return view.site.chillers.find((chiller) => chiller.id === id) ?? null;
}

/**
 * Whether the shown minute is of a machine that does not run: no circuit is drawn as if it did, and what belongs to
 * its running is off, not bad. It has stopped already where its state is stopping.
 * @param {Now} now
 */
export function resting(now) {
  return now.state === 'off' || now.state === 'standstill' || now.state === 'stopping';
}

/**
 * The economizer as it is to be spoken of: of a machine at rest nothing is on, off or missed.
 * @param {View} view
 * @param {string} id
 * @returns {Now['economizer']}
 */
export function economizerOf(view, id) {
  const now = shownNow(view, id);
  if (!resting(now)) return now.economizer;
  return chillerOf(view, id)?.arrangement === 'simple' ? 'none' : 'unknown';
}
