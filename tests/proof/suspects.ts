/**
 * How well a bad sensor is found: minutes in which every sensor and assumption has an error of its stated uncertainty
 * and one sensor a bias of 3, 5 or 8 standard uncertainties on top, judged as the agent judges one minute. Beside it
 * what theory gives: errors that are normal and balances that are straight, so that what the constraints show is one
 * normal vector about the bias's own signature; the chance that the global test fails and the correction of the right
 * group passes its limit, and the chance that the whole rule then accuses that group, alone or among others.
 *
 * node agent/launch.cjs --node tests/proof/suspects.ts [--set all] [--minutes 1000] [--seed 20261128] [--bias 5]
 *
 * Then whole days without a fault: minutes drawn anew, and sensors that keep one offset for the day; how many days name
 * or accuse anybody after the persistence that the agent asks for.
 */
import { parseArgs } from 'node:util';
import { chiSquareTail, sidakLimit } from '../../agent/base/chi-square.ts';
import { openBooks } from '../../agent/cycle/books.ts';
import { candidatesOf } from '../../agent/cycle/inputs.ts';
import type { Balanced } from '../../agent/cycle/reconciliation/reconcile.ts';
import { reconciliationOf } from '../../agent/cycle/reconciliation/report.ts';
import type { Verdict } from '../../agent/cycle/reconciliation/suspects.ts';
import { NO_SUSPICION, nextSuspicion } from '../../agent/diagnosis/suspicion.ts';
import { consistent, drawn, normal, only, type Points, prepared, SETS, snapshotOf } from './consistent.ts';

const LEVEL = 0.05;

type Truth = ReturnType<typeof consistent>;

export interface Tally {
  readonly sensor: string;
  readonly bias: number;
  /** Share of its uncertainty that shows in the balances. */
  readonly share: number;
  /** Size of the group that cannot be told apart from it. */
  readonly alike: number;
  /** One explanation, and it is the group of the sensor: named where the group is the sensor alone. */
  readonly right: number;
  readonly wrong: number;
  /** Several explanations, the right one among them. */
  readonly among: number;
  readonly none: number;
  readonly theory: Theory;
}

/** Chances. */
export interface Theory {
  /** The global test fails and the sensor's own correction passes the limit. */
  readonly power: number;
  /** The rule's only explanation is the sensor's group; it is one of several. */
  readonly right: number;
  readonly among: number;
}

/** One table for all minutes: drawn assumptions do not change it. */
const MACHINE = prepared(consistent().parameters);

function judged(truth: Truth, points: Points, next: () => number, bias?: readonly [string, number]): Verdict {
  const { points: seen, parameters } = drawn({ points, parameters: truth.parameters }, next);
  const moved =
    bias === undefined
      ? seen
      : Object.fromEntries(
          Object.entries(seen).map(([name, point]) => [
            name,
            name === bias[0] ? { ...point, value: (point.value as number) + bias[1] * (point.u as number) } : point,
          ]),
        );
  const books = openBooks({ ...MACHINE, parameters }, snapshotOf(moved), { uncertainty: true });
  if (books.verdict === null) throw new Error(`nothing to test: ${String(books.balanced)}`);
  return books.verdict;
}

const ROUNDS = 20_000;
/** Twice the log of the likelihood ratio that tells two explanations apart, 95 % of chi-square with one degree. */
const MARGIN = 3.841;

/**
 * By simulation of the linear model alone. `directions`: how an error of each group shows in the constraints, of length
 * one; `own`: that of the sensor; `shift`: its bias as it shows, in standard deviations.
 */
export function theory(
  directions: readonly (readonly number[])[],
  own: number,
  shift: number,
  next: () => number,
): Theory {
  const dof = directions[0]?.length ?? 0;
  const limit = sidakLimit(directions.length, LEVEL);
  const found = { power: 0, right: 0, among: 0 };
  for (let round = 0; round < ROUNDS; round++) {
    const shown = (directions[own] as readonly number[]).map((part) => shift * part + next());
    const square = shown.reduce((sum, part) => sum + part ** 2, 0);
    if (chiSquareTail(square, dof) >= LEVEL) continue;
    const z = directions.map((direction) => Math.abs(direction.reduce((sum, part, k) => sum + part * shown[k]!, 0)));
    if (z[own]! > limit) found.power += 1;
    const best = Math.max(...z);
    if (best <= limit || (dof > 1 && chiSquareTail(Math.max(0, square - best ** 2), dof - 1) < LEVEL)) continue;
    if (best ** 2 - z[own]! ** 2 >= MARGIN) continue;
    if (z.filter((each) => best ** 2 - each ** 2 < MARGIN).length === 1) found.right += 1;
    else found.among += 1;
  }
  return { power: found.power / ROUNDS, right: found.right / ROUNDS, among: found.among / ROUNDS };
}

