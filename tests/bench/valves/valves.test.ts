/**
 * What a minute of both level loops costs over two hours of samples every 2 s, by state, beside one plain
 * autocorrelation of the same window of the same run.
 */
import { expect, test } from 'vitest';
import { RUNNING_START, runningRule } from '../../../agent/points/running.ts';
import { autocorrelation } from '../../../agent/valves/autocorrelation.ts';
import { judgeLoops } from '../../../agent/valves/judge.ts';
import { CLASSES } from '../../unit/valves/classes.ts';
import type { Made } from '../../unit/valves/loops.ts';
import { makeCase } from '../../unit/valves/score.ts';

/** Best of several rounds, so that other work on the machine disturbs little; ms. */
function milliseconds(work: () => unknown): number {
  for (let i = 0; i < 5; i++) work();
  let best = Number.POSITIVE_INFINITY;
  for (let round = 0; round < 15; round++) {
    const start = performance.now();
    work();
    best = Math.min(best, performance.now() - start);
  }
  return best;
}

const of = (name: string): Made => {
  const kind = CLASSES.find((each) => each.name === name);
  if (kind === undefined) throw new Error(`no class ${name}`);
  return makeCase(kind, 5, 0);
};

function minuteOf(made: Made, hours: number): () => unknown {
  const from = Math.round(made.times.length * (1 - hours / 2));
  const column = (values: Float64Array) => ({ times: made.times.subarray(from), values: values.subarray(from) });
  const { level, command, position, setpoint } = made;
  const columns = (point: string) => {
    const values = { level, command, position, level_setpoint: setpoint }[point.split('.')[1] as string];
    return values === undefined ? { times: new Float64Array(0), values: new Float64Array(0) } : column(values);
  };
  const running = { ...RUNNING_START, state: 'steady', running: true, steady: true } as const;
  const machine = { arrangement: 'parallel', stages: 2 } as const;
  const input = { machine, columns, now: (made.times.at(-1) as number) + 2000, running, rule: runningRule.parse({}) };
  return () => judgeLoops(input);
}

test('a minute of both loops', () => {
  const plain = of('noise');
  const unit = milliseconds(() => autocorrelation(plain.level, 1800));
  const lines = [`one autocorrelation of 3600 values to lag 1800: ${unit.toFixed(1)} ms`];
  for (const name of ['noise', 'restless load', 'tuning', 'sticking']) {
    const cost = milliseconds(minuteOf(of(name), 2));
    lines.push(`both loops, ${name.padEnd(13)}: ${cost.toFixed(1)} ms, ${(cost / unit).toFixed(2)} of it`);
  }
  const [half, whole] = [milliseconds(minuteOf(of('sticking'), 1)), milliseconds(minuteOf(of('sticking'), 2))];
  lines.push(`two hours against one: ${(whole / half).toFixed(2)} times`);
  console.log(lines.join('\n'));
  expect(lines).toHaveLength(6);
});
