/** The verb `replay` in this process, on files of a temporary folder. */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { command } from '../../../agent/commands/replay.ts';
import type { ReplaySummary } from '../../../agent/web/replay-types.ts';

export const SITE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

export interface ReplayRun {
  readonly code: number;
  readonly out: string;
  readonly err: string;
  /** Lines of minutes.ndjson and alarms.ndjson; empty where there is none. */
  readonly minutes: readonly Minute[];
  readonly alarms: readonly Readonly<Record<string, unknown>>[];
  readonly summary: ReplaySummary;
  readonly report: string;
}

export interface Minute {
  readonly chiller: string;
  readonly time: string;
  readonly sequence: number;
  readonly state: string;
  readonly values: Readonly<Record<string, number | null>>;
  readonly uncertainty: Readonly<Record<string, number>>;
  readonly quality: Readonly<Record<string, { quality: string; reason: string }>>;
  readonly loops: Readonly<Record<string, unknown>>;
}

/** Writes export and map into the folder and replays them into `out` there. */
export async function replayed(
  folder: string,
  { table, map, config = SITE, flags = [] }: { table: string; map: string; config?: string; flags?: readonly string[] },
): Promise<ReplayRun> {
  writeFileSync(join(folder, 'trend.csv'), table);
  writeFileSync(join(folder, 'map.yaml'), map);
  const args = ['--config', config, '--map', join(folder, 'map.yaml'), '--out', join(folder, 'out'), ...flags];
  const [out, err] = [new PassThrough(), new PassThrough()];
  const io = { in: Readable.from([]), out, err, stop: new AbortController().signal };
  const code = await command.run([join(folder, 'trend.csv'), ...args], io);
  const text = (name: string): string => {
    const path = join(folder, 'out', name);
    return existsSync(path) ? readFileSync(path, 'utf8') : '';
  };
  const lines = (name: string): never[] =>
    text(name)
      .split('\n')
      .filter((line) => line !== '')
      .map((line) => JSON.parse(line) as never);
  return {
    code,
    out: String(out.read() ?? ''),
    err: String(err.read() ?? ''),
    minutes: lines('minutes.ndjson'),
    alarms: lines('alarms.ndjson'),
    summary: JSON.parse(text('summary.json') || 'null') as ReplaySummary,
    report: text('report.html'),
  };
}
