/**
 * What a day of one chiller costs the disk: what stays, and what was written, with and without sinks. The emulated
 * plant's readings, the agent's own fold and store in a process of its own, bytes as the system counts them (proc(5):
 * /proc/self/io). Some hours are lived through and scaled to a day: packing and the write-ahead log come round each
 * hour or sooner. Printed, for gateways whose flash wears; no figure is asserted but that there is one.
 */
import { execFile } from 'node:child_process';
import path from 'node:path';
import { promisify } from 'node:util';
import { expect, test } from 'vitest';
import { temporaryFolder } from '../../contract/agent/harness.ts';
import type { DayFound, DayWishes } from './day.ts';

const run = promisify(execFile);
const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;
const DAY = new URL('./day.ts', import.meta.url).pathname;
const CONFIG = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
const HOURS = 6;
const MB = 1e6;

async function recorded(chiller: string, folder: string): Promise<string> {
  const record = path.join(folder, `${chiller}.ndjson`);
  const span = ['--start', '2026-07-01T00:00:00Z', '--duration', String(3600 * HOURS)];
  await run(process.execPath, [MAIN, 'plant', '--chiller', chiller, '--seed', '1', ...span, '--record', record]);
  return record;
}

test('bytes on disk and bytes written in a day of one chiller', async () => {
  const { folder, remove } = temporaryFolder();
  try {
    const rows = [];
    for (const chiller of ['CH-1', 'CH-2']) {
      const record = await recorded(chiller, folder);
      for (const [sinks, mqtt, influx] of [
        ['none', false, false],
        ['MQTT', true, false],
        ['MQTT and store', true, true],
      ] as const) {
        const place = path.join(folder, `${chiller} ${sinks}`);
        const wishes: DayWishes = { config: CONFIG, chiller, record, folder: place, mqtt, influx };
        const { stdout } = await run(process.execPath, [DAY, JSON.stringify(wishes)]);
        const { minutes, to_disk, handed, packed, parts } = JSON.parse(stdout) as DayFound;
        expect(minutes).toBe(60 * HOURS);
        expect(handed).toBeGreaterThan(0);
        const mb = (bytes: number): string => (((24 / HOURS) * bytes) / MB).toFixed(1);
        rows.push({
          chiller,
          sinks,
          'to disk a day, MB': mb(to_disk),
          'handed to the system a day, MB': mb(handed),
          'written a minute, kB': (to_disk / minutes / 1000).toFixed(0),
          'packed minutes a day, MB': ((1440 / packed) * ((parts['packed minutes'] ?? 0) / MB)).toFixed(1),
          'fast samples a day, MB': mb(parts['fast samples'] ?? 0),
        });
      }
    }
    console.table(rows);
  } finally {
    remove();
  }
}, 1_200_000);
