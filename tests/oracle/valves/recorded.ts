/** The recorded loops of tests/oracle/loops, judged as the verb `hunting` judges them. */
import { readFileSync } from 'node:fs';
import { must } from '../../../agent/base/result.ts';
import { analyseLoop } from '../../../agent/valves/analyse.ts';
import { readRecording } from '../../../agent/valves/recording.ts';
import type { LoopKind, LoopVerdict } from '../../../agent/valves/types.ts';

const FOLDER = new URL('../loops/', import.meta.url).pathname;

export interface JudgedLoop {
  readonly loop: string;
  readonly number: number;
  readonly kind: LoopKind;
  readonly label: 'sticking' | 'not_sticking';
  readonly files: readonly { readonly file: string; readonly verdict: LoopVerdict }[];
  /** Files found hunting, and found sticking. */
  readonly hunting: number;
  readonly sticks: number;
}

export function judgeFile(file: string, kind: LoopKind): LoopVerdict {
  const columns = { time: 't_s', output: 'output', measured: 'measured', setpoint: 'setpoint', position: null };
  const recording = must(readRecording(readFileSync(FOLDER + file, 'utf8'), { file, columns }));
  return analyseLoop({ kind, ...recording, drivers: [], band: null, stroke: 100 }, 'whole');
}

export function judgedLoops(): JudgedLoop[] {
  const rows = readFileSync(`${FOLDER}labels.csv`, 'utf8').trim().split('\n').slice(1);
  const loops = new Map<string, { kind: LoopKind; label: JudgedLoop['label']; files: string[] }>();
  for (const row of rows) {
    const [file, loop, kind, label] = row.split(',') as [string, string, LoopKind, JudgedLoop['label']];
    const kept = loops.get(loop) ?? { kind, label, files: [] };
    kept.files.push(file);
    loops.set(loop, kept);
  }
  return [...loops].map(([loop, { kind, label, files: names }]) => {
    const files = names.map((file) => ({ file, verdict: judgeFile(file, kind) }));
    return {
      loop,
      number: Number(loop.slice(-2)),
      kind,
      label,
      files,
      hunting: files.filter(({ verdict }) => verdict.verdict === 'hunting').length,
      sticks: files.filter(({ verdict }) => verdict.sticking.verdict === 'sticking').length,
    };
  });
}

/** Each loop counts once, by the part of its files that is right; undecided counts as not sticking. */
export function balancedAccuracy(
  loops: readonly JudgedLoop[],
): Record<'sticking' | 'not_sticking' | 'balanced', number> {
  const share = (label: JudgedLoop['label']): number => {
    const of = loops.filter((loop) => loop.label === label);
    const right = of.map(({ sticks, files }) => (label === 'sticking' ? sticks : files.length - sticks) / files.length);
    return right.reduce((sum, each) => sum + each, 0) / of.length;
  };
  const [sticking, not_sticking] = [share('sticking'), share('not_sticking')];
  return { sticking, not_sticking, balanced: (sticking + not_sticking) / 2 };
}
