/**
 * Twenty point lists as sites have them, on one machine at one condition: what is solved and how well, what is checked
 * by the rest, what is not solved and why. Sensor uncertainties as the lists say; the condition is that of the
 * reference figures.
 *
 * node agent/launch.cjs --node tests/proof/point-lists.ts [--why]
 */
import { parseArgs } from 'node:util';
import { must } from '../../agent/base/result.ts';
import { prepare } from '../../agent/cycle/solve.ts';
import type { Solution } from '../../agent/cycle/types.ts';
import { consistent, only, type Points, SETS, snapshotOf } from './consistent.ts';

const truth = consistent();
const ALL = SETS['all'] as readonly string[];
const [A, B, C, D] = ['A', 'B', 'C', 'D'].map((name) => SETS[name] as readonly string[]) as [
  readonly string[],
  readonly string[],
  readonly string[],
  readonly string[],
];
const CHILLED = ['chilled_water.entering_temperature', 'chilled_water.leaving_temperature'];
const CONDENSER = ['condenser_water.entering_temperature', 'condenser_water.leaving_temperature'];
const without = (from: readonly string[], ...names: string[]) => from.filter((name) => !names.includes(name));

interface List {
  readonly words: string;
  readonly points: readonly string[];
  /** Relative standard uncertainty instead of the usual one. */
  readonly relative?: Readonly<Record<string, number>>;
  readonly matched?: true;
  readonly bundle?: true;
}

const LISTS: readonly List[] = [
  { words: 'pressures and chilled water alone', points: [...CHILLED, 'evaporator.pressure', 'condenser.pressure'] },
  { words: 'A: four water temperatures, both pressures', points: A },
  { words: 'A and the liquid temperature', points: [...A, 'condenser.liquid_temperature'] },
  { words: 'B: A, tank pressure, liquid temperature', points: B },
  {
    words: 'B with the tank by its temperature',
    points: [...without(B, 'flash_tank.pressure'), 'flash_tank.temperature'],
  },
  { words: 'B and total power', points: [...B, 'unit.power'] },
  {
    words: 'eight sensors of common field sites',
    points: [
      ...without(B, 'flash_tank.pressure', ...CONDENSER.slice(0, 1)),
      'main_compressor.discharge_temperature',
      'unit.power',
    ],
  },
  { words: 'C: B, power, discharge temperature', points: C },
  { words: 'C with economizer discharge', points: [...C, 'economizer_compressor.discharge_temperature'] },
  { words: 'D: B, power, magnetic flow meter 1 %', points: D },
  { words: 'D, insertion flow meter 3 %', points: D, relative: { 'chilled_water.flow': 0.03 } },
  { words: 'D, flow a design value 12 %', points: D, relative: { 'chilled_water.flow': 0.12 } },
  {
    words: 'D, flow from the bundle 5 %',
    points: without([...D, 'chilled_water.pressure_drop'], 'chilled_water.flow'),
    bundle: true,
  },
  { words: 'D, matched water sensors', points: D, matched: true },
  {
    words: 'condenser water flow instead of chilled',
    points: [...without(D, 'chilled_water.flow'), 'condenser_water.flow'],
  },
  { words: 'C + D', points: SETS['C+D'] as readonly string[] },
  { words: 'C + D, matched water sensors', points: SETS['C+D'] as readonly string[], matched: true },
  { words: 'C + D, condenser water flow', points: SETS['C+D+condenser flow'] as readonly string[] },
  {
    words: 'C + D, condenser flow, economizer power',
    points: SETS['C+D+condenser flow+economizer power'] as readonly string[],
  },
  { words: 'everything', points: ALL },
];

const KEYS = [
  ['lift K', 'main_compressor.lift', 1],
  ['x4', 'flash_tank.flash_fraction', 1],
  ['tons %', 'unit.capacity', 0],
  ['kW/ton %', 'unit.kw_per_ton', 0],
  ['kg/s %', 'evaporator.mass_flow', 0],
  ['main eff.', 'main_compressor.isentropic_efficiency', 1],
  ['saving', 'economizer.saving_fraction', 1],
  ['cond. UA %', 'condenser.ua', 0],
] as const;

function solved({ points: names, relative, matched, bundle }: List): Solution {
  const given: Points = only(
    { ...truth.points, 'chilled_water.pressure_drop': { ...truth.points['chilled_water.flow']!, value: 6e4, u: 1200 } },
    names,
  );
  const points = Object.fromEntries(
    Object.entries(given).map(([name, point]) => {
      const share = relative?.[name];
      return [name, share === undefined ? point : { ...point, u: share * (point.value as number) }];
    }),
  );
  const flow = truth.points['chilled_water.flow']?.value as number;
  const solver = prepare({
    ...truth.parameters,
    matched_water_sensors: matched === true,
    ...(bundle === true
      ? { chilled_water_bundle: { flow, pressure_drop: 6e4, exponent: 1.85, uncertainty: 0.05 } }
      : {}),
  });
  return must(solver).solve(snapshotOf(points));
}

function cell({ metrics }: Solution, name: string, absolute: number): string {
  const figure = metrics[name];
  if (figure?.value == null || figure.uncertainty === null) return '-';
  return absolute === 1
    ? String(Number(figure.uncertainty.toPrecision(2)))
    : ((100 * figure.uncertainty) / figure.value).toFixed(1);
}

const { values } = parseArgs({ options: { why: { type: 'boolean', default: false } } });
process.stdout.write(
  `${''.padEnd(46)} points  dof  checked ${KEYS.map(([head]) => head.padStart(10)).join(' ')}   figures\n`,
);
for (const list of LISTS) {
  const solution = solved(list);
  const { reconciliation, metrics, unobservable } = solution;
  const checked = Object.values(reconciliation.points).filter(({ redundant }) => redundant).length;
  const there = Object.values(metrics).filter(({ value }) => value !== null).length;
  const cells = KEYS.map(([, name, absolute]) => cell(solution, name, absolute).padStart(10)).join(' ');
  process.stdout.write(
    `${list.words.padEnd(46)} ${String(list.points.length).padStart(6)} ${String(reconciliation.chi_square?.dof ?? 0).padStart(4)} ` +
      `${String(checked).padStart(8)} ${cells}   ${there}\n`,
  );
  if (!values.why) continue;
  const reasons = new Map<string, string[]>();
  for (const name of unobservable) {
    const reason = metrics[name]?.reason ?? '';
    reasons.set(reason, [...(reasons.get(reason) ?? []), name]);
  }
  for (const [reason, names] of reasons) process.stdout.write(`    not ${names.join(', ')}: ${reason}\n`);
}
