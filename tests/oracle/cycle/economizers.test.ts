/**
 * Circuits with a subcooler and with three stages and two tanks, against balances written out by hand over CoolProp
 * 8.0.0 (economizers.py beside this file, which shares no code with the agent): enthalpies, flows, work, heat rejected.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { type Design, design } from '../../../agent/cycle/design.ts';

interface Case {
  readonly arrangement: 'subcooler' | 'interstage';
  readonly refrigerant: string;
  readonly evaporator: number;
  readonly superheat: number;
  readonly condenser: number;
  readonly subcooling: number;
  /** K: where the subcooler's branch boils off, with approach and superheat; or both tanks. */
  readonly middle?: number;
  readonly approach?: number;
  readonly gas?: number;
  readonly low?: number;
  readonly high?: number;
  readonly efficiencies: readonly number[];
  /** Per kg through the evaporator. */
  readonly flows: Readonly<Record<string, number>>;
  readonly fractions?: Readonly<Record<string, number>>;
  /** J/kg by node. */
  readonly h: Readonly<Record<string, number>>;
  readonly work: number;
  readonly effect: number;
  readonly rejected: number;
}

const { cases } = JSON.parse(readFileSync(new URL('economizers.json', import.meta.url), 'utf8')) as { cases: Case[] };
const CAPACITY = 2e6;

function designed(given: Case): Design {
  const { arrangement, refrigerant, evaporator, superheat, condenser, subcooling, efficiencies } = given;
  const between =
    arrangement === 'subcooler'
      ? { tanks: [{ T: given.middle }], subcooler: { approach: given.approach, superheat: given.gas } }
      : // in either order: the higher pressure is the first tank's
        { tanks: [{ T: given.low }, { T: given.high }] };
  return must(
    design({
      refrigerant,
      arrangement,
      evaporator: { T: evaporator, superheat },
      condenser: { T: condenser, subcooling },
      compressors: efficiencies.map((isentropic_efficiency) => ({ isentropic_efficiency })),
      capacity: CAPACITY,
      ...between,
    }),
  );
}

test('there are cases of either arrangement, of low and medium pressure', () => {
  expect(cases.filter(({ arrangement }) => arrangement === 'subcooler')).toHaveLength(8);
  expect(cases.filter(({ arrangement }) => arrangement === 'interstage')).toHaveLength(8);
});

describe.each(cases)('$arrangement, $refrigerant, $evaporator to $condenser K', (given) => {
  const found = designed(given);
  const near = (value: number | null | undefined, expected: number, what: string) =>
    expect(Math.abs((value as number) / expected - 1), what).toBeLessThan(1e-6);

  test('enthalpies of the nodes', () => {
    for (const [node, h] of Object.entries(given.h)) near(found.states[node]?.h, h, `h${node}`);
  });

  test('flows, work and heat', () => {
    const flow = CAPACITY / given.effect;
    near(found.flow, flow, 'evaporator flow');
    near(found.power, flow * given.work, 'power');
    near(found.cop, given.effect / given.work, 'COP');
    near(found.states['7']?.m, flow * (given.flows['vapour'] as number), 'vapour');
    if (given.flows['vapour_2'] !== undefined)
      near(found.states['13']?.m, flow * given.flows['vapour_2'], 'vapour of the second tank');
    const condensed = found.states['3'] as { m: number; h: number };
    near(condensed.m * ((found.states['10']?.h as number) - condensed.h), flow * given.rejected, 'heat rejected');
    // the whole closes: what goes in comes out
    near(CAPACITY + found.power, flow * given.rejected, 'heat balance');
  });

  test('metrics of the economizer', () => {
    const { metrics } = found;
    const vapour = given.flows['vapour'] as number;
    if (given.arrangement === 'subcooler') {
      near(metrics['economizer.vapour_fraction'], vapour / (1 + vapour), 'vapour fraction');
      near(metrics['economizer.vapour_mass_flow'], vapour * found.flow, 'vapour flow');
      near(metrics['economizer.saturation_temperature'], (given.middle as number) - 273.15, 'saturation');
      expect(metrics['flash_tank.flash_fraction']).toBeNull();
    } else {
      near(metrics['flash_tank.flash_fraction'], given.fractions?.['flash_tank'] as number, 'first tank');
      near(metrics['flash_tank_2.flash_fraction'], given.fractions?.['flash_tank_2'] as number, 'second tank');
      near(metrics['flash_tank_2.saturation_temperature'], (given.low as number) - 273.15, 'second tank');
      near(metrics['main_compressor.third_stage_lift'], given.condenser - (given.high as number), 'third lift');
    }
  });
});
