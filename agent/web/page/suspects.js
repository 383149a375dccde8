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
  return value === null ? '' : ` ${value}${plus === null ? '' : ` ± ${plus}`} ${unit}`.trimEnd();
}

/**
 * Title and sentences of the notice; null while nobody stands accused.
 * @param {View} view
 * @returns {{ title: string, words: readonly string[] } | null}
 */
export function suspectWords(view) {
  const found = reported(view, view.chosen).reconciliation;
  const [first, ...more] = found?.suspects.flat() ?? [];
  if (found === null || first === undefined) return null;
  const start = timeOf(found.since);
  const since = start === null ? '' : ` Since ${sinceText(start, view.clock, view.site.time_zone)}.`;
  if (more.length === 0) {
    const by = size(view, first);
    return {
      title: `${plain(first).replace(/./, (letter) => letter.toUpperCase())} does not fit the other sensors`,
      words: [
        by && `By the others it is off by${by}.`,
        `Figures are worked out without it. Compare it with a calibrated instrument.${since}`,
      ],
    };
  }
  const order = found.suspects.length > 1 ? ' in this order' : '';
  return {
    title: 'Sensors contradict each other',
    words: [
      'One of these is off by so much, which one cannot be told:',
      ...[first, ...more].map((name) => plain(name) + size(view, name)),
      `What leans on them is marked uncertain. Compare them with calibrated instruments${order}.${since}`,
    ],
  };
}
