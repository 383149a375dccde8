/** `check --explain`: the whole solution of one interval on the terminal. */
import { type Figure, partsOf } from '../base/metric.ts';
import { differenceFromSi, fromSi, type UnitName } from '../base/units.ts';
import type { CheckedChiller } from '../checking.ts';
import { CYCLE_METRICS } from '../cycle/metrics/definitions.ts';
import type { OneMore } from '../cycle/one-more.ts';
import type { Reconciliation } from '../cycle/types.ts';
import { catalogue } from '../metrics/catalogue.ts';
import { pointDefinition } from '../points/dictionary.ts';
import { number, table, withUnit } from './check-text.ts';

/** Metrics of a further sensor that are told by name, and sensors that are told at all. */
const METRICS_TOLD = 4;
const SENSORS_TOLD = 8;
/** What most people buy a sensor for, in this order; the rest follows by how much it gains. */
const WANTED = [
  'unit.kw_per_ton',
  'unit.capacity',
  'economizer.saving_fraction',
  'main_compressor.polytropic_efficiency',
  'economizer_compressor.polytropic_efficiency',
  'condenser.ua',
  'evaporator.ua',
];

export function explainText(checked: CheckedChiller): string {
  const { solution, points, one_more } = checked;
  const used = points.filter(({ value }) => value !== null);
  const lines = [
    `${checked.chiller}, solved from these readings; uncertainties are expanded (k = 2)`,
    '',
    `Points used: ${used.length} of ${points.length}. Economizer: ${solution.economizer}.`,
    '',
    ...pointLines(solution.reconciliation),
    ...verdictLines(solution.reconciliation),
    ...balanceLines(solution.reconciliation),
    ...storageLines(checked),
    ...stateLines(checked),
    ...metricLines(checked),
    ...savingLines(checked),
    '',
    ...lastingLines(checked),
    ...sensorLines(one_more),
  ];
  return `${lines.join('\n')}\n\n`;
}

function pointLines({ points, corrections }: Reconciliation): string[] {
  const rows = Object.entries(points).map(([name, { measured, value, before, after, random, redundant }]) => {
    const { unit } = pointDefinition(name);
    const z = corrections[name];
    return [
      name,
      withUnit(fromSi(measured, unit), unit),
      plus(2 * differenceFromSi(before, unit)),
      random > 0 ? plus(2 * differenceFromSi(random, unit)) : '',
      withUnit(fromSi(value, unit), unit),
      plus(2 * differenceFromSi(after, unit)),
      z === undefined ? '' : z.toFixed(2),
      redundant ? 'yes' : 'no',
    ];
  });
  if (rows.length === 0) return [];
  const heads = ['point', 'measured', '+-', 'of it scatter', 'reconciled', '+-', 'correction z', 'others tell it'];
  return [...table(heads, rows), ''];
}

function verdictLines({ chi_square, suspects, groups, problem }: Reconciliation): string[] {
  if (problem !== null) return [`The readings could not be brought into agreement: ${problem}.`, ''];
  if (chi_square === null)
    return ['Nothing is measured twice, not even by way of a balance: no reading checks another.', ''];
  const { value, dof, p } = chi_square;
  const lines = [
    `Balances against readings: chi-square ${number(value)} with ${dof} to spare, p ${number(p)}: ${
      p < 0.05 ? 'they contradict each other.' : 'they agree.'
    }`,
  ];
  const [first] = suspects;
  if (p < 0.05 && first === undefined) lines.push('No single sensor explains it.');
  if (suspects.length === 1 && first?.length === 1) lines.push(`Suspect: ${first[0]}.`);
  else if (suspects.length > 0)
    lines.push(
      `One of these is off, which one cannot be told: ${suspects.map((group) => group.join(' or ')).join('; ')}.`,
    );
  const alike = groups.filter((group) => group.length > 1);
  if (alike.length > 0)
    lines.push('Cannot be told apart whatever they read:', ...alike.map((g) => `  ${g.join(', ')}`));
  return [...lines, ''];
}

function balanceLines({ balances }: Reconciliation): string[] {
  if (balances.length === 0) return [];
  const rows = balances.map(({ name, unit, before, after }) => {
    const [factor, label] = unit === 'W' ? [1e-3, 'kW'] : [1, unit === '1' ? '' : unit];
    return [name, (before * factor).toFixed(3), (after * factor).toFixed(3), label];
  });
  return [...table(['balance', 'off by, as measured', 'reconciled', ''], rows), ''];
}

