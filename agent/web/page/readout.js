/**
 * One state of the circuit in a line of words and figures, and what a leg carries. Pure.
 * @import { View } from '../page-types.ts'
 * @import { Machine } from './circuit.js'
 */
import { numbersOf, stateWords } from './circuit.js';
import { chillerOf, condition, resting, shownNow } from './condition.js';
import { figureOf, span } from './figures.js';
import { esc, num } from './text.js';
import { write } from './units.js';

/**
 * Numbers of the states that can be walked through.
 * @param {View} view
 * @param {string} id
 */
export function walk(view, id) {
  const now = shownNow(view, id);
  if (condition(view, id).kind === 'waiting') return [];
  const chiller = chillerOf(view, id);
  return chiller === null ? [] : numbersOf(chiller, now.economizer === 'off', now.states);
}

/**
 * @param {View} view
 * @param {string} id
 * @param {string | null} n number of the state, null for the first choice
 */
export function readout(view, id, n) {
  const numbers = walk(view, id);
  if (numbers.length === 0)
    return condition(view, id).kind === 'waiting'
      ? 'The circuit appears with the first solved minute.'
      : resting(shownNow(view, id))
        ? 'No circuit while the machine does not run.'
        : 'No circuit was solved in this minute.';
  const at = n !== null && numbers.includes(n) ? n : numbers.includes('4') ? '4' : /** @type {string} */ (numbers[0]);
  const state = shownNow(view, id).states[at];
  if (state === undefined) return '';
  const words = stateWords(at, /** @type {Machine} */ (chillerOf(view, id)));
  const { kind } = condition(view, id);
  const last = kind === 'lost' || kind === 'stale';
  const how = { system: view.system, barometer_kpa: view.site.barometer_kpa };
  const spread = (/** @type {readonly string[]} */ names) =>
    names.map((name) => figureOf(view, id, name)?.uncertainty ?? null).find((u) => u !== null) ?? null;
  const one = (/** @type {string} */ kindName, /** @type {number} */ value, /** @type {number | null} */ u) => {
    const text = write(kindName, value, u, how);
    return last
      ? `<b>[${text.value}]</b> ${text.unit}`
      : `<b>${text.value}</b>${text.plus === null ? '' : ` ±${text.plus}`} ${text.unit}`;
  };
  const parts = [
    one('temperature', state.T - 273.15, spread(words.temperature)),
    one('pressure', state.p / 1000, spread([words.pressure])),
    one('enthalpy', state.h / 1000, null),
  ];
  if (state.m !== null) parts.push(one('mass_flow', state.m, null));
  if (state.q !== null && state.q > 0 && state.q < 1) parts.push(`${num(state.q * 100, 1)} % vapour`);
  return `<b>${esc(at)}</b> ${words.where}${last ? ', last known' : ''}: ${parts.join(', ')}`;
}

/** @type {Record<string, readonly [string, string]>} */
const LEGS = {
  evaporator: ['takes up', 'unit.capacity'],
  'main compressor': ['takes', 'main_compressor.power'],
  'economizer compressor': ['takes', 'economizer_compressor.power'],
  'first stage': ['lifts by', 'main_compressor.first_stage_lift'],
  'second stage': ['lifts by', 'main_compressor.second_stage_lift'],
  'condenser valve': ['stands open', 'condenser_valve.position'],
  'tank valve': ['stands open', 'tank_valve.position'],
  'tank vapour': ['carries', 'flash_tank.vapour_mass_flow'],
};

/**
 * @param {View} view
 * @param {string} id
 * @param {string} leg
 */
export function legWords(view, id, leg) {
  if (leg === 'ghost')
    return `<b>circuit ${shownNow(view, id).economizer === 'off' ? 'with' : 'without'} the economizer</b>`;
  const known = LEGS[leg];
  const figure = known === undefined ? null : figureOf(view, id, known[1]);
  return known === undefined || figure === null
    ? `<b>${esc(leg)}</b>`
    : `<b>${esc(leg)}</b> ${known[0]} ${span(figure, view)}`;
}
