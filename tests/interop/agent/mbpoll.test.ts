// Goal: what mbpoll (Debian, on libmodbus) reads from the plant's registers equals what the page shows. The plant
// runs at a thousandth of its speed, so both read the same second. Scales and units are applied here by hand from the
// printed point map, not by the agent's code.
import { execFile, execFileSync } from 'node:child_process';
import { promisify } from 'node:util';
import { afterEach, expect, test } from 'vitest';
import type { Now } from '../../../agent/web/types.ts';
import { agentFor, siteFor, startPlant, temporaryFolder } from '../../contract/agent/harness.ts';

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

interface PointLine {
  readonly name: string;
  readonly unit_id: number;
  readonly table: 'input' | 'holding';
  readonly register: number;
  readonly type: 'int16' | 'uint16' | 'float32';
  readonly order: 'ABCD' | 'CDAB' | null;
  readonly scale: number;
  readonly offset: number;
  readonly unit: string;
  readonly reference: string | null;
}

const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;

function pointMap(): PointLine[] {
  const text = execFileSync(process.execPath, [MAIN, 'plant', '--chiller', 'CH-1', '--points'], { encoding: 'utf8' });
  return text
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line) as PointLine);
}

/** mbpoll's types: 3 input, 4 holding; `:float` reads two registers, `-B` with the high word first. */
async function mbpoll(port: number, point: PointLine): Promise<number> {
  const table = point.table === 'input' ? '3' : '4';
  const type = point.type === 'float32' ? `${table}:float` : table;
  const order = point.type === 'float32' && point.order === 'ABCD' ? ['-B'] : [];
  const args = [
    '-m',
    'tcp',
    '-p',
    String(port),
    '-a',
    String(point.unit_id),
    '-t',
    type,
    '-0',
    '-r',
    String(point.register),
    '-c',
    '1',
    '-1',
    ...order,
    '127.0.0.1',
  ];
  const { stdout } = await promisify(execFile)('mbpoll', args);
  const found = /^\[\d+\]:\s+(-?[\d.e+-]+)(?:\s+\((-?\d+)\))?/m.exec(stdout);
  if (found === null) throw new Error(`mbpoll printed: ${stdout}`);
  return Number(point.type === 'int16' && found[2] !== undefined ? found[2] : found[1]);
}

/** By the definitions of the units (NIST SP 811), written out here. */
const TO_CATALOGUE: Record<string, (value: number, zero_kpa: number) => number> = {
  degF: (v) => (v - 32) / 1.8,
  degC: (v) => v,
  psig: (v, zero) => v * 6.894757293168 + zero,
  kPa: (v) => v,
  '%': (v) => v / 100,
  gpm: (v) => (v * 3.785411784e-3) / 60,
  kW: (v) => v,
  A: (v) => v,
  state: (v) => v,
};

test("mbpoll's readings equal the page's values", async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const plant = await startPlant({ speed: 0.001 });
  endings.push(() => plant.stop());
  const site = await siteFor({ modbusPort: plant.port, mqttUrl: null, folder });
  const agent = agentFor(site);
  endings.push(() => agent.stop());
  const { url } = await agent.start();
  let now: Now;
  do now = (await (await fetch(`${url}/api/chillers/CH-1/now`)).json()) as Now;
  while (
    // The minute that is shown may have begun before the first reading of some points.
    Object.keys(now.points).length < now.points_mapped ||
    Object.values(now.points).some(({ value }) => value === null)
  );
  const page = await (await fetch(`${url}/now/CH-1`)).text();

  let compared = 0;
  for (const point of pointMap()) {
    const convert = TO_CATALOGUE[point.unit];
    const shown = now.points[point.name];
    if (convert === undefined || shown?.value == null) continue;
    // A sealed transmitter has the standard atmosphere locked in, a vented one breathes the local air.
    const zero_kpa = point.reference === 'sealed_gauge' ? 101.325 : site.barometer / 1000;
    const read = convert((await mbpoll(plant.port, point)) * point.scale + point.offset, zero_kpa);
    // mbpoll prints six significant digits of a float.
    expect(Math.abs(shown.value - read), point.name).toBeLessThanOrEqual(2e-5 * Math.max(1, Math.abs(read)));
    compared += 1;
  }
  expect(compared).toBeGreaterThanOrEqual(20);
  const onPage = /data-metric="evaporator\.pressure"[^>]*data-value="([^"]*)"/.exec(page)?.[1];
  expect(Number(onPage)).toBeCloseTo(now.points['evaporator.pressure']?.value as number, 6);
});
