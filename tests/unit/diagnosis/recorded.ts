/** What the sensors of the emulated plant showed, minute by minute, as snapshots: the plant run headless. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { parseRfc3339 } from '../../../agent/base/time.ts';
import { differenceToSi, toSi, type UnitName } from '../../../agent/base/units.ts';
import { command } from '../../../agent/commands/plant.ts';
import type { PointValue, Snapshot } from '../../../agent/points/types.ts';

interface Recorded {
  readonly time: string;
  readonly points: Readonly<Record<string, { readonly value: number; readonly unit: UnitName; readonly u: number }>>;
}

export async function recorded(chiller: string, hours: number, ...args: string[]): Promise<readonly Snapshot[]> {
  const folder = mkdtempSync(join(tmpdir(), 'recorded-'));
  const file = join(folder, 'minutes.ndjson');
  try {
    const err = new PassThrough();
    const given = ['--chiller', chiller, '--start', '2026-07-01T12:00:00Z', '--duration', String(3600 * hours)];
    const io = { in: Readable.from([]), out: new PassThrough(), err, stop: new AbortController().signal };
    const code = await command.run([...given, '--record', file, ...args], io);
    if (code !== 0) throw new Error(String(err.read()));
    return readFileSync(file, 'utf8').trim().split('\n').map(snapshot);
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function snapshot(line: string): Snapshot {
  const { time, points } = JSON.parse(line) as Recorded;
  const values = Object.entries(points).map(([name, { value, unit, u }]): [string, PointValue] => [
    name,
    {
      value: toSi(value, unit),
      u: differenceToSi(u, unit),
      quality: 'good',
      reason: null,
      age_s: 1,
      spread: null,
      n: 12,
    },
  ]);
  return { time: parseRfc3339(time) as number, points: Object.fromEntries(values) };
}
