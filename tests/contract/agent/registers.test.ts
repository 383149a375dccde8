// Goal: what a controller's registers do wrong costs that point alone; the minute is complete and says why. Real
// plant process, real sockets.
import { afterEach, describe, expect, test } from 'vitest';
import type { Now } from '../../../agent/web/types.ts';
import { agentFor, type PlantProcess, siteFor, startPlant, temporaryFolder } from './harness.ts';

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

async function agentBeside(plant: PlantProcess): Promise<{ until: (reached: (now: Now) => boolean) => Promise<Now> }> {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const agent = agentFor(await siteFor({ modbusPort: plant.port, mqttUrl: null, folder }));
  const { url } = await agent.start();
  endings.push(() => agent.stop());
  return { until: (reached) => follow(url, reached) };
}

/** The first minute of the live stream that is as asked for. */
async function follow(url: string, reached: (now: Now) => boolean): Promise<Now> {
  const response = await fetch(`${url}/api/live`);
  let text = '';
  for await (const chunk of response.body as ReadableStream<Uint8Array>) {
    text += Buffer.from(chunk).toString();
    for (let end = text.indexOf('\n\n'); end >= 0; end = text.indexOf('\n\n')) {
      const block = text.slice(0, end);
      text = text.slice(end + 2);
      const data = /^data: ?(.*)$/m.exec(block)?.[1];
      if (!/^event: ?minute$/m.test(block) || data === undefined) continue;
      const now = JSON.parse(data) as Now;
      if (reached(now)) return now;
    }
  }
  throw new Error('the stream ended');
}

async function plantWith(...faults: string[]): Promise<PlantProcess> {
  const plant = await startPlant({ faults });
  endings.push(() => plant.stop());
  return plant;
}

const solved = (now: Now): boolean =>
  now.points_read === now.points_mapped && now.values['unit.kw_per_ton'] !== undefined;

describe('registers that do wrong', () => {
  test('not-a-number and sentinel: those points bad with the reason, the rest of the minute complete', async () => {
    const plant = await plantWith(
      'nan_value/flash_tank.pressure:1@0',
      'sentinel_value/condenser.liquid_temperature:32767@0',
    );
    const { until } = await agentBeside(plant);
    const reason = (now: Now, name: string): string => now.points[name]?.reason ?? '';
    const now = await until(
      (each) =>
        /number/.test(reason(each, 'flash_tank.pressure')) &&
        /no measurement|above/.test(reason(each, 'condenser.liquid_temperature')) &&
        each.values['main_compressor.lift'] != null,
    );
    expect(now.points['flash_tank.pressure']).toMatchObject({ value: null, quality: 'bad' });
    expect(now.points['flash_tank.pressure']?.reason).toMatch(/not a number|no number/);
    expect(now.points['condenser.liquid_temperature']).toMatchObject({ value: null, quality: 'bad' });
    expect(now.points['evaporator.pressure']?.quality).toBe('good');
    expect(now.values['main_compressor.lift']).toBeGreaterThan(5);
    expect(now.values['flash_tank.flash_fraction']).toBeNull();
    expect(now.quality['condenser.subcooling']?.reason).toContain('condenser.liquid_temperature');
  });

  test('a controller that falls silent: every point bad with the reason, no figure, and the link lost', async () => {
    const plant = await plantWith();
    const { until } = await agentBeside(plant);
    await until(solved);
    // Stopped, not ended: its socket stays open and takes questions, and nothing is answered any more.
    plant.child.kill('SIGSTOP');
    endings.push(() => plant.child.kill('SIGCONT'));
    const site = await until((now) => now.link.state === 'lost' && now.points['evaporator.pressure']?.value === null);
    expect(site.link.reason).not.toBeNull();
    expect(Object.values(site.points).every((point) => point.value === null && point.reason !== null)).toBe(true);
    // What the agent counted itself stays true without the controller.
    const counted = ['unit.starts', 'unit.starts_per_hour', 'unit.run_hours'];
    const measured = Object.entries(site.values).filter(([name]) => !counted.includes(name));
    expect(measured.length).toBeGreaterThan(40);
    expect(measured.filter(([, value]) => value !== null)).toEqual([]);
  });
});
