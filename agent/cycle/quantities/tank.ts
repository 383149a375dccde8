/** The tank pressure of least power, and what the economizer compressor's discharge tells of its suction. */
import type { Missing } from '../../base/metric.ts';
import type { CycleContext, Quantity } from '../context.ts';
import { absent } from './machines.ts';

/** In ln p. */
const STEP = 0.02;
const NEAR_ENOUGH = 1e-8;
const ROUNDS_MAX = 30;

export const tankQuantities: readonly Quantity[] = [
  { name: 'best_tank_pressure', compute: (c) => absent(c, 'economizer_compressor') ?? bestPressure(c) },
  {
    name: 'best_tank_gain',
    compute(c) {
      const best = c.figure('best_tank_pressure');
      if (Number.isNaN(best)) return c.missing('');
      return 1 - powerPerCapacity(c, best) / powerPerCapacity(c, c.figure('p:flash_tank'));
    },
  },
  {
    name: 'economizer_suction_enthalpy',
    compute: (c) => absent(c, 'economizer_compressor') ?? suctionEnthalpy(c),
  },
];

/**
 * Electrical power over capacity with the tank at `p`, today's main work and today's isentropic efficiency of the
 * economizer compressor.
 */
function powerPerCapacity(c: CycleContext, p: number): number {
  const h1 = c.state('state:1').h;
  const h3 = c.state('state:3').h;
  const h5 = c.take(c.refrigerant.PQ(p, 0)).h;
  const vapour = c.take(c.refrigerant.PQ(p, 1));
  const out = c.figure('p_out:economizer_compressor');
  const ideal = c.take(c.refrigerant.PS(out, vapour.s)).h - vapour.h;
  const efficiency = c.has('economizer_compressor.isentropic_efficiency')
    ? c.figure('economizer_compressor.isentropic_efficiency')
    : c.assumed('assumed.economizer_compressor_efficiency');
  const econ = ideal / efficiency / c.assumed('assumed.economizer_compressor_drive');
  const y = (h3 - h5) / (vapour.h - h3);
  return (c.figure('specific_power:main_compressor') + y * econ) / (h1 - h5);
}

/** Newton on the slope over ln p, by differences: the curve is smooth and has one minimum between the ends. */
function bestPressure(c: CycleContext): number | Missing {
  if (!c.parameters.economizer_adjustable)
    return c.missing('the economizer compressor is not configured as adjustable');
  const low = Math.log(c.figure('p:evaporator')) + 2 * STEP;
  const high = Math.log(c.figure('p:condenser')) - 2 * STEP;
  if (!(high > low)) return c.missing('evaporator and condenser pressure leave no room for a tank pressure');
  const at = (x: number) => powerPerCapacity(c, Math.exp(x));
  let x = (low + high) / 2;
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const [before, here, after] = [at(x - STEP), at(x), at(x + STEP)];
    const bend = (after - 2 * here + before) / STEP ** 2;
    if (!(bend > 0)) return c.missing('no tank pressure of least power lies between these pressures');
    const move = -(after - before) / (2 * STEP) / bend;
    x = Math.min(high, Math.max(low, x + move));
    if (Math.abs(move) < NEAR_ENOUGH) return Math.exp(x);
  }
  return c.missing('no tank pressure of least power lies between these pressures');
}

/**
 * Enthalpy at the economizer compressor's suction from which the configured efficiency leads to the measured discharge.
 * With no superheat left at the discharge only the dry end of it is known: an upper bound, said so.
 */
function suctionEnthalpy(c: CycleContext): number | Missing {
  const T = c.point('economizer_compressor.discharge_temperature');
  const dew = c.state('vapour:condenser');
  if (Number.isNaN(T + dew.h)) return c.missing('');
  let target = dew.h;
  if (c.has('measured:economizer_compressor')) target = c.state('measured:economizer_compressor').h;
  else c.doubt('at most this: the economizer compressor discharge shows no superheat');
  const vapour = c.state('vapour:flash_tank');
  const efficiency = c.assumed('assumed.economizer_compressor_efficiency');
  const out = c.figure('p_out:economizer_compressor');
  const miss = (h: number) => {
    const from = c.take(c.refrigerant.PH(vapour.p, h));
    return h + (c.take(c.refrigerant.PS(out, from.s)).h - h) / efficiency - target;
  };
  // nearly a straight line of slope one
  let h = vapour.h - miss(vapour.h);
  for (let round = 0; round < ROUNDS_MAX; round++) {
    const move = miss(h);
    h -= move;
    if (Number.isNaN(h)) return c.missing('');
    if (Math.abs(move) < 1e-4) return h;
  }
  return c.missing('no suction state leads to the measured discharge temperature');
}
