/**
 * What was learned, as figures: the main compressor's efficiency at the larger flow that it would carry without
 * economizer over its present one, and the bounds of the economizer's saving by it.
 */
import { type Figure, isMissing, type MetricDefinition, type Missing, missing } from '../../base/metric.ts';
import { arrangementOf } from '../arrangements/table.ts';
import { efficiencyName } from '../metrics/compressors.ts';
import { DEFAULT_RATIO } from '../metrics/economizer.ts';
import type { Cell } from './cells.ts';
import { type LearningMinute, placeOf, wayOf } from './learner.ts';
import { type LearnedRatio, learnedRatio, type RatioAsked } from './surface.ts';

/** A minute's ratio, or why there is none. */
export type LearnedContext = LearnedRatio | Missing;

const RATIO = 'economizer.efficiency_ratio';
const MINUTES = 'economizer.efficiency_ratio_minutes';
const SAVING = 'economizer.saving_fraction';
const WITHOUT = 'economizer.suction_volume_flow_without';
const FLOW = 'main_compressor.suction_volume_flow';
const INPUTS = [FLOW, WITHOUT, 'main_compressor.isentropic_head', 'main_compressor.polytropic_efficiency'];
const FORMULA =
  'eta(economizer.suction_volume_flow_without)/eta(main_compressor.suction_volume_flow) at the same isentropic head: planes by least squares through the steady minutes within 15 % of flow and 20 % of head, both divided by the sound speed at suction; two-stage machines: the first of both from minutes with the economizer off. What the sensors are wrong by is in both and cancels';

export const LEARNED_METRICS: readonly MetricDefinition<LearnedContext>[] = [
  {
    name: RATIO,
    unit: '1',
    meaning: `main compressor's efficiency at the larger flow that it would carry without economizer over its present one, as learned from steady minutes; null where the site file gives efficiency_ratio or that flow was never seen at this head: then ${DEFAULT_RATIO.low} to ${DEFAULT_RATIO.high} stand in`,
    formula: FORMULA,
    inputs: INPUTS,
    compute: (c) => ('missing' in c ? c : c.value),
  },
  {
    name: MINUTES,
    unit: 'count',
    meaning: `steady minutes that ${RATIO} was learned from, near the flow where there are fewer; old ones fade`,
    formula: 'minutes within 15 % of flow and 20 % of head, those farther off counting less',
    inputs: INPUTS,
    compute: (c) => ('missing' in c ? c : c.minutes),
  },
];

function ratioNow(cells: readonly Cell[], minute: LearningMinute): LearnedContext {
  const { figures, parameters, solution } = minute;
  const saving = figures[SAVING];
  if (saving === undefined || saving.value === null) return missing(saving?.reason ?? 'no saving is told');
  if (parameters.efficiency_ratio !== undefined) return missing('the site file gives efficiency_ratio, which holds');
  if (solution.economizer !== 'on') return missing('no point says whether the economizer is on');
  const asked = askedOf(minute);
  if (asked === null) return missing(`${STANDS_IN}: this minute does not tell flow, head and efficiency`);
  const found = learnedRatio(cells, asked);
  if (!('unseen' in found)) {
    // what is known without learning anything is no worse
    if (2 * found.u <= (DEFAULT_RATIO.high - DEFAULT_RATIO.low) / 2) return found;
    const known = `${found.value.toFixed(3)} +- ${(2 * found.u).toFixed(3)}`;
    return missing(`learned to no better than ${known}, ${DEFAULT_RATIO.low} to ${DEFAULT_RATIO.high} stand in`);
  }
  const staged = arrangementOf(parameters).economizer === 'between_stages';
  const where = found.unseen === 'there' ? 'the larger flow without economizer' : 'this flow';
  const off = found.unseen === 'there' && staged ? ' with the economizer off' : '';
  return missing(`${STANDS_IN}: ${where} was not seen steady at this head${off} for long enough`);
}

const STANDS_IN = `not learned, ${DEFAULT_RATIO.low} to ${DEFAULT_RATIO.high} stand in`;

function askedOf({ solution, figures, parameters }: LearningMinute): RatioAsked | null {
  const { operating } = solution;
  if (operating === null || operating.without === null) return null;
  const { x, y } = placeOf(operating);
  const relative = (name: string, more = 0): number => {
    const { value, uncertainty } = figures[name] ?? { value: null, uncertainty: null };
    return value === null || uncertainty === null ? 0 : uncertainty / 2 / (more + value);
  };
  const step = Math.log(operating.without / operating.flow);
  return {
    there: { way: wayOf(parameters, 'off', operating), x: x + step, y },
    here: { way: wayOf(parameters, 'on', operating), x, y },
    shared: relative(efficiencyName(parameters)),
    apart: operating.apart,
    air: operating.air,
    step: Math.hypot(step * relative(FLOW), relative('economizer.refrigerating_effect_gain', 1)),
  };
}

/** The learned figures of a minute; bounds only where they are learned, in the place of those by default. */
export function learnedFigures(cells: readonly Cell[], minute: LearningMinute): Record<string, Figure> {
  const found = ratioNow(cells, minute);
  const saving = minute.figures[SAVING];
  const doubt = { quality: saving?.quality ?? 'good', reason: saving?.reason ?? null };
  const made: Record<string, Figure> = {};
  for (const { name, compute } of LEARNED_METRICS) {
    const value = compute(found);
    made[name] = isMissing(value)
      ? { value: null, uncertainty: null, quality: 'bad', reason: value.missing }
      : { value, uncertainty: null, ...doubt };
  }
  if ('missing' in found || saving === undefined || saving.value === null) return made;
  const { value, u } = found;
  const without = 1 - saving.value;
  const bound = (ratio: number): Figure => ({
    ...saving,
    value: 1 - without * ratio,
    uncertainty: saving.uncertainty === null ? null : saving.uncertainty * ratio,
  });
  return {
    ...made,
    [RATIO]: { value, uncertainty: 2 * u, ...doubt },
    [`${SAVING}_low`]: bound(value + 2 * u),
    [`${SAVING}_high`]: bound(value - 2 * u),
  };
}
