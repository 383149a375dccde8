/**
 * A week of both machines replayed: time, memory, rows against minutes due, and the sums beside the emulated plant's
 * own books. The export is made from what the plant's sensors showed: one wide table in local time over the end of
 * summer time, six digits a value, as a trade user would have it. Days: a number on the command line, 7 left out.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  createReadStream,
  createWriteStream,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { localTime, zoneOffsets } from '../../agent/season/zone.ts';
import type { ReplaySummary } from '../../agent/web/replay-types.ts';

const ROOT = new URL('../../', import.meta.url).pathname;
const MAIN = join(ROOT, 'agent/main.ts');
const SITE = join(ROOT, 'config/kestrel-quay.yaml');
const ZONE = 'Europe/Lisbon';
/** Local midnight; clocks go back on 25 October. */
const START = '2026-10-19T23:00:00Z';
const IDS = ['CH-1', 'CH-2'] as const;
const KW_PER_TON = 3.516853;
/** Ticks of the processor's clock in a second, as Linux counts them for /proc (proc(5)). */
const TICKS = 100;

const days = Number(process.argv[2] ?? 7);
const folder = mkdtempSync(join(tmpdir(), 'tonhour-replay-'));
const at = (name: string): string => join(folder, name);

interface Run {
  readonly seconds: number;
  readonly peak_mb: number;
  /** Processor time, also where the machine is busy with other work. */
  readonly cpu_s: number;
  readonly out: string;
}

/** A verb as its own process; greatest resident memory as the kernel saw it. */
async function verb(...args: string[]): Promise<Run> {
  const began = performance.now();
  const child = spawn(process.execPath, [MAIN, ...args], { stdio: ['ignore', 'pipe', 'inherit'] });
  let [out, peak_kb, ticks] = ['', 0, 0];
  child.stdout.on('data', (chunk) => {
    out += String(chunk);
  });
  const look = setInterval(() => {
    try {
      const status = readFileSync(`/proc/${child.pid}/status`, 'utf8');
      peak_kb = Math.max(peak_kb, Number(/VmHWM:\s+(\d+)/.exec(status)?.[1] ?? 0));
      const stat = readFileSync(`/proc/${child.pid}/stat`, 'utf8').split(') ')[1]?.split(' ') ?? [];
      ticks = Number(stat[11]) + Number(stat[12]);
    } catch {
      // It has just ended.
    }
  }, 100);
  const [code] = (await once(child, 'close')) as [number];
  clearInterval(look);
  if (code !== 0) throw new Error(`${args[0]} ended with ${code}`);
  return { seconds: (performance.now() - began) / 1000, peak_mb: peak_kb / 1024, cpu_s: ticks / TICKS, out };
}

interface Recorded {
  readonly time: string;
  readonly points: Readonly<Record<string, { readonly value: number | null; readonly unit: string }>>;
}

async function* recorded(id: string): AsyncGenerator<Recorded> {
  for await (const line of createInterface({ input: createReadStream(at(`${id}.ndjson`)) }))
    yield JSON.parse(line) as Recorded;
}

/** Six digits; what is far below any sensor's step is zero. */
function digits(value: number | null): string {
  if (value === null) return 'No data';
  return Math.abs(value) < 1e-9 ? '0' : String(Number(value.toPrecision(6)));
}

async function makeExport(): Promise<void> {
  const offsets = zoneOffsets(ZONE);
  const table = createWriteStream(at('trend.csv'));
  const streams = IDS.map((id) => recorded(id));
  const columns: string[][] = IDS.map(() => []);
  for (let first = true; ; first = false) {
    const rows = await Promise.all(streams.map(async (stream) => (await stream.next()).value as Recorded | undefined));
    if (rows.some((row) => row === undefined)) break;
    const given = rows as Recorded[];
    if (first) {
      for (const [index, { points }] of given.entries()) columns[index]?.push(...Object.keys(points));
      table.write(
        `Time,${columns.flatMap((names, index) => names.map((name) => `${IDS[index]} ${name}`)).join(',')}\n`,
      );
      writeFileSync(at('map.yaml'), mapText(given, columns));
    }
    const time = Date.parse(given[0]?.time ?? '');
    const values = given.flatMap(({ points }, index) =>
      (columns[index] ?? []).map((name) => digits(points[name]?.value ?? null)),
    );
    if (!table.write(`${localTime(time, offsets)},${values.join(',')}\n`)) await once(table, 'drain');
  }
  table.end();
  await once(table, 'close');
}