/** `sensors`: those that get the bias; left out: all of the set. */
export function campaign(
  set: readonly string[],
  minutes: number,
  biases: readonly number[],
  seed: number,
  sensors: readonly string[] = set,
): Tally[] {
  const truth = consistent();
  const points = only(truth.points, set);
  const at = openBooks(prepared(truth.parameters), snapshotOf(points), { uncertainty: true });
  const verdict = at.verdict as Verdict;
  const { adjustment } = at.balanced as Balanced;
  const shown = new Map(
    candidatesOf(at.leaf.interval.inputs).map(({ name, error }) => [name, adjustment.signature(error)]),
  );
  const directions = verdict.groups.map(([name]) => {
    const signature = shown.get(name as string) as number[];
    return signature.map((part) => part / Math.hypot(...signature));
  });
  const next = normal(seed);
  return sensors.flatMap((sensor) => {
    const share = verdict.checked[sensor];
    const group = verdict.groups.find((names) => names.includes(sensor));
    if (share === undefined || group === undefined) return [];
    return biases.map((bias): Tally => {
      const count = { right: 0, wrong: 0, among: 0, none: 0 };
      for (let minute = 0; minute < minutes; minute++) {
        const { suspects } = judged(truth, points, next, [sensor, minute % 2 === 0 ? bias : -bias]);
        const holds = suspects.some((names) => names.includes(sensor));
        if (suspects.length === 0) count.none += 1;
        else if (!holds) count.wrong += 1;
        else if (suspects.length === 1) count.right += 1;
        else count.among += 1;
      }
      const own = verdict.groups.indexOf(group);
      return {
        sensor,
        bias,
        share,
        alike: group.length,
        ...count,
        theory: theory(directions, own, bias * share, next),
      };
    });
  });
}

export interface Days {
  readonly days: number;
  /** Days on which one sensor was named alone; on which a group or several were accused. */
  readonly named: number;
  readonly accused: number;
}

/** Days of steady minutes without a fault: `kept` of each error's variance stays the same through the day. */
export function quietDays(set: readonly string[], days: number, minutes: number, kept: number, seed: number): Days {
  const truth = consistent();
  const points = only(truth.points, set);
  const next = normal(seed);
  let [named, accused] = [0, 0];
  for (let day = 0; day < days; day++) {
    const offset = drawn({ points, parameters: truth.parameters }, next);
    let state = NO_SUSPICION;
    let [one, several] = [false, false];
    for (let minute = 0; minute < minutes && !(one && several); minute++) {
      const noise = drawn({ points, parameters: truth.parameters }, next);
      const mixed = Object.fromEntries(
        Object.entries(points).map(([name, point]) => {
          const true_ = point.value as number;
          const fixed = ((offset.points[name]?.value ?? true_) - true_) * Math.sqrt(kept);
          const fresh = ((noise.points[name]?.value ?? true_) - true_) * Math.sqrt(1 - kept);
          return [name, { ...point, value: true_ + fixed + fresh }];
        }),
      );
      const machine = { ...MACHINE, parameters: kept > 0 ? offset.parameters : noise.parameters };
      const snapshot = snapshotOf(mixed);
      const books = openBooks(machine, snapshot, { uncertainty: true });
      const reconciliation = reconciliationOf(books, snapshot, new Map());
      state = nextSuspicion(state, {
        reconciliation,
        steady: true,
        interval_s: 60,
        time: snapshot.time + 60_000 * minute,
      });
      if (state.suspects.flat().length === 1) one = true;
      else if (state.suspects.length > 0) several = true;
      // without noise of its own every further minute of the day is the same
      if (kept === 1 && minute > 12) break;
    }
    if (one) named += 1;
    if (several) accused += 1;
  }
  return { days, named, accused };
}

function percent(count: number, of: number): string {
  return `${((100 * count) / of).toFixed(1)} %`.padStart(8);
}

if (import.meta.main) {
  const { values } = parseArgs({
    options: {
      set: { type: 'string', default: 'all' },
      minutes: { type: 'string', default: '1000' },
      days: { type: 'string', default: '1000' },
      seed: { type: 'string', default: '20261128' },
      bias: { type: 'string', multiple: true, default: ['3', '5', '8'] },
    },
  });
  const set = SETS[values.set] as readonly string[];
  const minutes = Number(values.minutes);
  process.stdout.write(
    `${'sensor'.padEnd(44)} bias  share alike    right    among    wrong     none   theory:  right    among    power\n`,
  );
  for (const row of campaign(set, minutes, values.bias.map(Number), Number(values.seed)))
    process.stdout.write(
      `${row.sensor.padEnd(44)} ${String(row.bias).padStart(4)} ${row.share.toFixed(2).padStart(6)} ${String(row.alike).padStart(5)} ` +
        `${[row.right, row.among, row.wrong, row.none].map((count) => percent(count, minutes)).join(' ')}          ` +
        `${[row.theory.right, row.theory.among, row.theory.power].map((chance) => percent(chance, 1)).join(' ')}\n`,
    );
  const days = Number(values.days);
  for (const [words, kept, length] of [
    ['errors drawn anew each minute, 1440 minutes a day', 0, 1440],
    ['half of each variance kept through the day, 240 minutes', 0.5, 240],
    ['errors kept through the day', 1, 30],
  ] as const) {
    const count = kept === 1 ? days : Math.max(5, Math.round(days / (kept === 0 ? 100 : 10)));
    const found = quietDays(set, count, length, kept, Number(values.seed) + 1);
    process.stdout.write(
      `no fault, ${words}: ${count} days, one sensor named on ${found.named}, a group accused on ${found.accused}\n`,
    );
  }
}
