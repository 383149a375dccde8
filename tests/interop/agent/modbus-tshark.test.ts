// Goal: no frame of a session between agent and plant is malformed to tshark (Debian: tshark), and only reading
// functions are in it. The session is captured on the loopback interface by dumpcap while the whole agent polls.
import { execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import path from 'node:path';
import { promisify } from 'node:util';
import { afterEach, expect, test } from 'vitest';
import type { Now } from '../../../agent/web/types.ts';
import { agentFor, siteFor, startPlant, temporaryFolder } from '../../contract/agent/harness.ts';

const run = promisify(execFile);
const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

test('a Modbus session holds no malformed frame and nothing but reads', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const plant = await startPlant();
  endings.push(() => plant.stop());
  const file = path.join(folder, 'session.pcapng');
  const capture = spawn('dumpcap', ['-i', 'lo', '-f', `tcp port ${plant.port}`, '-w', file], {
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  let said = '';
  capture.stderr.setEncoding('utf8').on('data', (text: string) => {
    said += text;
  });
  await expect.poll(() => said, { timeout: 20_000 }).toMatch(/^File: /m);

  const agent = agentFor(
    await siteFor({ modbusPort: plant.port, mqttUrl: null, folder: path.join(folder, 'history') }),
  );
  endings.push(() => agent.stop());
  const { url } = await agent.start();
  const now = async (): Promise<Now> => (await (await fetch(`${url}/api/chillers/CH-1/now`)).json()) as Now;
  await expect.poll(async () => (await now()).sequence, { timeout: 30_000 }).toBeGreaterThanOrEqual(5);
  await agent.stop();
  capture.kill('SIGINT');
  await once(capture, 'exit');

  const ask = async (filter: string, field: string): Promise<string[]> => {
    const args = ['-n', '-r', file, '-d', `tcp.port==${plant.port},mbtcp`, '-Y', filter, '-T', 'fields', '-e', field];
    const { stdout } = await run('tshark', args, { env: { ...process.env, HOME: folder }, maxBuffer: 2 ** 26 });
    return stdout.split('\n').filter((line) => line !== '');
  };
  const functions = await ask('modbus', 'modbus.func_code');
  expect(functions.length).toBeGreaterThan(50);
  expect([...new Set(functions)].sort()).toEqual(['3', '4']);
  expect(await ask('_ws.malformed || _ws.expert.severity >= 8388608', 'frame.number')).toEqual([]);
});
