/** What goes past the compressors and past the water: hot-gas bypass, oil cooler, heat from and to the room. */
import type { Missing } from '../../base/metric.ts';
import type { CycleContext, Quantity } from '../context.ts';

/** Opening of the bypass valve under which it is taken as shut: seat and feedback. Common practice, no source. */
const SHUT = 0.01;

export const lossQuantities: readonly Quantity[] = [
  { name: 'bypass_share', compute: bypassShare },
  {
    // m_b = share (m_e + m_motor + m_b)
    name: 'bypass_flow',
    compute(c) {
      const share = c.figure('bypass_share');
      return (share / (1 - share)) * (c.figure('evaporator.mass_flow') + c.figure('motor_cooling_flow'));
    },
  },
  {
    // Capacity that each kilogram of liquid fed to the evaporator gives: bypassed gas takes the rest.
    name: 'net_effect',
    compute: (c) => netEffect(c, c.figure('bypass_share') === 0 ? null : 'discharge:main_compressor'),
  },
  {
    // Heat that enters the evaporator from the room beside that of the water, and leaves the condenser to the room.
    name: 'ambient_gain',
    compute: (c) => c.assumed('assumed.evaporator_heat_gain'),
  },
  { name: 'ambient_loss', compute: (c) => c.assumed('assumed.condenser_heat_loss') },
];

/** Part of the main compressor's flow that goes through the hot-gas bypass; 0 where there is none. */
function bypassShare(c: CycleContext): number {
  const open = 'hot_gas_bypass.position';
  if (c.parameters.hot_gas_bypass === undefined) {
    if (c.hasPoint(open) && c.point(open) > SHUT)
      c.doubt('hot-gas bypass is open and its share of the flow is not configured: left out');
    return 0;
  }
  const position = c.point(open);
  return position > SHUT ? Math.min(1, position) * c.assumed('assumed.hot_gas_bypass_share') : 0;
}

/** h1 - h6 less what the bypassed gas of state `discharge` brings along; null: nothing is bypassed. */
export function netEffect(c: CycleContext, discharge: string | null): number | Missing {
  const effect = c.figure('refrigerating_effect');
  if (discharge === null) return effect;
  const share = c.figure('bypass_share');
  const brought = c.state(discharge).h - c.state('state:1').h;
  const net = effect - (share / (1 - share)) * fedRatio(c, discharge) * brought;
  return net <= 0 ? c.missing('hot-gas bypass takes all of the capacity') : net;
}

/** Evaporator and motor cooling over evaporator flow. */
function fedRatio(c: CycleContext, discharge: string): number {
  if (!c.parameters.motor_cooling) return 1;
  const lost = 1 - c.assumed('assumed.main_compressor_drive');
  const power =
    discharge === 'measured:main_compressor'
      ? c.figure('measured_specific_power')
      : c.figure('specific_power:main_compressor');
  return 1 + (power * lost) / (c.state('state:1').h - c.state('state:3').h);
}

/**
 * What of a watt of the main drive lifts evaporator flow, from work per kilogram and `carried` = h1 - h3: losses that
 * boil liquid and gas that is bypassed are lifted too.
 */
export function netOfDrive(c: CycleContext, work: number, carried: number): number {
  const efficiency = c.assumed('assumed.main_compressor_drive');
  const shut = efficiency * (1 - c.figure('bypass_share'));
  return c.parameters.motor_cooling ? shut - ((1 - efficiency) * work) / carried : shut;
}
