/** The synthetic suite's count: verdicts and causes by class. */
import { analyseLoop } from '../../../agent/valves/analyse.ts';
import type { Driver, LoopVerdict } from '../../../agent/valves/types.ts';
import { CLASSES, type LoopClass } from './classes.ts';
import { type Draw, type Made, normal, uniform } from './loops.ts';

/** As the agent sees it: `position` false leaves the position out, as on a machine without feedback. */
export function judged(made: Made, { position }: { readonly position: boolean }): LoopVerdict {
  const columns = (values: Float64Array) => ({ times: made.times, values });
  const drivers: Driver[] = [];
  if (made.inflow !== null)
    drivers.push({ name: 'condenser_valve.position', relation: 'inflow', columns: columns(made.inflow) });
  if (made.pressure !== null)
    drivers.push({ name: 'flash_tank.pressure', relation: 'pressure', columns: columns(made.pressure) });
  return analyseLoop(
    {
      kind: 'level',
      measured: columns(made.level),
      output: columns(made.command),
      position: position ? columns(made.position) : null,
      setpoint: columns(made.setpoint),
      drivers,
      band: 0.01,
      stroke: 1,
    },
    'recent',
  );
}

export interface ClassScore {
  readonly name: string;
  readonly hunts: boolean;
  readonly cases: number;
  /** Verdict as it should be. */
  readonly right: number;
  /** Cause as it should be, of those found hunting; null where none is asked for. */
  readonly causes: number | null;
  readonly verdicts: Readonly<Record<string, number>>;
}

export interface SuiteScore {
  readonly classes: readonly ClassScore[];
  readonly recall: number;
  readonly precision: number;
  /** By cause: of those named so, how many are; of those that are, how many named so. */
  readonly causes: Readonly<Record<string, { readonly precision: number; readonly recall: number }>>;
}

function seedOf(seed: number, name: string, index: number): number {
  let hash = 2166136261 ^ seed;
  for (const sign of `${name}/${index}`) hash = Math.imul(hash ^ sign.charCodeAt(0), 16777619);
  return hash >>> 0;
}

export function makeCase(kind: LoopClass, seed: number, index: number): Made {
  const made = kind.make(uniform(seedOf(seed, kind.name, index)));
  const draw = uniform(seedOf(seed, `${kind.name}/feedback`, index));
  return {
    ...made,
    position: read(made.position, draw),
    inflow: made.inflow === null ? null : read(made.inflow, draw),
  };
}

/** Position feedback: noise of 0.05 % and steps of 0.1 % of stroke. */
function read(position: Float64Array, draw: Draw): Float64Array {
  return position.map((value) => Math.round(1000 * (value + 5e-4 * normal(draw))) / 1000);
}

export function scoreSuite(seed: number, cases: number, options: { readonly position: boolean }): SuiteScore {
  const named: { readonly is: string; readonly said: string | null }[] = [];
  const classes = CLASSES.map((kind): ClassScore => {
    const verdicts: Record<string, number> = {};
    let [right, causes] = [0, 0];
    for (let i = 0; i < cases; i++) {
      const verdict = judged(makeCase(kind, seed, i), options);
      const label = verdict.verdict === 'hunting' ? `hunting: ${verdict.cause}` : verdict.verdict;
      verdicts[label] = (verdicts[label] ?? 0) + 1;
      if ((verdict.verdict === 'hunting') === kind.hunts) right++;
      if (verdict.cause !== null && kind.causes.includes(verdict.cause)) causes++;
      if (kind.causes.length > 0) named.push({ is: kind.causes[0] as string, said: verdict.cause });
    }
    const { name, hunts } = kind;
    return { name, hunts, cases, right, causes: kind.causes.length === 0 ? null : causes, verdicts };
  });
  const sum = (of: readonly ClassScore[]): number => of.reduce((total, { right }) => total + right, 0);
  const [positive, negative] = [classes.filter(({ hunts }) => hunts), classes.filter(({ hunts }) => !hunts)];
  const wrong = negative.length * cases - sum(negative);
  return {
    classes,
    recall: sum(positive) / (positive.length * cases),
    precision: sum(positive) / (sum(positive) + wrong),
    causes: Object.fromEntries(
      [...new Set(named.map(({ is }) => is))].map((cause) => {
        const both = named.filter(({ is, said }) => is === cause && said === cause).length;
        const said = named.filter((each) => each.said === cause).length;
        return [cause, { precision: both / said, recall: both / named.filter(({ is }) => is === cause).length }];
      }),
    ),
  };
}
