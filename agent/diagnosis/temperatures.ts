/** Temperatures and pressures of a machine against each other. Windows: common practice, no source. */
import type { PointName } from '../points/dictionary.ts';
import { difference, type Facts, measured, ratio, type Strain, saturated, temperature, type Window } from './strain.ts';

/** Temperatures of a running machine, degC. */
const RUNNING_TEMPERATURES: Readonly<Record<PointName, Window>> = {
  'chilled_water.entering_temperature': [-5, 30, 2],
  'chilled_water.leaving_temperature': [-8, 25, 2],
  'condenser_water.entering_temperature': [5, 40, 2],
  'condenser_water.leaving_temperature': [8, 50, 2],
  'condenser.liquid_temperature': [5, 55, 2],
  'flash_tank.temperature': [-5, 45, 2],
  'main_compressor.suction_temperature': [-12, 30, 2],
  'main_compressor.discharge_temperature': [10, 100, 3],
  'economizer_compressor.suction_temperature': [-10, 50, 3],
  'economizer_compressor.discharge_temperature': [5, 110, 3],
};
/** At any time, degC: what the dictionary's range lets through and no machine room or weather shows. */
const WEATHER: Readonly<Record<PointName, Window>> = {
  'outdoor.temperature': [-40, 50, 2],
  'outdoor.wet_bulb_temperature': [-40, 35, 2],
};

/** At any time. */
export function anyTimeTemperatures(facts: Facts): (Strain | null)[] {
  const weather = Object.entries(WEATHER).map(([name, window]) => temperature(facts, name, window));
  return [...weather, wetBulb(facts), tankSaturation(facts)];
}

/** Of a running machine. */
export function runningTemperatures(facts: Facts): (Strain | null)[] {
  const own = Object.entries(RUNNING_TEMPERATURES).map(([name, window]) => temperature(facts, name, window));
  return [...own, ...waters(facts), ...pressures(facts), ...gas(facts)];
}

function wetBulb(facts: Facts): Strain | null {
  const pair = [measured('outdoor.temperature'), measured('outdoor.wet_bulb_temperature')] as const;
  return difference(facts, pair, [-1, 45, 0.7], 'a wet bulb is never the warmer');
}

function tankSaturation(facts: Facts): Strain | null {
  const pair = [saturated('flash_tank'), measured('flash_tank.temperature')] as const;
  // Behind a stop the well lags the pressure.
  const window: Window = facts.running ? [-1.2, 1.2, 0.6] : [-12, 12, 2];
  return difference(facts, pair, window, 'liquid and vapour of the tank are saturated');
}

function waters(facts: Facts): (Strain | null)[] {
  const [chilledIn, chilledOut] = ['entering', 'leaving'].map((end) => measured(`chilled_water.${end}_temperature`));
  const [towerIn, towerOut] = ['entering', 'leaving'].map((end) => measured(`condenser_water.${end}_temperature`));
  if (!chilledIn || !chilledOut || !towerIn || !towerOut) return [];
  return [
    difference(facts, [chilledIn, chilledOut], [0, 16, 0.25], 'a running chiller cools it by 1 to 10 K'),
    difference(facts, [towerOut, towerIn], [0, 16, 0.25], 'a running chiller warms it by 1 to 10 K'),
    difference(facts, [towerIn, chilledOut], [1, 45, 2], 'condenser water is the warmer'),
    difference(facts, [towerOut, chilledIn], [1, 50, 2], 'condenser water is the warmer'),
  ];
}

function pressures(facts: Facts): (Strain | null)[] {
  const liquid = measured('condenser.liquid_temperature');
  const [evaporator, condenser] = [saturated('evaporator'), saturated('condenser')];
  return [
    difference(
      facts,
      [measured('chilled_water.leaving_temperature'), evaporator],
      [0, 8, 0.8, 0.3],
      'refrigerant in the evaporator is up to a few kelvin colder than the water it cools',
    ),
    difference(
      facts,
      [condenser, measured('condenser_water.leaving_temperature')],
      [0, 8, 0.8, 0.3],
      'refrigerant in the condenser is up to a few kelvin warmer than the water that cools it',
    ),
    difference(facts, [condenser, liquid], [-0.5, 11, 0.8], 'liquid leaves the condenser subcooled by 0 to 10 K'),
    difference(
      facts,
      [liquid, measured('condenser_water.entering_temperature')],
      [-0.5, 25, 1],
      'liquid is never colder than the water that cools it',
    ),
    ratio(facts, ['condenser.pressure', 'evaporator.pressure'], [1.15, 9, 0.05]),
    ratio(facts, ['flash_tank.pressure', 'evaporator.pressure'], [1.02, 5, 0.03]),
    ratio(facts, ['condenser.pressure', 'flash_tank.pressure'], [1.02, 5, 0.03]),
  ];
}

function gas(facts: Facts): (Strain | null)[] {
  const suction = 'a suction gas is saturated or a few kelvin superheated';
  const discharge = 'a discharge gas is hotter than saturation at the condenser';
  const main = [
    difference(facts, [measured('main_compressor.suction_temperature'), saturated('evaporator')], [-1, 7, 1], suction),
    difference(
      facts,
      [measured('main_compressor.discharge_temperature'), saturated('condenser')],
      [-1.5, 40, 1.5],
      discharge,
    ),
  ];
  if (!economizerRuns(facts)) return main;
  return [
    ...main,
    difference(
      facts,
      [measured('economizer_compressor.suction_temperature'), saturated('flash_tank')],
      [-1.5, 8, 1],
      suction,
    ),
    difference(
      facts,
      [measured('economizer_compressor.discharge_temperature'), saturated('condenser')],
      [-2, 50, 2],
      discharge,
    ),
  ];
}

export function economizerRuns(facts: Pick<Facts, 'value'>): boolean {
  const running = facts.value('economizer_compressor.running');
  return running !== null && running >= 0.5;
}
