/** Flash tank and evaporator, as every arrangement with an economizer has them. */
import { CONDENSATE } from './simple.ts';
import type { Balance, Junction, Liquid, Node } from './type.ts';

export const NODE_4: Node = {
  number: '4',
  where: 'entering the flash tank',
  stream: 'tank',
  rule: { kind: 'expansion', from: '3', level: 'flash_tank' },
};

export const NODE_5: Node = {
  number: '5',
  where: 'liquid leaving the flash tank',
  stream: 'evaporator',
  rule: { kind: 'saturated_liquid', level: 'flash_tank' },
};

export const NODE_7: Node = {
  number: '7',
  where: 'vapour leaving the flash tank',
  stream: 'vapour',
  rule: { kind: 'saturated_vapour', level: 'flash_tank' },
};

/** 5 to 7: what leaves the tank, and the liquid after its valve. */
export const TANK_LEAVING: readonly Node[] = [
  NODE_5,
  {
    number: '6',
    where: 'entering the evaporator',
    stream: 'evaporator',
    rule: { kind: 'expansion', from: '5', level: 'evaporator' },
  },
  NODE_7,
];

export const TANK_FLOWS: Junction = { name: 'flash tank', enters: ['tank'], leaves: ['evaporator', 'vapour'] };

/** No vapour leaves: what enters goes on to the evaporator. */
export const TANK_PASSED: Junction = { name: 'flash tank', enters: ['tank'], leaves: ['evaporator'] };

export const TANK_BALANCE: Balance = {
  name: 'flash tank',
  enters: [{ stream: 'tank', node: '4' }],
  leaves: [
    { stream: 'evaporator', node: '5' },
    { stream: 'vapour', node: '7' },
  ],
  heat: null,
  work: null,
};

export const TANK_LIQUID: Liquid = { leaving: ['tank'], pools: [CONDENSATE, { vessel: 'flash_tank', node: '5' }] };

/** With no vapour leaving, the tank's liquid is as warm as what enters it. */
export const TANK_LIQUID_PASSED: Liquid = {
  leaving: ['tank'],
  pools: [CONDENSATE, { vessel: 'flash_tank', node: '4' }],
};
