import {
  evaporation,
  MAIN,
  MAIN_COMPRESSION,
  MOTOR_COOLING,
  NODE_1,
  NODE_2,
  NODE_3,
  SIMPLE,
  SUCTION,
} from './simple.ts';
import {
  NODE_4,
  TANK_BALANCE,
  TANK_FLOWS,
  TANK_LEAVING,
  TANK_LIQUID,
  TANK_LIQUID_PASSED,
  TANK_PASSED,
} from './tank.ts';
import type { Arrangement, Circuit, Node } from './type.ts';

/** A second, smaller compressor lifts the tank's vapour to the condenser; both discharges mix on entering it. */
const ON: Circuit = {
  nodes: [
    NODE_1,
    NODE_2,
    NODE_3,
    NODE_4,
    ...TANK_LEAVING,
    {
      number: '8',
      where: 'economizer compressor discharge',
      stream: 'vapour',
      rule: { kind: 'discharge', machine: 'economizer_compressor' },
    },
  ],
  junctions: [SUCTION, TANK_FLOWS, { name: 'condenser', enters: ['main', 'vapour'], leaves: ['condenser', 'bypass'] }],
  balances: [
    TANK_BALANCE,
    evaporation('2'),
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
      leaves: [
        { stream: 'condenser', node: '3' },
        { stream: 'bypass', node: '2' },
      ],
      heat: { quantity: 'condenser.heat', sign: -1 },
      work: null,
    },
  ],
  machines: [MAIN, { name: 'economizer_compressor', stream: 'vapour', suction: '7', discharge: '8', to: 'condenser' }],
  liquid: TANK_LIQUID,
};

/** No vapour leaves the tank: what enters it goes on to the evaporator with h6 = h3; 5, 7 and 8 do not exist. */
const OFF: Circuit = {
  ...SIMPLE,
  nodes: [NODE_1, NODE_2, NODE_3, NODE_4, SIMPLE.nodes[3] as Node],
  junctions: [...SIMPLE.junctions, TANK_PASSED],
  liquid: TANK_LIQUID_PASSED,
};

export const parallel: Arrangement = {
  name: 'parallel',
  economizer: 'own_compressor',
  on: ON,
  off: OFF,
  without: SIMPLE,
};
