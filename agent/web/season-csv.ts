/** Steps of a season as a table (RFC 4180): one line a machine and step, units in the head. */
import type { StepFigure } from '../season/answer.ts';
import type { SeasonAnswer } from '../season/plant.ts';

type Cell = string | number | null;

const COLUMNS: readonly (readonly [string, (step: StepFigure) => Cell])[] = [
  ['step', ({ name }) => name],
  ['from', ({ from }) => from],
  ['to', ({ to }) => to],
  ['minutes_due', (step) => step.minutes_due],
  ['minutes_used', (step) => step.minutes_used],
  ['minutes_standing', (step) => step.minutes_standing],
  ['minutes_lacking', (step) => step.minutes_lacking],
  ['ton_hours', (step) => step.ton_hours],
  ['ton_hours_uncertainty', (step) => step.uncertainty.ton_hours],
  ['kwh', (step) => step.kwh],
  ['kwh_uncertainty', (step) => step.uncertainty.kwh],
  ['kw_per_ton', (step) => step.kw_per_ton],
  ['kw_per_ton_uncertainty', (step) => step.uncertainty.kw_per_ton],
  ['kwh_saved_by_economizer', (step) => step.kwh_saved],
  ['kwh_missed_by_economizer', (step) => step.kwh_missed],
  ['hours_compared', ({ against }) => against?.hours ?? null],
  ['kwh_compared', ({ against }) => against?.kwh ?? null],
  ['kwh_expected', ({ against }) => against?.kwh_expected ?? null],
  ['deviation', ({ against }) => against?.deviation ?? null],
  ['deviation_uncertainty', ({ against }) => against?.uncertainty.deviation ?? null],
  ['cost_of_deviation', ({ against }) => against?.cost ?? null],
  ['cost_uncertainty', ({ against }) => against?.cost_uncertainty ?? null],
];

/** Missing is an empty cell. */
export function seasonCsv({ chillers }: SeasonAnswer): string {
  const lines = [['chiller', ...COLUMNS.map(([name]) => name)].join(',')];
  for (const { chiller, steps } of chillers)
    for (const step of steps) lines.push([chiller, ...COLUMNS.map(([, of]) => of(step))].map(written).join(','));
  return `${lines.join('\r\n')}\r\n`;
}

/** What a spreadsheet would take for a formula is no name of ours: ids are letters, digits and hyphens. */
function written(cell: Cell): string {
  if (cell === null) return '';
  return typeof cell === 'number' ? String(Number(cell.toPrecision(10))) : cell;
}
