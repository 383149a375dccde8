/**
 * Goal: an agent whose store holds a declared period publishes what the machine should take, from its first minute on;
 * one without publishes nothing of it. Method: hours of an independent machine in the store, then a real plant and a
 * real agent on that store, intervals of a second.
 */
import { afterEach, expect, test } from 'vitest';
import type { Now } from '../../../agent/web/types.ts';
import { filled } from '../../unit/season/filled.ts';
import { agentFor, siteFor, startPlant } from '../agent/harness.ts';

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

const NAMES = ['unit.power_expected', 'unit.kw_per_ton_expected', 'unit.kw_per_ton_deviation'];

async function newest(baseline: { readonly from: string; readonly to: string } | null): Promise<Now> {
  const there = filled(
    // A machine large enough for the loads of the emulated one.
    { from: Date.UTC(2025, 5, 1), to: Date.UTC(2025, 8, 30), size: 1.2 },
    { from: '2025-06-02', to: '2025-09-28' },
  );
  endings.push(() => there.remove());
  there.history.close();
  const plant = await startPlant();
  endings.push(() => plant.stop());
  const site = await siteFor({ modbusPort: plant.port, mqttUrl: null, folder: there.folder });
  const agent = agentFor({ ...site, chillers: site.chillers.map((chiller) => ({ ...chiller, baseline })) });
  const { url } = await agent.start();
  endings.push(() => agent.stop());
  const stream = await fetch(`${url}/api/live`);
  const decoder = new TextDecoder();
  let text = '';
  for await (const part of stream.body as ReadableStream<Uint8Array>) {
    text += decoder.decode(part, { stream: true });
    for (const [, data = ''] of text.matchAll(/event: minute\n(?:id: .*\n)?data: (.*)\n\n/g)) {
      const now = JSON.parse(data) as Now;
      if ((now.values['unit.capacity'] ?? null) !== null) return now;
    }
  }
  throw new Error('the stream ended');
}

test('with a baseline: expected power, deviation and their uncertainty, of the live machine', async () => {
  const now = await newest({ from: '2025-06-02', to: '2025-09-28' });
  const [expected, perTon, deviation] = NAMES.map((name) => now.values[name] ?? null);
  // The emulated plant is another machine than the one of the stored hours: the arithmetic is looked at, not the size.
  const power = now.values['unit.power'] as number;
  if (expected === null || perTon === null || deviation === null) throw new Error(JSON.stringify(now.quality));
  expect(deviation as number).toBeCloseTo(power / (expected as number) - 1, 3);
  expect(perTon as number).toBeCloseTo(
    ((expected as number) / (now.values['unit.capacity'] as number)) * ((12_000 * 1.05505585262) / 3600),
    3,
  );
  expect(now.uncertainty['unit.power_expected']).toBeGreaterThan(0.01 * (expected as number));
});

test('without a declared one nothing of it is published', async () => {
  const now = await newest(null);
  expect(Object.keys(now.values).filter((name) => NAMES.includes(name) || name.endsWith('ua_ratio'))).toEqual([]);
  expect(now.values['unit.power']).toBeGreaterThan(0);
});
