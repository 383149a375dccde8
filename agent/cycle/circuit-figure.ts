/**
 * Circuits that the page draws from data instead of knowing them: arrangements that few machines have, so that the page
 * of all others need not carry them.
 */
import type { ChillerParameters } from './parameters.ts';

/** A line of the circuit in the pictures, and the states along it. */
export interface CircuitLeg {
  readonly id: string;
  readonly kind: 'heat-out' | 'heat-in' | 'throttle1' | 'throttle2' | 'split' | 'work' | 'work2';
  readonly states: readonly string[];
}

/** A state in words, and the figures whose uncertainty is that of its temperature and pressure. */
export interface StateWords {
  readonly where: string;
  readonly temperature: readonly string[];
  readonly pressure: string;
}

/** A circuit that the page draws from data. */
export interface CircuitFigure {
  readonly about: string;
  readonly on: readonly CircuitLeg[];
  /** With the economizer off. */
  readonly off: readonly CircuitLeg[];
  readonly words: Readonly<Record<string, StateWords>>;
  /** State numbers round the circuit. */
  readonly round: readonly string[];
  /** Expression of the figures that this machine does not have. */
  readonly hides: string;
  /** Component whose pressure is that of the economizer. */
  readonly middle: string;
  /** Where that is, in a sentence. */
  readonly where: string;
  /** Term and metric of what boils off in the economizer. */
  readonly flash: readonly [string, string];
  /** Rows of the economizer's table: words and metric. */
  readonly rows: readonly (readonly [string, string])[];
}

const leg = (id: string, kind: CircuitLeg['kind'], ...states: string[]): CircuitLeg => ({ id, kind, states });
const words = (where: string, pressure: string, ...temperature: string[]): StateWords => ({
  where,
  temperature,
  pressure,
});

const END = words('discharge of the last stage', 'condenser.pressure', 'main_compressor.discharge_temperature');
const SUCTION = words(
  'first-stage suction',
  'evaporator.pressure',
  'main_compressor.suction_temperature',
  'evaporator.saturation_temperature',
);
const CONDENSER = leg('condenser', 'heat-out', '10', '3');
const EVAPORATOR = leg('evaporator', 'heat-in', '6', '1');
const WHOLE = leg('main compressor', 'work', '1', '10');

const SUBCOOLER: CircuitFigure = {
  about: 'two stages, a branch of the liquid subcools the rest',
  on: [
    CONDENSER,
    leg('subcooled liquid', 'split', '3', '5'),
    leg('economizer valve', 'throttle1', '3', '4'),
    leg('economizer vapour', 'split', '4', '7', '9', '2'),
    leg('condenser valve', 'throttle2', '5', '6'),
    EVAPORATOR,
    leg('first stage', 'work', '1', '2'),
    leg('second stage', 'work', '9', '10'),
  ],
  off: [CONDENSER, leg('condenser valve', 'throttle1', '3', '6'), EVAPORATOR, WHOLE],
  words: {
    1: SUCTION,
    2: words('first-stage discharge', 'economizer.pressure'),
    4: words('branch entering the subcooler', 'economizer.pressure', 'economizer.saturation_temperature'),
    5: words('liquid leaving the subcooler', 'condenser.pressure', 'economizer.liquid_temperature'),
    7: words('vapour leaving the subcooler', 'economizer.pressure', 'economizer.vapour_temperature'),
    9: words('second-stage suction, after mixing', 'economizer.pressure'),
    10: END,
  },
  round: ['1', '2', '9', '10', '3', '4', '5', '6', '7'],
  hides: '^(economizer_compressor|flash_tank(_2)?|tank_valve(_2)?)\\.|^subcooling\\.|_resolved$|third_stage',
  middle: 'economizer',
  where: 'the subcooler',
  flash: ['Boils off in the subcooler', 'economizer.vapour_fraction'],
  rows: [
    ['boiled off in the subcooler', 'economizer.vapour_fraction'],
    ['vapour of the subcooler', 'economizer.vapour_mass_flow'],
    ['boils off at', 'economizer.saturation_temperature'],
    ['approach of the subcooler', 'economizer.approach'],
    ['liquid cooled by', 'economizer.liquid_cooling'],
  ],
};

const THREE_STAGES: CircuitFigure = {
  about: 'three stages, vapour of two tanks between them',
  on: [
    CONDENSER,
    leg('condenser valve', 'throttle1', '3', '4'),
    leg('tank liquid', 'split', '4', '5'),
    leg('tank vapour', 'split', '4', '7', '9', '15'),
    leg('tank valve', 'throttle2', '5', '11'),
    leg('second tank liquid', 'split', '11', '12'),
    leg('second tank vapour', 'split', '11', '13', '14', '2'),
    leg('second tank valve', 'throttle2', '12', '6'),
    EVAPORATOR,
    leg('first stage', 'work', '1', '2'),
    leg('second stage', 'work', '14', '15'),
    leg('third stage', 'work', '9', '10'),
  ],
  off: [
    CONDENSER,
    leg('condenser valve', 'throttle1', '3', '4'),
    leg('tank valve', 'throttle2', '4', '11'),
    leg('second tank valve', 'throttle2', '11', '6'),
    EVAPORATOR,
    WHOLE,
  ],
  words: {
    1: SUCTION,
    2: words('first-stage discharge', 'flash_tank_2.pressure'),
    9: words('third-stage suction, after mixing', 'flash_tank.pressure'),
    10: END,
    11: words('entering the second tank', 'flash_tank_2.pressure', 'flash_tank_2.saturation_temperature'),
    12: words('liquid leaving the second tank', 'flash_tank_2.pressure', 'flash_tank_2.saturation_temperature'),
    13: words('vapour leaving the second tank', 'flash_tank_2.pressure', 'flash_tank_2.saturation_temperature'),
    14: words('second-stage suction, after mixing', 'flash_tank_2.pressure'),
    15: words('second-stage discharge', 'flash_tank.pressure'),
  },
  round: ['1', '2', '14', '15', '9', '10', '3', '4', '5', '11', '12', '6', '7', '13'],
  hides: '^economizer_compressor\\.|^subcooling\\.',
  middle: 'flash_tank',
  where: 'the first tank',
  flash: ['Flashes in the first tank', 'flash_tank.flash_fraction'],
  rows: [
    ['flash fraction, second tank', 'flash_tank_2.flash_fraction'],
    ['vapour of the second tank', 'flash_tank_2.vapour_mass_flow'],
    ['second tank saturation', 'flash_tank_2.saturation_temperature'],
    ['lift of the third stage', 'main_compressor.third_stage_lift'],
  ],
};

/** Null where the page knows the arrangement by itself. */
export function circuitFigure({
  arrangement,
  stages,
}: Pick<ChillerParameters, 'arrangement' | 'stages'>): CircuitFigure | null {
  if (arrangement === 'subcooler') return SUBCOOLER;
  return arrangement === 'interstage' && stages === 3 ? THREE_STAGES : null;
}
