import { CONDENSATE, evaporation, MOTOR_COOLING, NODE_1, NODE_3, SUCTION } from './simple.ts';
import { betweenStages, compression, NODE_10, PLAIN, STAGES, STAGES_TO_CONDENSER } from './stages.ts';
import type { Arrangement, Circuit, Port } from './type.ts';

const PORTS: readonly Port[] = [{ level: 'economizer', vapour: '7', stream: 'vapour' }];

/**
 * Closed economizer: a branch of the condenser's liquid expands to a pressure between the stages and boils off in a
 * heat exchanger, which subcools the rest; its vapour joins between the stages. No liquid stands at that pressure.
 */
const ON: Circuit = {
  nodes: [
    NODE_1,
    betweenStages('2', 'first-stage discharge', 'main', 'out_1'),
    betweenStages('9', 'second-stage suction, after mixing with economizer vapour', 'condenser', 'in_2'),
    NODE_10,
    NODE_3,
    {
      number: '4',
      where: 'branch entering the subcooler, after its valve',
      stream: 'vapour',
      rule: { kind: 'expansion', from: '3', level: 'economizer' },
    },
    {
      number: '5',
      where: 'liquid leaving the subcooler',
      stream: 'evaporator',
      rule: { kind: 'cooled_liquid', level: 'economizer' },
    },
    {
      number: '6',
      where: 'entering the evaporator',
      stream: 'evaporator',
      rule: { kind: 'expansion', from: '5', level: 'evaporator' },
    },
    {
      number: '7',
      where: 'vapour leaving the subcooler',
      stream: 'vapour',
      rule: { kind: 'boiled_off', level: 'economizer' },
    },
  ],
  junctions: [SUCTION, { name: 'between the stages', enters: ['main', 'vapour'], leaves: ['condenser', 'bypass'] }],
  balances: [
    {
      name: 'subcooler',
      enters: [
        { stream: 'evaporator', node: '3' },
        { stream: 'vapour', node: '4' },
      ],
      leaves: [
        { stream: 'evaporator', node: '5' },
        { stream: 'vapour', node: '7' },
      ],
      heat: null,
      work: null,
    },
    evaporation('10'),
    MOTOR_COOLING,
    compression(PORTS),
    STAGES_TO_CONDENSER,
  ],
  machines: [{ ...STAGES, ports: PORTS }],
  liquid: { leaving: ['evaporator', 'vapour'], pools: [CONDENSATE] },
};

/** The branch is closed: nothing boils off, and the liquid passes the subcooler as it is. */
export const subcooler: Arrangement = {
  name: 'subcooler',
  economizer: 'between_stages',
  on: ON,
  off: PLAIN,
  without: PLAIN,
};
