/** A compressor of several stages on one shaft, as every arrangement has it whose vapour joins between them. */
import { evaporation, MOTOR_COOLING, NODE_1, NODE_3, SIMPLE } from './simple.ts';
import type { Balance, Circuit, Machine, Node, StageEnd } from './type.ts';

/** 1 to 10, whatever joins in between. */
export const STAGES: Machine = {
  name: 'main_compressor',
  stream: 'main',
  suction: '1',
  discharge: '10',
  to: 'condenser',
};

export const NODE_10: Node = {
  number: '10',
  where: 'discharge of the last stage',
  stream: 'condenser',
  rule: { kind: 'discharge', machine: 'main_compressor' },
};

/** 6: with every vapour line closed the condenser's liquid gets there as it is. */
export const NODE_6_PLAIN = SIMPLE.nodes[3] as Node;

export const STAGES_TO_CONDENSER: Balance = {
  name: 'condenser',
  enters: [{ stream: 'condenser', node: '10' }],
  leaves: [{ stream: 'condenser', node: '3' }],
  heat: { quantity: 'condenser.heat', sign: -1 },
  work: null,
};

export function betweenStages(number: string, where: string, stream: string, at: StageEnd): Node {
  return { number, where, stream, rule: { kind: 'between_stages', at } };
}

/** Work of all stages together; what enters beside the suction comes through the ports. */
export function compression(ports: readonly { readonly stream: string; readonly vapour: string }[]): Balance {
  return {
    name: 'main compressor',
    enters: [{ stream: 'main', node: '1' }, ...ports.map(({ stream, vapour }) => ({ stream, node: vapour }))],
    leaves: [
      { stream: 'condenser', node: '10' },
      { stream: 'bypass', node: '10' },
    ],
    heat: null,
    work: 'main_compressor.shaft_power',
  };
}

/** Without vapour from an economizer the stages are one compression; what is between them is not known. */
export const PLAIN: Circuit = {
  ...SIMPLE,
  nodes: [NODE_1, NODE_10, NODE_3, NODE_6_PLAIN],
  balances: [evaporation('10'), MOTOR_COOLING, compression([]), STAGES_TO_CONDENSER],
  machines: [STAGES],
};
