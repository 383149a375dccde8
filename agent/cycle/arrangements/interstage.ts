import { evaporation, MOTOR_COOLING, NODE_1, NODE_3, SUCTION } from './simple.ts';
import { betweenStages, compression, NODE_6_PLAIN, NODE_10, PLAIN, STAGES, STAGES_TO_CONDENSER } from './stages.ts';
import {
  NODE_4,
  TANK_BALANCE,
  TANK_FLOWS,
  TANK_LEAVING,
  TANK_LIQUID,
  TANK_LIQUID_PASSED,
  TANK_PASSED,
} from './tank.ts';
import type { Arrangement, Circuit, Port } from './type.ts';

const PORTS: readonly Port[] = [{ level: 'flash_tank', vapour: '7', stream: 'vapour' }];

/** The tank's vapour joins the discharge of the first stage and is lifted on by the second. */
const ON: Circuit = {
  nodes: [
    NODE_1,
    betweenStages('2', 'first-stage discharge', 'main', 'out_1'),
    betweenStages('9', 'second-stage suction, after mixing with tank vapour', 'condenser', 'in_2'),
    NODE_10,
    NODE_3,
    NODE_4,
    ...TANK_LEAVING,
  ],
  junctions: [
    SUCTION,
    TANK_FLOWS,
    { name: 'between the stages', enters: ['main', 'vapour'], leaves: ['condenser', 'bypass'] },
  ],
  balances: [TANK_BALANCE, evaporation('10'), MOTOR_COOLING, compression(PORTS), STAGES_TO_CONDENSER],
  machines: [{ ...STAGES, ports: PORTS }],
  liquid: TANK_LIQUID,
};

/** The vapour line is closed: what enters the tank goes on to the evaporator with h6 = h3. */
const OFF: Circuit = {
  ...PLAIN,
  nodes: [NODE_1, NODE_10, NODE_3, NODE_4, NODE_6_PLAIN],
  junctions: [...PLAIN.junctions, TANK_PASSED],
  liquid: TANK_LIQUID_PASSED,
};

export const interstage: Arrangement = {
  name: 'interstage',
  economizer: 'between_stages',
  on: ON,
  off: OFF,
  without: PLAIN,
};
