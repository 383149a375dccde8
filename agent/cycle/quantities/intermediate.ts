/** Pressures between evaporator and condenser, and what the two sides of a subcooler leave with. */
import type { Missing } from '../../base/metric.ts';
import type { State } from '../../refrigerant/types.ts';
import type { EconomizerLevel } from '../arrangements/type.ts';
import type { CycleContext, Quantity } from '../context.ts';

/** K above saturation within which a vapour sensor shows noise and not superheat. */
const SATURATED = 1e-3;

/**
 * `p:ghost:<level>` stands for the pressure that would be if the economizer ran: near the geometric mean, where the
 * optimum is flat; two tanks divide the way between the ends into thirds.
 */
function ghostPressure(level: EconomizerLevel): Quantity {
  return {
    name: `p:ghost:${level}`,
    compute(c) {
      const two = c.parameters.arrangement === 'interstage' && c.parameters.stages === 3;
      const share = level === 'flash_tank_2' ? 1 / 3 : two ? 2 / 3 : 1 / 2;
      const [low, high] = [c.figure('p:evaporator'), c.figure('p:condenser')];
      return c.assumed('assumed.tank_pressure_factor') * low ** (1 - share) * high ** share;
    },
  };
}

/** In a tank liquid and vapour are saturated: either sensor tells. */
function tankPressure(tank: 'flash_tank' | 'flash_tank_2'): Quantity {
  return {
    name: `p:${tank}`,
    compute(c) {
      if (c.hasPoint(`${tank}.pressure`) || !c.hasPoint(`${tank}.temperature`)) return c.point(`${tank}.pressure`);
      const found = c.refrigerant.bubblePressure(c.point(`${tank}.temperature`));
      return found.ok ? found.value : c.missing(found.fault.message);
    },
  };
}

export const intermediatePressures: readonly Quantity[] = [
  tankPressure('flash_tank'),
  tankPressure('flash_tank_2'),
  { name: 'p:economizer', compute: (c) => c.point('economizer.pressure') },
  ...(['flash_tank', 'flash_tank_2', 'economizer'] as const).map(ghostPressure),
];

/** Liquid leaving the subcooler at condenser pressure: as measured, else at the assumed approach to what boils off. */
export function cooledLiquid(c: CycleContext, pressure: string, way: 'state' | 'ghost'): State | Missing {
  const p = c.figure('p:condenser');
  const boiling = c.take(c.refrigerant.PQ(c.figure(pressure), 0));
  const measured = way === 'state' && c.hasPoint('economizer.liquid_temperature');
  const T = measured ? c.point('economizer.liquid_temperature') : boiling.T + c.assumed('assumed.subcooler_approach');
  if (Number.isNaN(p + T)) return c.missing('');
  if (T < boiling.T)
    c.doubt('liquid leaves the subcooler colder than what cools it: temperature or pressure sensor off');
  const bubble = c.refrigerant.bubbleTemperature(p);
  if (!bubble.ok) return c.missing(bubble.fault.message);
  if (T >= bubble.value) return c.missing('liquid leaves the subcooler no colder than it condenses: check the points');
  return c.take(c.refrigerant.TP(T, p));
}

/** Vapour leaving the subcooler: as measured, else with the assumed superheat; below saturation it is saturated. */
export function boiledOff(c: CycleContext, pressure: string, way: 'state' | 'ghost'): State | Missing {
  const dew = c.take(c.refrigerant.PQ(c.figure(pressure), 1));
  const measured = way === 'state' && c.hasPoint('economizer.vapour_temperature');
  const superheat = measured
    ? c.point('economizer.vapour_temperature') - dew.T
    : c.assumed('assumed.subcooler_superheat');
  if (Number.isNaN(dew.h + superheat)) return c.missing('');
  if (superheat > SATURATED) return c.take(c.refrigerant.TP(dew.T + superheat, dew.p));
  // the vapour line is continued with its heat capacity: cutting it off would bias the mean
  return c.take(c.refrigerant.PH(dew.p, dew.h + (dew.cp as number) * superheat));
}
