/**
 * What is said of sensors that contradict the others. Pure.
 * @import { View } from '../page-types.ts'
 */
import { reported } from './condition.js';
import { sinceText, timeOf } from './text.js';
import { kindOf, write } from './units.js';

/**
 * A point in plain words: `chilled water flow`. What is assumed instead of measured says so.
 * @param {string} name
 */
function plain(name) {
  const words = name.replace(/[._]/g, ' ');
  return name.startsWith('assumed.') ? `the ${words.replace('assumed ', 'assumed value of ')}` : words;
}

/**
 * @param {View} view
 * @param {string} name
 */
function size(view, name) {
  const off = reported(view, view.chosen).reconciliation?.off[name];
  if (off === undefined) return '';
  const how = { system: view.system, barometer_kpa: view.site.barometer_kpa, unit: off.unit };
  const { value, plus, unit } = write(kindOf('', off.unit), off.value, off.uncertainty, how);
  if (value === null) return '';
  return `off by ${value}${plus === null ? '' : ` ± ${plus}`}${unit === '' ? '' : ` ${unit}`}`;
}

/**
 * Title and sentences of the notice; null while nobody stands accused.
 * @param {View} view
 * @returns {{ title: string, words: readonly string[] } | null}
 */
export function suspectWords(view) {
  const found = reported(view, view.chosen).reconciliation;
  const all = found?.suspects.flat() ?? [];
  const [first = ''] = all;
  if (found === null || all.length === 0) return null;
  const start = timeOf(found.since);
  const since = start === null ? '' : ` Since ${sinceText(start, view.clock, view.site.time_zone)}.`;
  if (all.length === 1) {
    const by = size(view, first);
    const action = `Figures are worked out without it. Compare it with a calibrated instrument.${since}`;
    const name = plain(first);
    return {
      title: `${name.charAt(0).toUpperCase()}${name.slice(1)} does not fit the other sensors`,
      words: [by === '' ? action : `By the others it is ${by}. ${action}`],
    };
  }
  const each = all.map((name) => {
    const by = size(view, name);
    return by === '' ? plain(name) : `${plain(name)} (${by})`;
  });
  return {
    title: 'Sensors contradict each other',
    words: [
      `One of these is off, which one cannot be told: ${each.join(', ')}.`,
      `What leans on them is marked uncertain. Check the first one first.${since}`,
    ],
  };
}
