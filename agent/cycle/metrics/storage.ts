/** What the vessels take up and give while their levels move. */
import { arrangementOf } from '../arrangements/table.ts';
import { VESSELS, type Vessel } from '../arrangements/type.ts';
import { storedMass } from '../quantities/storage.ts';
import type { CycleMetric } from './metric.ts';

const WORDS: Readonly<Record<Vessel, string>> = {
  condenser: 'condenser',
  flash_tank: 'flash tank',
  flash_tank_2: 'second flash tank',
};

export const storageMetrics: readonly CycleMetric[] = VESSELS.map((vessel) => ({
  name: `${vessel}.storage_mass_flow`,
  unit: 'kg/s',
  meaning: `liquid that the ${WORDS[vessel]} takes up while its level rises, below zero while it falls; in the balances where the site file gives the area of the liquid`,
  formula: `density of the liquid x area x range of ${vessel}.level x its slope over the interval (least squares)`,
  inputs: [`${vessel}.level`],
  compute(c) {
    const { pools } = arrangementOf(c.parameters).on.liquid;
    if (pools.every((pool) => pool.vessel !== vessel)) return c.missing(`this arrangement has no ${WORDS[vessel]}`);
    return storedMass(c, vessel);
  },
}));
