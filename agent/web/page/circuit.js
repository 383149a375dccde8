/**
 * The circuit in words: legs and states by arrangement, and which figures belong to them. Pure.
 * @import { LegKind } from './ink.js'
 * @import { AlarmFigure, ChillerFigure, StateFigure } from '../types.ts'
 */

/** @typedef {{ readonly id: string, readonly kind: LegKind, readonly states: readonly string[] }} Leg */

/** @type {(id: string, kind: LegKind, ...states: string[]) => Leg} */
const leg = (id, kind, ...states) => ({ id, kind, states });

/** @typedef {Pick<ChillerFigure, 'arrangement' | 'circuit'>} Machine */
/** @typedef {NonNullable<Machine['circuit']>['words'][string]} StateWords */

/**
 * Legs of the running circuit. Economizer off: no vapour leaves the tank, so its vapour side is not drawn.
 * @param {Machine} machine
 * @param {boolean} off economizer off
 * @param {Readonly<Record<string, StateFigure>>} states
 * @returns {readonly Leg[]}
 */
export function legsOf({ arrangement, circuit }, off, states) {
  const all = circuit?.[off ? 'off' : 'on'] ?? candidates(arrangement, off, states);
  return all.filter((one) => one.states.every((n) => states[n] !== undefined));
}

/**
 * @param {string} arrangement
 * @param {boolean} off
 * @param {Readonly<Record<string, StateFigure>>} states
 * @returns {Leg[]}
 */
function candidates(arrangement, off, states) {
  const end = arrangement === 'interstage' ? '10' : '2';
  const main = leg('main compressor', 'work', '1', end);
  if (arrangement === 'simple' || states['4'] === undefined)
    return [
      leg('condenser', 'heat-out', end, '3'),
      leg('condenser valve', 'throttle1', '3', '6'),
      leg('evaporator', 'heat-in', '6', '1'),
      main,
    ];
  if (off)
    return [
      leg('condenser', 'heat-out', end, '3'),
      leg('condenser valve', 'throttle1', '3', '4'),
      leg('tank valve', 'throttle2', '4', '6'),
      leg('evaporator', 'heat-in', '6', '1'),
      main,
    ];
  if (arrangement === 'interstage')
    return [
      leg('condenser', 'heat-out', '10', '3'),
      leg('condenser valve', 'throttle1', '3', '4'),
      leg('tank liquid', 'split', '4', '5'),
      leg('tank vapour', 'split', '4', '7', '9', '2'),
      leg('tank valve', 'throttle2', '5', '6'),
      leg('evaporator', 'heat-in', '6', '1'),
      leg('first stage', 'work', '1', '2'),
      leg('second stage', 'work', '9', '10'),
    ];
  const hotter = (states['8']?.h ?? 0) > (states['2']?.h ?? 0) ? '8' : '2';
  return [
    leg('condenser', 'heat-out', hotter, '3'),
    leg('condenser valve', 'throttle1', '3', '4'),
    leg('tank liquid', 'split', '4', '5'),
    leg('tank vapour', 'split', '4', '7'),
    leg('tank valve', 'throttle2', '5', '6'),
    leg('evaporator', 'heat-in', '6', '1'),
    main,
    leg('economizer compressor', 'work2', '7', '8'),
  ];
}

/**
 * Whether the main compressor has several stages.
 * @param {Machine | null} machine
 */
export function staged(machine) {
  return machine !== null && (machine.circuit != null || machine.arrangement === 'interstage');
}

/**
 * Number of the gas that enters the condenser from the main compressor.
 * @param {Machine} machine
 */
export function dischargeOf(machine) {
  return staged(machine) ? '10' : '2';
}

/**
 * What an alarm calls a part that the pictures draw in two.
 * @param {string} id of a leg
 */
export function partOf(id) {
  return id.endsWith(' stage') ? 'main compressor' : id;
}

/** @type {Record<string, readonly string[]>} states of the vapour side: gone while no vapour leaves the tank */
const VAPOUR_SIDE = { parallel: ['5', '7', '8'], interstage: ['2', '5', '7', '9'] };
/** Round the circuit where the numbers do not go round it. */
const ROUND = ['1', '2', '9', '10', '3', '4', '5', '6', '7'];

/**
 * States that the machine really has now, in order of their numbers; of two stages in the order of the circuit.
 * @param {Machine} machine
 * @param {boolean} off
 * @param {Readonly<Record<string, StateFigure>>} states
 */
export function numbersOf({ arrangement, circuit }, off, states) {
  if (circuit) {
    const drawn = circuit[off ? 'off' : 'on'].flatMap((one) => one.states);
    return circuit.round.filter((n) => states[n] !== undefined && drawn.includes(n));
  }
  const gone = off ? (VAPOUR_SIDE[arrangement] ?? []) : [];
  const place = (/** @type {string} */ n) => (arrangement === 'interstage' ? ROUND.indexOf(n) : Number(n));
  return Object.keys(states)
    .filter((n) => /^\d+$/.test(n) && !gone.includes(n))
    .sort((a, b) => place(a) - place(b));
}