/** What the vessels take up while their levels move; the evaporator gives it. */
function storageLines({ solution }: CheckedChiller): string[] {
  const stored = Object.entries(solution.metrics).flatMap(([name, { value, uncertainty }]) =>
    name.endsWith(STORAGE) && value !== null ? [{ vessel: name.slice(0, -STORAGE.length), value, uncertainty }] : [],
  );
  if (stored.length === 0) return [];
  const rows = stored.map(({ vessel, value, uncertainty }) => [
    vessel,
    value.toFixed(3),
    uncertainty === null ? '' : plus(uncertainty),
  ]);
  const given = -stored.reduce((sum, { value }) => sum + value, 0);
  return [...table(['stored in', 'kg/s', '+-'], [...rows, ['evaporator', given.toFixed(3), '']]), ''];
}

const STORAGE = '.storage_mass_flow';

function stateLines({ solution }: CheckedChiller): string[] {
  const states = Object.entries(solution.states).map(([id, { T, p, h, s, q, m }]) => [
    id,
    number(fromSi(T, 'degC')),
    number(fromSi(p, 'kPa')),
    number(h / 1000),
    number(s / 1000),
    q === null ? '' : number(q),
    m === null ? '' : number(m),
  ]);
  if (states.length === 0) return [];
  return [...table(['state', 'T °C', 'p kPa', 'h kJ/kg', 's kJ/(kg K)', 'vapour', 'kg/s'], states), ''];
}

function metricLines({ solution }: CheckedChiller): string[] {
  const units = catalogue();
  const redundant = new Set(solution.reconciliation.redundant);
  const rows = Object.entries(solution.metrics).map(([name, figure]) => {
    const unit = units[name]?.unit ?? '1';
    const known = figure.uncertainty === null ? '' : redundant.has(name) ? 'twice' : 'once';
    return [name, figureText(figure, unit), uncertaintyText(figure), known, figure.reason ?? ''];
  });
  return table(['metric', 'value', '+-', 'told', 'why not, or why doubtful'], rows);
}

/** What hours and seasons make of these uncertainties. */
function lastingLines({ solution }: CheckedChiller): string[] {
  const units = catalogue();
  const rows = CYCLE_METRICS.flatMap(({ name, summed }) => {
    const figure = summed === true ? solution.metrics[name] : undefined;
    const parts = figure === undefined ? null : partsOf(figure);
    if (parts === null) return [];
    const unit = units[name]?.unit ?? '1';
    const told = (part: number): string => withUnit(Number(part.toPrecision(2)), unit);
    return [[name, told(parts.kept), parts.random > 0 ? told(parts.random) : 'none seen']];
  });
  if (rows.length === 0) return [];
  const heads = ['summed over hours and seasons', '+- that lasts', '+- new in each interval'];
  return [...table(heads, rows), ''];
}

/** Where the bounds of the economizer's saving come from. */
function savingLines({ solution: { metrics } }: CheckedChiller): string[] {
  const ratio = metrics['economizer.efficiency_ratio'];
  if (ratio === undefined || metrics['economizer.saving_fraction']?.value == null) return [];
  const minutes = metrics['economizer.efficiency_ratio_minutes']?.value ?? 0;
  const from =
    ratio.value === null
      ? (ratio.reason ?? 'not learned')
      : `${number(ratio.value)} +- ${plus(ratio.uncertainty ?? 0)}, learned from ${minutes} steady minutes`;
  return [
    '',
    `Bounds of the saving, by the main compressor's efficiency without economizer over that with it: ${from}.`,
  ];
}

function sensorLines(all: readonly OneMore[]): string[] {
  if (all.length === 0) return ['No further sensor that the cycle knows would tell more.'];
  const units = catalogue();
  const lines = ['One more sensor would bring (+- of each metric now and then):'];
  for (const { point, metrics, checks } of all.slice(0, SENSORS_TOLD)) {
    const order = [...metrics].sort((a, b) => rank(a) - rank(b));
    const told = order.slice(0, METRICS_TOLD).map(({ name, now, with_it }) => {
      const unit = units[name]?.unit ?? '1';
      return now === null
        ? `${name} +-${withUnit(Number(with_it.toPrecision(2)), unit)}`
        : `${name} ${plus(now)} -> ${withUnit(Number(with_it.toPrecision(2)), unit)}`;
    });
    const more = metrics.length - told.length;
    lines.push(`  ${point}: ${told.length === 0 ? 'no figure' : told.join('; ')}${more > 0 ? `; ${more} more` : ''}`);
    if (checks.length > 0) lines.push(`    and a check of ${checks.join(', ')}`);
  }
  return lines;
}

/** Wanted ones first, then new ones, then by how far the uncertainty falls. */
function rank({ name, now, with_it }: OneMore['metrics'][number]): number {
  const place = WANTED.indexOf(name);
  if (place >= 0) return place - WANTED.length - 1;
  return now === null ? 0 : with_it / now;
}

function plus(value: number): string {
  return String(Number(value.toPrecision(2)));
}

function figureText({ value }: Figure, unit: UnitName): string {
  return value === null ? '-' : withUnit(value, unit);
}

function uncertaintyText({ uncertainty }: Figure): string {
  return uncertainty === null ? '' : plus(uncertainty);
}
