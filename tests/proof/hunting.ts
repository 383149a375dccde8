/**
 * The search for hunting over the synthetic loops of tests/unit/valves: verdicts and causes by class, with and without
 * position feedback.
 *
 *     node agent/launch.cjs --node tests/proof/hunting.ts [--seed N] [--cases 100]
 */
import { parseArgs } from 'node:util';
import { scoreSuite } from '../unit/valves/score.ts';

const { values } = parseArgs({ options: { seed: { type: 'string' }, cases: { type: 'string' } } });
const seed = Number(values.seed ?? 1);
const cases = Number(values.cases ?? 100);

for (const position of [true, false]) {
  const { classes, recall, precision, causes } = scoreSuite(seed, cases, { position });
  console.log(`\nseed ${seed}, ${cases} cases a class, ${position ? 'with' : 'without'} position feedback`);
  for (const { name, hunts, right, causes: named, verdicts } of classes)
    console.log(
      `${name.padEnd(17)} ${hunts ? 'hunts' : 'quiet'}  right ${String(right).padStart(4)}/${cases}` +
        `${named === null ? '' : `  cause ${named}/${cases}`}  ${JSON.stringify(verdicts)}`,
    );
  console.log(`hunting: recall ${recall.toFixed(3)}, precision ${precision.toFixed(3)}`);
  for (const [cause, score] of Object.entries(causes))
    console.log(`${cause}: recall ${score.recall.toFixed(3)}, precision ${score.precision.toFixed(3)}`);
}
