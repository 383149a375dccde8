import { CONDENSATE, evaporation, MOTOR_COOLING, NODE_1, NODE_3, SUCTION } from './simple.ts';
import { betweenStages, compression, NODE_6_PLAIN, NODE_10, PLAIN, STAGES, STAGES_TO_CONDENSER } from './stages.ts';
import { NODE_4, NODE_5, NODE_7 } from './tank.ts';
import type { Arrangement, Circuit, Node, Pool, Port, Vessel } from './type.ts';

const PORTS: readonly Port[] = [
  { level: 'flash_tank_2', vapour: '13', stream: 'vapour_2' },
  { level: 'flash_tank', vapour: '7', stream: 'vapour' },
];

function pool(vessel: Vessel, node: string): Pool {
  return { vessel, node };
}

function entering(from: string): Node {
  return {
    number: '11',
    where: 'entering the second flash tank',
    stream: 'tank_2',
    rule: { kind: 'expansion', from, level: 'flash_tank_2' },
  };
}

/**
 * Two tanks in the liquid's way, three stages in the gas's: the second tank's vapour joins behind the first stage, that
 * of the first tank, at the higher pressure, behind the second.
 */
const ON: Circuit = {
  nodes: [
    NODE_1,
    betweenStages('2', 'first-stage discharge', 'main', 'out_1'),
    betweenStages('14', 'second-stage suction, after mixing with vapour of the second tank', 'second', 'in_2'),
    betweenStages('15', 'second-stage discharge', 'second', 'out_2'),
    betweenStages('9', 'third-stage suction, after mixing with vapour of the first tank', 'condenser', 'in_3'),
    NODE_10,
    NODE_3,
    NODE_4,
    { ...NODE_5, stream: 'tank_2' },
    NODE_7,
    entering('5'),
    {
      number: '12',
      where: 'liquid leaving the second flash tank',
      stream: 'evaporator',
      rule: { kind: 'saturated_liquid', level: 'flash_tank_2' },
    },
    {
      number: '6',
      where: 'entering the evaporator',
      stream: 'evaporator',
      rule: { kind: 'expansion', from: '12', level: 'evaporator' },
    },
    {
      number: '13',
      where: 'vapour leaving the second flash tank',
      stream: 'vapour_2',
      rule: { kind: 'saturated_vapour', level: 'flash_tank_2' },
    },
  ],
  junctions: [
    SUCTION,
    { name: 'flash tank', enters: ['tank'], leaves: ['tank_2', 'vapour'] },
    { name: 'second flash tank', enters: ['tank_2'], leaves: ['evaporator', 'vapour_2'] },
    { name: 'behind the first stage', enters: ['main', 'vapour_2'], leaves: ['second'] },
    { name: 'behind the second stage', enters: ['second', 'vapour'], leaves: ['condenser', 'bypass'] },
  ],
  balances: [
    {
      name: 'flash tank',
      enters: [{ stream: 'tank', node: '4' }],
      leaves: [
        { stream: 'tank_2', node: '5' },
        { stream: 'vapour', node: '7' },
      ],
      heat: null,
      work: null,
    },
    {
      name: 'second flash tank',
      enters: [{ stream: 'tank_2', node: '11' }],
      leaves: [
        { stream: 'evaporator', node: '12' },
        { stream: 'vapour_2', node: '13' },
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
  liquid: { leaving: ['tank'], pools: [CONDENSATE, pool('flash_tank', '5'), pool('flash_tank_2', '12')] },
};

/** Both vapour lines are closed: what enters the tanks goes on to the evaporator with h6 = h3. */
const OFF: Circuit = {
  ...PLAIN,
  nodes: [NODE_1, NODE_10, NODE_3, NODE_4, entering('4'), NODE_6_PLAIN],
  junctions: [
    ...PLAIN.junctions,
    { name: 'flash tank', enters: ['tank'], leaves: ['tank_2'] },
    { name: 'second flash tank', enters: ['tank_2'], leaves: ['evaporator'] },
  ],
  liquid: { leaving: ['tank'], pools: [CONDENSATE, pool('flash_tank', '4'), pool('flash_tank_2', '11')] },
};

export const threeStages: Arrangement = {
  name: 'interstage',
  economizer: 'between_stages',
  on: ON,
  off: OFF,
  without: PLAIN,
};
