import { MAIN, MAIN_COMPRESSION, MOTOR_COOLING, NODE_1, NODE_2, NODE_3, SIMPLE, SUCTION } from './simple.ts';
import type { Arrangement, Circuit, Node } from './type.ts';

const NODE_4: Node = {
  number: '4',
  where: 'entering the flash tank',
  stream: 'tank',
  rule: { kind: 'expansion', from: '3', level: 'flash_tank' },
};

/** A second, smaller compressor lifts the tank's vapour to the condenser; both discharges mix on entering it. */
const ON: Circuit = {
  nodes: [
    NODE_1,
    NODE_2,
    NODE_3,
    NODE_4,
    {
      number: '5',
      where: 'liquid leaving the flash tank',
      stream: 'evaporator',
      rule: { kind: 'saturated_liquid', level: 'flash_tank' },
    },
    {
      number: '6',
      where: 'entering the evaporator',
      stream: 'evaporator',
      rule: { kind: 'expansion', from: '5', level: 'evaporator' },
    },
    {
      number: '7',
      where: 'vapour leaving the flash tank',
      stream: 'vapour',
      rule: { kind: 'saturated_vapour', level: 'flash_tank' },
    },
    {
      number: '8',
      where: 'economizer compressor discharge',
      stream: 'vapour',
      rule: { kind: 'discharge', machine: 'economizer_compressor' },
    },
  ],
  junctions: [
    SUCTION,
    { name: 'flash tank', enters: ['tank'], leaves: ['evaporator', 'vapour'] },
    { name: 'condenser', enters: ['main', 'vapour'], leaves: ['condenser'] },
  ],
  balances: [
    {
      name: 'flash tank',
      enters: [{ stream: 'tank', node: '4' }],
      leaves: [
        { stream: 'evaporator', node: '5' },
        { stream: 'vapour', node: '7' },
      ],
      heat: null,
      work: null,
    },
    {
      name: 'evaporator',
      enters: [{ stream: 'evaporator', node: '6' }],
      leaves: [{ stream: 'evaporator', node: '1' }],
      heat: { quantity: 'evaporator.heat', sign: 1 },
      work: null,
    },
    MOTOR_COOLING,
    MAIN_COMPRESSION,
    {
      name: 'economizer compressor',
      enters: [{ stream: 'vapour', node: '7' }],
      leaves: [{ stream: 'vapour', node: '8' }],
      heat: null,
      work: 'economizer_compressor.shaft_power',
    },
    {
      name: 'condenser',
      enters: [
        { stream: 'main', node: '2' },
        { stream: 'vapour', node: '8' },
      ],
      leaves: [{ stream: 'condenser', node: '3' }],
      heat: { quantity: 'condenser.heat', sign: -1 },
      work: null,
    },
  ],
  machines: [MAIN, { name: 'economizer_compressor', stream: 'vapour', suction: '7', discharge: '8', to: 'condenser' }],
};

/** No vapour leaves the tank: what enters it goes on to the evaporator with h6 = h3; 5, 7 and 8 do not exist. */
const OFF: Circuit = {
  ...SIMPLE,
  nodes: [NODE_1, NODE_2, NODE_3, NODE_4, SIMPLE.nodes[3] as Node],
  junctions: [...SIMPLE.junctions, { name: 'flash tank', enters: ['tank'], leaves: ['evaporator'] }],
};

export const parallel: Arrangement = { name: 'parallel', on: ON, off: OFF, without: SIMPLE };