/** @type {Record<string, StateWords>} */
const STATES = {
  1: {
    where: 'main compressor suction',
    temperature: ['main_compressor.suction_temperature', 'evaporator.saturation_temperature'],
    pressure: 'evaporator.pressure',
  },
  2: {
    where: 'main compressor discharge',
    temperature: ['main_compressor.discharge_temperature'],
    pressure: 'condenser.pressure',
  },
  3: {
    where: 'liquid leaving the condenser',
    temperature: ['condenser.liquid_temperature'],
    pressure: 'condenser.pressure',
  },
  4: {
    where: 'entering the flash tank',
    temperature: ['flash_tank.saturation_temperature'],
    pressure: 'flash_tank.pressure',
  },
  5: {
    where: 'liquid leaving the tank',
    temperature: ['flash_tank.saturation_temperature'],
    pressure: 'flash_tank.pressure',
  },
  6: {
    where: 'entering the evaporator',
    temperature: ['evaporator.saturation_temperature'],
    pressure: 'evaporator.pressure',
  },
  7: {
    where: 'vapour leaving the tank',
    temperature: ['flash_tank.saturation_temperature'],
    pressure: 'flash_tank.pressure',
  },
  8: {
    where: 'economizer compressor discharge',
    temperature: ['economizer_compressor.discharge_temperature'],
    pressure: 'condenser.pressure',
  },
};

/** @type {Record<string, StateWords>} what two stages call otherwise or have more of */
const STAGES = {
  1: {
    where: 'first-stage suction',
    temperature: ['main_compressor.suction_temperature', 'evaporator.saturation_temperature'],
    pressure: 'evaporator.pressure',
  },
  2: { where: 'first-stage discharge', temperature: [], pressure: 'flash_tank.pressure' },
  9: { where: 'second-stage suction, after mixing', temperature: [], pressure: 'flash_tank.pressure' },
  10: {
    where: 'second-stage discharge',
    temperature: ['main_compressor.discharge_temperature'],
    pressure: 'condenser.pressure',
  },
};

/**
 * @param {string} n
 * @param {Machine} machine
 * @returns {StateWords}
 */
export function stateWords(n, { arrangement, circuit }) {
  const stage = circuit?.words[n] ?? (arrangement === 'interstage' ? STAGES[n] : undefined);
  return stage ?? STATES[n] ?? { where: 'state', temperature: [], pressure: '' };
}

/** @type {Record<string, string>} */
const ARRANGEMENTS = {
  simple: 'one compressor, no economizer',
  parallel: 'economizer compressor in parallel',
  interstage: 'two stages, tank vapour to the interstage',
};

/** @param {Machine} machine */
export function arrangementWords({ arrangement, circuit }) {
  return circuit?.about ?? ARRANGEMENTS[arrangement] ?? arrangement;
}

/** @type {Record<string, string>} */
const PARTS = {
  condenser: 'condenser',
  condenser_water: 'condenser',
  evaporator: 'evaporator',
  chilled_water: 'evaporator',
  flash_tank: 'flash tank',
  condenser_valve: 'condenser valve',
  tank_valve: 'tank valve',
  flash_tank_2: 'second flash tank',
  tank_valve_2: 'second tank valve',
  main_compressor: 'main compressor',
  economizer_compressor: 'economizer compressor',
};

/** States of an alarm that are shown as open, in words of ISA-18.2. */
const OPEN = ['unacknowledged', 'latched', 'acknowledged', 'returned to normal'];

/**
 * Alarms of one chiller that are open, worst first.
 * @param {readonly AlarmFigure[]} alarms
 * @param {string} [chiller]
 */
export function openAlarms(alarms, chiller) {
  return alarms
    .filter((a) => OPEN.includes(a.state) && (chiller === undefined || a.chiller === chiller))
    .sort(
      (a, b) =>
        a.priority - b.priority || OPEN.indexOf(a.state) - OPEN.indexOf(b.state) || a.since.localeCompare(b.since),
    );
}

/**
 * The one part of the pictures that the worst active alarm concerns.
 * @param {readonly AlarmFigure[]} alarms
 * @param {string} chiller
 * @returns {{ part: string, priority: number } | null}
 */
export function alarmedPart(alarms, chiller) {
  for (const alarm of openAlarms(alarms, chiller)) {
    if (!alarm.active || alarm.metric === null) continue;
    const part = PARTS[alarm.metric.split('.')[0] ?? ''];
    if (part !== undefined) return { part, priority: alarm.priority };
  }
  return null;
}
