import type { Arrangement, Balance, Circuit, Junction, Machine, Node, Pool } from './type.ts';

export const MAIN: Machine = {
  name: 'main_compressor',
  stream: 'main',
  suction: '1',
  discharge: '2',
  to: 'condenser',
};

export const NODE_1: Node = {
  number: '1',
  where: 'main compressor suction, leaving the evaporator',
  stream: 'main',
  rule: { kind: 'suction', level: 'evaporator' },
};

export const NODE_2: Node = {
  number: '2',
  where: 'main compressor discharge',
  stream: 'main',
  rule: { kind: 'discharge', machine: 'main_compressor' },
};

export const NODE_3: Node = {
  number: '3',
  where: 'liquid leaving the condenser',
  stream: 'condenser',
  rule: { kind: 'condensed_liquid', level: 'condenser' },
};

/** The condenser's own liquid. */
export const CONDENSATE: Pool = { vessel: 'condenser', node: '3' };

/**
 * Hot-gas bypass takes gas from the main discharge to the evaporator, where it gives up its heat beside the water and
 * leaves with the rest.
 */
export function evaporation(discharge: '2' | '10'): Balance {
  return {
    name: 'evaporator',
    enters: [
      { stream: 'evaporator', node: '6' },
      { stream: 'bypass', node: discharge },
    ],
    leaves: [
      { stream: 'evaporator', node: '1' },
      { stream: 'bypass', node: '1' },
    ],
    heat: { quantity: 'evaporator.heat', sign: 1 },
    work: null,
  };
}

/** Motor cooling liquid is taken at 3, boils on the motor's losses and returns to the main suction at state 1. */
export const MOTOR_COOLING: Balance = {
  name: 'motor cooling',
  enters: [{ stream: 'motor_cooling', node: '3' }],
  leaves: [{ stream: 'motor_cooling', node: '1' }],
  heat: { quantity: 'main_compressor.motor_heat', sign: 1 },
  work: null,
};

export const MAIN_COMPRESSION: Balance = {
  name: 'main compressor',
  enters: [{ stream: 'main', node: '1' }],
  leaves: [{ stream: 'main', node: '2' }],
  heat: null,
  work: 'main_compressor.shaft_power',
};

export const SUCTION: Junction = {
  name: 'suction',
  enters: ['evaporator', 'motor_cooling', 'bypass'],
  leaves: ['main'],
};

/** 1, 2, 3 and 6: the liquid expands straight to evaporator pressure. */
export const SIMPLE: Circuit = {
  nodes: [
    NODE_1,
    NODE_2,
    NODE_3,
    {
      number: '6',
      where: 'entering the evaporator',
      stream: 'evaporator',
      rule: { kind: 'expansion', from: '3', level: 'evaporator' },
    },
  ],
  junctions: [SUCTION, { name: 'condenser', enters: ['main'], leaves: ['condenser', 'bypass'] }],
  balances: [
    evaporation('2'),
    MOTOR_COOLING,
    MAIN_COMPRESSION,
    {
      name: 'condenser',
      enters: [{ stream: 'main', node: '2' }],
      leaves: [
        { stream: 'condenser', node: '3' },
        { stream: 'bypass', node: '2' },
      ],
      heat: { quantity: 'condenser.heat', sign: -1 },
      work: null,
    },
  ],
  machines: [MAIN],
  liquid: { leaving: ['evaporator'], pools: [CONDENSATE] },
};

export const simple: Arrangement = { name: 'simple', economizer: 'none', on: SIMPLE, off: null, without: null };
