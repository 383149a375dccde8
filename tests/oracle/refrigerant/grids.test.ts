/**
 * Every state of the grids of the independent code CoolProp 8.0.0 (tests/oracle/grids), to 1e-8 relative (1e-6 is
 * asked); each pair run on it.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { REFRIGERANTS, refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import type { State } from '../../../agent/refrigerant/types.ts';
import { readGrid, TOLERANCE, Worst } from './grid.ts';

describe.each(REFRIGERANTS)('%s', (name) => {
  const fluid = must(refrigerant(name));

  test('saturation line by T and by p, liquid and vapour', () => {
    const worst = new Worst();
    const rows = readGrid(name, 'saturation');
    expect(rows).toHaveLength(61);
    for (const row of rows) {
      const { T, p } = row as { T: number; p: number };
      const where = `T=${T} p=${p}`;
      worst.compare('p(T)', must(fluid.saturationPressure(T)), p, where);
      worst.compare('T(p)', must(fluid.saturationTemperature(p)), T, where);
      for (const [q, phase] of [
        [0, 'liquid'],
        [1, 'vapour'],
      ] as const) {
        for (const [pair, state] of [
          ['TQ', must(fluid.TQ(T, q))],
          ['PQ', must(fluid.PQ(p, q))],
        ] as const) {
          worst.compare(`${pair} p`, state.p, p, where);
          worst.compare(`${pair} T`, state.T, T, where);
          for (const quantity of ['rho', 'h', 's', 'cp', 'w'] as const) {
            worst.compare(`${pair} ${quantity}_${phase}`, state[quantity], row[`${quantity}_${phase}`]!, where);
          }
        }
      }
    }
    console.log(`${name}: saturation grid, worst relative difference by quantity\n${worst.table()}`);
    expect(worst.most).toBeLessThan(TOLERANCE);
  });

  test('two-phase states of the grid by PH, PS, PQ and TQ', () => {
    const worst = new Worst();
    for (const row of readGrid(name, 'saturation')) {
      const { T, p } = row as { T: number; p: number };
      for (const q of [0.1, 0.5, 0.9]) {
        const mix = (quantity: string): number => (1 - q) * row[`${quantity}_liquid`]! + q * row[`${quantity}_vapour`]!;
        const rho = 1 / ((1 - q) / row['rho_liquid']! + q / row['rho_vapour']!);
        const states: [string, State][] = [
          ['PH', must(fluid.PH(p, mix('h')))],
          ['PS', must(fluid.PS(p, mix('s')))],
          ['PQ', must(fluid.PQ(p, q))],
          ['TQ', must(fluid.TQ(T, q))],
        ];
        for (const [pair, state] of states) {
          const where = `T=${T} p=${p} q=${q}`;
          expect(state.phase).toBe('two-phase');
          worst.compare(`${pair} T`, state.T, T, where);
          worst.compare(`${pair} p`, state.p, p, where);
          worst.compare(`${pair} q`, state.q, q, where);
          worst.compare(`${pair} rho`, state.rho, rho, where);
          worst.compare(`${pair} h`, state.h, mix('h'), where);
          worst.compare(`${pair} s`, state.s, mix('s'), where);
        }
      }
    }
    console.log(`${name}: two-phase states, worst relative difference by quantity\n${worst.table()}`);
    expect(worst.most).toBeLessThan(TOLERANCE);
  });

  test('single phase by TP, PH and PS', () => {
    const worst = new Worst();
    const rows = readGrid(name, 'single-phase');
    expect(rows.length).toBeGreaterThan(180);
    for (const row of rows) {
      const { T, p, h, s } = row as { T: number; p: number; h: number; s: number };
      const phase = row['phase'] === 0 ? 'liquid' : 'vapour';
      const where = `T=${T} p=${p} ${phase}`;
      const states: [string, State][] = [
        ['TP', must(fluid.TP(T, p))],
        ['PH', must(fluid.PH(p, h))],
        ['PS', must(fluid.PS(p, s))],
      ];
      for (const [pair, state] of states) {
        expect(state.phase, where).toBe(phase);
        expect(state.q, where).toBeNull();
        for (const quantity of ['T', 'p', 'rho', 'h', 's', 'cp', 'w'] as const) {
          worst.compare(`${pair} ${quantity}`, state[quantity], row[quantity]!, where);
        }
      }
    }
    console.log(`${name}: ${rows.length} single-phase states, worst relative difference by quantity\n${worst.table()}`);
    expect(worst.most).toBeLessThan(TOLERANCE);
  });
});