function mapText(given: readonly Recorded[], columns: readonly (readonly string[])[]): string {
  const chillers = IDS.map((id, index) => {
    const points = (columns[index] ?? []).map(
      (name) => `      ${name}: { column: "${id} ${name}", unit: "${given[index]?.points[name]?.unit}" }`,
    );
    return `  ${id}:\n    points:\n${points.join('\n')}`;
  });
  return `version: 1\ntime: { column: Time, format: "YYYY-MM-DD HH:mm" }\nchillers:\n${chillers.join('\n')}\n`;
}

/** kWh and ton-hours of the plant's own books. */
async function truth(id: string): Promise<{ readonly kwh: number; readonly ton_hours: number }> {
  let [kwh, ton_hours] = [0, 0];
  for await (const line of createInterface({ input: createReadStream(at(`${id}.truth`)) })) {
    const { metrics } = JSON.parse(line) as { metrics: Readonly<Record<string, number | null>> };
    kwh += (metrics['unit.power'] ?? 0) / 60;
    ton_hours += (metrics['unit.capacity'] ?? 0) / KW_PER_TON / 60;
  }
  return { kwh, ton_hours };
}

async function lines(path: string): Promise<number> {
  let count = 0;
  for await (const _ of createInterface({ input: createReadStream(path) })) count += 1;
  return count;
}

const mb = (path: string): string => (statSync(path).size / 1e6).toFixed(1);

try {
  await Promise.all(
    IDS.map((id) => {
      const times = ['--start', START, '--duration', String(days * 86_400)];
      return verb(
        'plant',
        '--chiller',
        id,
        '--seed',
        '7',
        ...times,
        '--record',
        at(`${id}.ndjson`),
        '--truth',
        at(`${id}.truth`),
      );
    }),
  );
  await makeExport();
  const paths = ['--config', SITE, '--map', at('map.yaml'), '--out', at('out'), '--json'];
  const { seconds, cpu_s, peak_mb, out } = await verb('replay', at('trend.csv'), ...paths);
  const summary = JSON.parse(out) as ReplaySummary;
  const rows = await lines(at('out/minutes.ndjson'));
  const due = IDS.length * days * 1440;
  console.log(`| ${days} days of ${IDS.join(' and ')} | |\n|---|---|`);
  console.log(
    `| export | ${mb(at('trend.csv'))} MB, ${summary.export.rows} lines, ${summary.export.readings} readings |`,
  );
  console.log(`| lines in the hour that came twice | ${summary.export.repeated_hour.lines} |`);
  console.log(`| rows written, minutes due | ${rows}, ${due} |`);
  console.log(`| time | ${seconds.toFixed(0)} s, ${(rows / seconds).toFixed(0)} minutes a second |`);
  console.log(
    `| processor time | ${cpu_s.toFixed(0)} s, ${((1000 * cpu_s) / rows).toFixed(1)} ms a minute of a chiller |`,
  );
  console.log(`| greatest resident memory | ${peak_mb.toFixed(0)} MB |`);
  console.log(`| minutes.ndjson | ${mb(at('out/minutes.ndjson'))} MB |`);
  console.log('\n| | kWh | plant | ton-hours | plant | kW/ton | plant |\n|---|---|---|---|---|---|---|');
  for (const id of IDS) {
    const { season } = summary.chillers[id] ?? {};
    const own = await truth(id);
    const cells = [season?.kwh, own.kwh, season?.ton_hours, own.ton_hours].map((value) => value?.toFixed(0));
    const ratio = `${season?.kw_per_ton?.toFixed(4)} ± ${season?.uncertainty.kw_per_ton?.toFixed(4)}`;
    console.log(`| ${id} | ${cells.join(' | ')} | ${ratio} | ${(own.kwh / own.ton_hours).toFixed(4)} |`);
  }
  if (rows !== due || summary.export.rows !== days * 1440) process.exitCode = 1;
} finally {
  rmSync(folder, { recursive: true, force: true });
}
