import { EVAPORATION, MOTOR_COOLING, NODE_1, NODE_3, SIMPLE, SUCTION } from './simple.ts';
import { NODE_4, TANK_BALANCE, TANK_FLOWS, TANK_LEAVING, TANK_PASSED } from './tank.ts';
import type { Arrangement, Balance, Circuit, Machine, Node } from './type.ts';

/** Two stages on one shaft: 1 to 10 with the tank's vapour mixed in between. */
const TWO_STAGES: Machine = {
  name: 'main_compressor',
  stream: 'main',
  suction: '1',
  discharge: '10',
  to: 'condenser',
};

const NODE_10: Node = {
  number: '10',
  where: 'second-stage discharge',
  stream: 'condenser',
  rule: { kind: 'discharge', machine: 'main_compressor' },
};

const CONDENSER: Balance = {
  name: 'condenser',
  enters: [{ stream: 'condenser', node: '10' }],
  leaves: [{ stream: 'condenser', node: '3' }],
  heat: { quantity: 'condenser.heat', sign: -1 },
  work: null,
};

/** The tank's vapour joins the discharge of the first stage and is lifted on by the second. */
const ON: Circuit = {
  nodes: [
    NODE_1,
    {
      number: '2',
      where: 'first-stage discharge',
      stream: 'main',
      rule: { kind: 'between_stages', at: 'first_discharge' },
    },
    {
      number: '9',
      where: 'second-stage suction, after mixing with tank vapour',
      stream: 'condenser',
      rule: { kind: 'between_stages', at: 'second_suction' },
    },
    NODE_10,
    NODE_3,
    NODE_4,
    ...TANK_LEAVING,
  ],
  junctions: [SUCTION, TANK_FLOWS, { name: 'between the stages', enters: ['main', 'vapour'], leaves: ['condenser'] }],
  balances: [
    TANK_BALANCE,
    EVAPORATION,
    MOTOR_COOLING,
    {
      name: 'main compressor',
      enters: [
        { stream: 'main', node: '1' },
        { stream: 'vapour', node: '7' },
      ],
      leaves: [{ stream: 'condenser', node: '10' }],
      heat: null,
      work: 'main_compressor.shaft_power',
    },
    CONDENSER,
  ],
  machines: [{ ...TWO_STAGES, port: { level: 'flash_tank', vapour: '7' } }],
};

/** Without vapour from a tank both stages are one compression; what is between them is not known. */
const PLAIN: Circuit = {
  ...SIMPLE,
  nodes: [NODE_1, NODE_10, NODE_3, SIMPLE.nodes[3] as Node],
  balances: [
    ...SIMPLE.balances.filter(({ name }) => name === 'evaporator' || name === 'motor cooling'),
    {
      name: 'main compressor',
      enters: [{ stream: 'main', node: '1' }],
      leaves: [{ stream: 'condenser', node: '10' }],
      heat: null,
      work: 'main_compressor.shaft_power',
    },
    CONDENSER,
  ],
  machines: [TWO_STAGES],
};

/** The vapour line is closed: what enters the tank goes on to the evaporator with h6 = h3. */
const OFF: Circuit = {
  ...PLAIN,
  nodes: [NODE_1, NODE_10, NODE_3, NODE_4, SIMPLE.nodes[3] as Node],
  junctions: [...PLAIN.junctions, TANK_PASSED],
};

export const interstage: Arrangement = { name: 'interstage', on: ON, off: OFF, without: PLAIN };
