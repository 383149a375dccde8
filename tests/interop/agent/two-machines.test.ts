// Goal: one machine's trouble never touches the other. Method: CH-1 over Modbus TCP and CH-2 over BACnet/IP, each
// emulated in a process of its own; CH-2's process is killed (its plug pulled), stays away until the alarm stands, and
// comes back on the same address.
import { once } from 'node:events';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import type { AlarmFigure, Now } from '../../../agent/web/types.ts';
import { agentFor, siteFor, startPlant, temporaryFolder } from '../../contract/agent/harness.ts';

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

test("CH-2's plug pulled while CH-1 runs", { timeout: 300_000 }, async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const one = await startPlant({ chiller: 'CH-1' });
  endings.push(() => one.stop());
  let two = await startPlant({ chiller: 'CH-2' });
  endings.push(() => two.stop());
  const agent = agentFor(await siteFor({ modbusPort: one.port, bacnetPort: two.port, mqttUrl: null, folder }));
  endings.push(() => agent.stop());
  const { url } = await agent.start();
  const get = async <T>(path: string): Promise<T> => (await (await fetch(`${url}${path}`)).json()) as T;
  const now = (chiller: string): Promise<Now> => get(`/api/chillers/${chiller}/now`);
  const until = async <T>(ask: () => Promise<T>, reached: (answer: T) => boolean): Promise<T> => {
    for (;;) {
      const answer = await ask();
      if (reached(answer)) return answer;
      await pause(200);
    }
  };
  const good = (each: Now): boolean =>
    each.values['unit.kw_per_ton'] != null && each.values['main_compressor.lift'] != null;
  await until(() => now('CH-1'), good);
  await until(() => now('CH-2'), good);

  two.child.kill('SIGKILL');
  await once(two.child, 'exit');
  const lost = await until(
    () => now('CH-2'),
    (each) => each.link.state === 'lost' && Object.values(each.points).every((point) => point.quality === 'bad'),
  );
  expect(lost.link.reason).toBeTruthy();
  // What the agent counted itself stays true without the controller.
  const counted = ['unit.starts', 'unit.starts_per_hour', 'unit.run_hours'];
  const measured = Object.entries(lost.values).filter(([name]) => !counted.includes(name));
  expect(measured.filter(([, value]) => value !== null)).toEqual([]);
  const { alarms } = await until(
    () => get<{ alarms: AlarmFigure[] }>('/api/alarms'),
    (open) => open.alarms.length > 0,
  );
  expect(alarms.map(({ chiller, id }) => [chiller, id])).toEqual([['CH-2', 'controller-lost']]);

  const returned = Date.now();
  two = await startPlant({ chiller: 'CH-2', port: two.port });
  await until(() => now('CH-2'), good);
  expect(Date.now() - returned).toBeLessThan(LIMITS.backoff_ms_max + 20_000);

  const metrics = await (await fetch(`${url}/metrics`)).text();
  const count = (name: string): number =>
    Number(new RegExp(`^${name}\\{chiller="CH-1"\\} (\\d+)$`, 'm').exec(metrics)?.[1]);
  expect(count('tonhour_minutes_done_total')).toBeGreaterThan(60);
  expect(count('tonhour_minutes_done_total')).toBe(count('tonhour_minutes_due_total'));
  expect(good(await now('CH-1'))).toBe(true);
});
