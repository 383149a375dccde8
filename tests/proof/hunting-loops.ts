/**
 * The recorded loops of tests/oracle/loops: what is said of each, by loop and not by file, and how well `sticking` does
 * beside the guess that no valve sticks.
 *
 *     node agent/launch.cjs --node tests/proof/hunting-loops.ts
 */
import { balancedAccuracy, judgedLoops } from '../oracle/valves/recorded.ts';

const loops = judgedLoops();
for (const { loop, kind, label, files } of loops)
  for (const { file, verdict } of files) {
    const { index, period_s, sticking, flags } = verdict;
    console.log(
      `${loop} ${kind.padEnd(8)} ${label.padEnd(12)} ${file} ${verdict.verdict.padEnd(10)} index ${index?.toFixed(2) ?? '-'}` +
        ` period ${period_s?.value.toFixed(0) ?? '-'} s ${verdict.cause ?? '-'}; sticking: ${sticking.verdict}` +
        ` ${sticking.score?.toFixed(2) ?? '-'} (${sticking.from ?? '-'}) ${flags.join(' ')}`,
    );
  }
console.log();
for (const { loop, kind, label, hunting, sticks, files } of loops)
  console.log(
    `${loop} ${kind} labelled ${label}: hunting in ${hunting}/${files.length}, sticking in ${sticks}/${files.length}`,
  );
for (const [name, of] of [
  ['all loops', loops],
  ['loops 1 to 10 (in view while the rules were made)', loops.filter(({ number }) => number <= 10)],
  ['loops 11 to 19 (seen once before the last rule was set)', loops.filter(({ number }) => number > 10)],
] as const) {
  const { sticking, not_sticking, balanced } = balancedAccuracy(of);
  console.log(
    `${name}: sticking found ${sticking.toFixed(2)}, not sticking left alone ${not_sticking.toFixed(2)}, ` +
      `balanced accuracy ${balanced.toFixed(3)} ('never sticks': 0.500)`,
  );
}
