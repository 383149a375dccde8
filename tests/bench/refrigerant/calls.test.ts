/**
 * What each way to a state costs on the states of the grids (tests/oracle/grids), in evaluations of the equation
 * measured in the same run, beside the floor: the least number of evaluations with which a state can be solved and
 * known to be solved. Where PEER_PYTHON names a Python with CoolProp 8.0.0, its low-level interface runs beside it.
 */
import { execFileSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { Equation } from '../../../agent/refrigerant/equation.ts';
import { PureRefrigerant } from '../../../agent/refrigerant/pure_refrigerant.ts';
import { REFRIGERANTS, refrigerant, refrigerantData } from '../../../agent/refrigerant/refrigerants.ts';
import { readGrid } from '../../oracle/refrigerant/grid.ts';

const ROUNDS = 300;

type Row = Record<string, number>;
/** Label, least evaluations, states, call. */
type Way = readonly [string, number, readonly Row[], (row: Row) => number];

/** Best of many short rounds, so that other work on the machine disturbs little; microseconds per call. */
function microseconds(states: readonly Row[], call: (row: Row) => number): number {
  let best = Number.POSITIVE_INFINITY;
  let sum = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const start = performance.now();
    for (let i = 0; i < states.length; i++) sum += call(states[i]!);
    best = Math.min(best, (performance.now() - start) / states.length);
  }
  expect(Number.isFinite(sum)).toBe(true);
  return best * 1000;
}

function ways(name: string): Way[] {
  const fluid = must(refrigerant(name));
  const equation = new Equation(must(refrigerantData(name)));
  const line = readGrid(name, 'saturation');
  const single = readGrid(name, 'single-phase');
  const [liquid, vapour] = [0, 1].map((phase) => single.filter((row) => row['phase'] === phase)) as [Row[], Row[]];
  const wet = line.flatMap((row) =>
    [0.1, 0.5, 0.9].map((q) => ({
      p: row['p']!,
      h: (1 - q) * row['h_liquid']! + q * row['h_vapour']!,
      s: (1 - q) * row['s_liquid']! + q * row['s_vapour']!,
    })),
  );
  const evaluate = (row: Row): number => {
    equation.at(row['T']!, row['rho']!);
    return equation.h;
  };
  const flash = (kind: 'h' | 's') => (row: Row) =>
    must(kind === 'h' ? fluid.PH(row['p']!, row['h']!) : fluid.PS(row['p']!, row['s']!)).T;
  const TP = (row: Row) => must(fluid.TP(row['T']!, row['p']!)).h;
  return [
    ['one evaluation of the equation', 1, single, evaluate],
    ['saturation of T', 0, line, (row) => must(fluid.saturationPressure(row['T']!))],
    ['saturation of p', 0, line, (row) => must(fluid.saturationTemperature(row['p']!))],
    ['TQ, all properties', 1, line, (row) => must(fluid.TQ(row['T']!, 1)).h],
    ['PQ, all properties', 1, line, (row) => must(fluid.PQ(row['p']!, 1)).h],
    ['TP vapour', 2, vapour, TP],
    ['TP liquid', 2, liquid, TP],
    ['PH vapour', 2, vapour, flash('h')],
    ['PH liquid', 2, liquid, flash('h')],
    ['PH two-phase', 0, wet, flash('h')],
    ['PS vapour', 2, vapour, flash('s')],
    ['PS liquid', 2, liquid, flash('s')],
    ['PS two-phase', 0, wet, flash('s')],
  ];
}

function peerFigures(): Record<string, Record<string, number>> {
  const python = process.env['PEER_PYTHON'];
  if (python === undefined) return {};
  const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));
  return JSON.parse(
    execFileSync(python, [here('peer.py'), here('../../oracle/grids'), ...REFRIGERANTS], { encoding: 'utf8' }),
  );
}

const peer = peerFigures();

describe.each(REFRIGERANTS)('%s', (name) => {
  test('calls per second', () => {
    const rows = ways(name);
    for (const [, , states, call] of rows) microseconds(states, call);
    const measured = rows.map(([label, least, states, call]) => ({ label, least, time: microseconds(states, call) }));
    const one = measured[0]!.time;
    const data = must(refrigerantData(name));
    const start = performance.now();
    for (let i = 0; i < 20; i++) new PureRefrigerant(data);
    const building = ((performance.now() - start) / 20) * 1000;
    const lines = [...measured, { label: 'building the refrigerant', least: 0, time: building }].map((row) => {
      const theirs = peer[name]?.[row.label];
      const cells = [
        row.label.padEnd(32),
        `${row.time.toFixed(2).padStart(8)} us`,
        `${(row.time / one).toFixed(1).padStart(7)} evaluations`,
        `floor ${row.least}`,
        theirs === undefined ? '' : `peer ${theirs.toFixed(2).padStart(7)} us, ${(theirs / row.time).toFixed(1)} x`,
      ];
      return `  ${cells.join('  ').trimEnd()}`;
    });
    const loop = peer[name]?.['overhead'];
    console.log(
      `${name}${loop === undefined ? '' : ` (empty loop of the peer ${loop.toFixed(2)} us)`}\n${lines.join('\n')}`,
    );
  });
});
