/**
 * Where the main compressor works and how well, from the readings as they are: weighed against the balances they would
 * be corrected by other sensors with the economizer on than off, and what the sensors are wrong by would not cancel.
 */
import type { Books } from '../books.ts';
import { efficiencyName } from '../metrics/compressors.ts';
import { STEP } from '../reconciliation/reconcile.ts';
import type { Operating } from '../types.ts';

/** Inputs through which the economizer comes into the main compressor's efficiency: only while it is on. */
const APART = /^(flash_tank|economizer)|^condenser\.liquid_temperature$|^assumed\.(economizer|subcooler|tank)/;

/** Null where the points do not tell it. */
export function operatingOf({ leaf, base }: Books): Operating | null {
  const number = (name: string): number | null => {
    const value = base.entry(name);
    return typeof value === 'number' && value > 0 ? value : null;
  };
  const suction = base.entry('state:1');
  const sound = typeof suction === 'object' && 'w' in suction ? suction.w : null;
  const name = efficiencyName(base.parameters);
  const [flow, head, efficiency] = [
    number('main_compressor.suction_volume_flow'),
    number('main_compressor.isentropic_head'),
    number(name),
  ];
  const method = base.capacityMethod;
  if (typeof sound !== 'number' || flow === null || head === null || efficiency === null || method === null)
    return null;
  let [apart, air] = [0, 0];
  leaf.interval.inputs.forEach((input, at) => {
    const within = APART.test(input.name);
    if (!base.dependsOn(name, at) || (!within && input.barometer === 0)) return;
    const moved = leaf.moved(at)?.entry(name);
    if (typeof moved !== 'number') return;
    const by = (moved - efficiency) / STEP / efficiency;
    air += (by * input.barometer) / input.u;
    if (within) apart += by ** 2 * (1 - (input.barometer / input.u) ** 2);
  });
  const without = number('economizer.suction_volume_flow_without');
  return { method, flow, without, head, sound, efficiency, apart: Math.sqrt(apart), air: Math.abs(air) };
}
