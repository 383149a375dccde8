// Goal: the packed nodes live in a stock Node-RED 5 as a user meets them. Method: installed from the tarball into an
// empty user directory; the package's own examples are fetched from the host's library, as the editor imports them, and
// deployed through the admin API. A real agent of both machines publishes to mosquitto (Debian: mosquitto,
// mosquitto-clients); what the flow gets is held against what mosquitto_sub prints.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { agentFor, siteFor, startPlant, temporaryFolder } from '../../contract/agent/harness.ts';
import { configuration, end, freePort, startMosquitto } from '../mqtt/broker.ts';
import { type FlowItem, type NodeRed, startNodeRed, startTap, type Tap, wired } from './host.ts';
import { INSTALL_MS, nodeRedFolder, npmInstall, packedNodes } from './install.ts';
import { type Subscriber, subscribe } from './subscriber.ts';

const MODULE = '@tonhour/node-red-chiller';
const endings: (() => unknown)[] = [];
let host: NodeRed;
let tap: Tap;

beforeAll(async () => {
  const userDir = mkdtempSync(path.join(tmpdir(), 'tonhour-user-'));
  endings.push(() => rmSync(userDir, { recursive: true, force: true }));
  const [installed, tarball] = [await nodeRedFolder(), await packedNodes()];
  await npmInstall(userDir, [tarball]);
  host = await startNodeRed(installed, userDir);
  endings.push(() => host.stop());
  tap = await startTap();
  endings.push(() => tap.stop());
}, INSTALL_MS);
afterAll(async () => {
  for (const each of endings.splice(0).reverse()) await each();
});

async function example(name: string): Promise<FlowItem[]> {
  return host.get<FlowItem[]>(`/library/examples/flows/${MODULE}/${encodeURIComponent(name)}`);
}

function the(flow: readonly FlowItem[], type: string): FlowItem {
  const found = flow.find((item) => item.type === type);
  if (found === undefined) throw new Error(`the example has no ${type}`);
  return found;
}

/** Deploys an example with its first node of `type`, and its catch node, tapped as `out` and `caught`. */
async function deployTapped(name: string, type: string): Promise<FlowItem[]> {
  const flow = await example(name);
  const tab = the(flow, 'tab').id;
  const tapped = wired(wired(flow, [the(flow, type).id], 'out'), [the(flow, 'catch').id], 'caught');
  await host.deploy([...tapped, ...tap.nodes('out', tab), ...tap.nodes('caught', tab)]);
  return flow;
}

/** What the newest messages of a tap say, once `count` more have come than there were. */
async function next(name: string, act: () => Promise<void>): Promise<Readonly<Record<string, unknown>>> {
  const before = tap.got.length;
  await act();
  return tap.until((got) => got.slice(before).find((each) => each.tap === name)?.msg);
}

describe('the package', () => {
  test('every node is there, enabled, without a fault', async () => {
    interface NodeSet {
      readonly module: string;
      readonly types: readonly string[];
      readonly enabled: boolean;
      readonly err?: string;
    }
    const sets = (await host.get<NodeSet[]>('/nodes')).filter(({ module }) => module === MODULE);
    expect(sets.map(({ types, enabled, err }) => [types, enabled, err])).toEqual(
      ['chiller', 'site', 'solve', 'hunting', 'properties', 'minutes'].map((name) => [
        [`tonhour-${name}`],
        true,
        undefined,
      ]),
    );
  });

  test.each(['solve', 'hunting', 'properties', 'minutes'])('the icon of %s is ours', async (name) => {
    const icon = await (await fetch(`${host.url}/icons/${MODULE}/tonhour-${name}.svg`)).text();
    // What it has not, Node-RED replaces by an arrow of its own.
    expect(icon).toMatch(/^<svg [^>]*viewBox="0 0 40 60"><title>/);
  });

  test('the editor gets templates and help of every node', async () => {
    const html = await (await fetch(`${host.url}/nodes`, { headers: { accept: 'text/html' } })).text();
    for (const name of ['chiller', 'site', 'solve', 'hunting', 'properties', 'minutes'])
      for (const kind of ['template', 'help']) expect(html).toContain(`data-${kind}-name="tonhour-${name}"`);
  });
});

describe('nodes that need no agent', () => {
  test('a state of R-134a, and a state beyond its equation for the catch node', async () => {
    const flow = await deployTapped('1 - State of a refrigerant', 'tonhour-properties');
    const [good, beyond] = flow.filter(({ type }) => type === 'inject') as [FlowItem, FlowItem];
    const { payload } = await next('out', () => host.inject(good.id));
    // Vapour of R-134a at 7 degC and 3.4 bar: 16.5 kg/m3 to the half; tables of the trade, from memory.
    expect(payload).toMatchObject({ phase: 'vapour', T: 280.15 });
    expect(Math.abs((payload as { rho: number }).rho - 16.5)).toBeLessThan(0.5);
    const caught = await next('caught', () => host.inject(beyond.id));
    expect(caught['error']).toMatchObject({ code: 'refrigerant_out_of_range', source: { type: 'tonhour-properties' } });
  });

  test('the cycle of a chiller, and a misspelt point for the catch node', async () => {
    const flow = await deployTapped('2 - Cycle of a chiller', 'tonhour-solve');
    const [good, misspelt] = flow.filter(({ type }) => type === 'inject') as [FlowItem, FlowItem];
    const { payload } = await next('out', () => host.inject(good.id));
    const { state, metrics } = payload as {
      state: string;
      metrics: Record<string, { value: number; uncertainty: number; quality: string }>;
    };
    expect(state).toBe('running');
    // By hand from the example's own points: 3618 gpm cooled from 12.12 to 6.69 degC by 821.48 kW; 4.19 kJ/(kg K) and
    // 1 kg/l of water near 10 degC, 3.517 kW a ton: common practice.
    const capacity = 3618 * (3.785412 / 60) * 4.19 * (12.12 - 6.69);
    const figure = metrics['unit.kw_per_ton'];
    expect(figure?.quality).toBe('good');
    expect(Math.abs(Number(figure?.value) - 821.48 / (capacity / 3.517))).toBeLessThan(Number(figure?.uncertainty));
    const caught = await next('caught', () => host.inject(misspelt.id));
    expect(caught['error']).toMatchObject({
      code: 'bad_record',
      message: expect.stringMatching(/^evaporator\.presure: .*'evaporator\.pressure'/),
    });
  });

  test('a level loop that swings every 75 s hunts', async () => {
    const flow = await deployTapped('3 - Level loop that hunts', 'tonhour-hunting');
    const { payload } = await next('out', () => host.inject(the(flow, 'inject').id));
    expect(payload).toMatchObject({ verdict: 'hunting' });
    expect(Math.abs((payload as { period_s: number }).period_s - 75)).toBeLessThan(1);
  });

  test('what no node can read leaves the host alive and the next message answered', async () => {
    const flow = await deployTapped('1 - State of a refrigerant', 'tonhour-properties');
    const tab = the(flow, 'tab').id;
    const bad = ['null', '[]', '"x"', '{"T":"280","p":3e5}', '{"T":1e999,"p":1}', '{"__proto__":{"T":1}}', 'true'];
    const injects = bad.map((payload, i) => ({
      ...the(flow, 'inject'),
      id: `bad${i}`,
      z: tab,
      payload,
      payloadType: payload === '{"T":1e999,"p":1}' ? 'jsonata' : 'json',
    }));
    const tapped = wired(wired(flow, [the(flow, 'tonhour-properties').id], 'out'), [the(flow, 'catch').id], 'caught');
    await host.deploy([...tapped, ...injects, ...tap.nodes('out', tab), ...tap.nodes('caught', tab)]);
    for (const { id } of injects) {
      const caught = await next('caught', () => host.inject(id));
      expect(caught['error']).toMatchObject({ message: expect.any(String) });
    }
    expect((await next('out', () => host.inject(the(flow, 'inject').id)))['payload']).toMatchObject({
      phase: 'vapour',
    });
    expect(host.child.exitCode).toBeNull();
  });
});

describe('beside a running agent', () => {
  let port: number;
  let watched: Subscriber;
  let broker: Awaited<ReturnType<typeof startMosquitto>>;
  let folder: string;
  let flow: FlowItem[];

  beforeAll(async () => {
    const made = temporaryFolder();
    folder = made.folder;
    endings.push(made.remove);
    port = await freePort();
    const lines = [...configuration(folder, port), 'allow_anonymous true', 'sys_interval 1', ''];
    writeFileSync(path.join(folder, 'mosquitto.conf'), lines.join('\n'));
    broker = await startMosquitto(folder, port);
    endings.push(() => end(broker));
    watched = await subscribe(port);
    endings.push(() => watched.stop());
    const example4 = await example('4 - Minutes of a running agent');
    const moved = example4.map((item) =>
      item.type === 'tonhour-site' ? { ...item, url: `mqtt://127.0.0.1:${port}` } : item,
    );
    const tab = the(moved, 'tab').id;
    const status = { id: 'states', type: 'status', z: tab, scope: null, wires: [['state']] };
    const alarms = moved.filter((item) => item['kind'] === 'alarms').map(({ id }) => id);
    flow = [
      ...wired(wired(moved, [the(moved, 'tonhour-minutes').id], 'out'), alarms, 'alarm'),
      status,
      ...['out', 'alarm', 'state'].flatMap((name) => tap.nodes(name, tab)),
    ];
    await host.deploy(flow);
    const one = await startPlant({ chiller: 'CH-1' });
    endings.push(() => one.stop());
    const two = await startPlant({ chiller: 'CH-2' });
    endings.push(() => two.stop());
    const mqttUrl = `mqtt://127.0.0.1:${port}`;
    const agent = agentFor(await siteFor({ modbusPort: one.port, bacnetPort: two.port, mqttUrl, folder }));
    endings.push(() => agent.stop());
    await agent.start();
  }, 120_000);

  const minutes = () => tap.got.filter((each) => each.tap === 'out').map(({ msg }) => msg);
  const sequenceOf = ({ payload }: { payload?: unknown }): number => (payload as { sequence: number }).sequence;

  test('every minute of both chillers is what mosquitto_sub sees, in its order', { timeout: 200_000 }, async () => {
    await tap.until((got) => (got.filter((each) => each.tap === 'out').length >= 40 ? true : undefined), 150_000);
    const flowSaw = minutes();
    for (const chiller of ['CH-1', 'CH-2']) {
      const topic = `tonhour/kestrel-quay/${chiller}/metrics`;
      const mine = flowSaw.filter((each) => each['topic'] === topic);
      expect(mine.length).toBeGreaterThan(10);
      const last = sequenceOf(mine.at(-1) ?? {});
      const first = sequenceOf(mine[0] ?? {});
      const theirs = watched.seen.filter(
        (each) => each.topic === topic && sequenceOf(each) >= first && sequenceOf(each) <= last,
      );
      expect(mine.map(({ topic: t, payload }) => ({ topic: t, payload }))).toEqual(theirs);
      expect(mine.map(sequenceOf)).toEqual(Array.from({ length: last - first + 1 }, (_, i) => first + i));
      expect(
        mine.every(({ missed, repeated, chiller: id }) => missed === 0 && repeated === false && id === chiller),
      ).toBe(true);
      // Figures, not the empty minutes of a start.
      const { values } = (mine.at(-1) as { payload: { values: Record<string, number> } }).payload;
      expect(values['unit.kw_per_ton']).toBeGreaterThan(0.3);
    }
  });

  test('thirty deployments leave no connection, no descriptor and no listener behind', {
    timeout: 200_000,
  }, async () => {
    const settled = async (): Promise<number> => {
      const from = minutes().length;
      await tap.until((got) => (got.filter((each) => each.tap === 'out').length > from + 2 ? true : undefined));
      return Number(watched.connected());
    };
    await host.deploy(flow);
    const clients = await settled();
    const descriptors = host.descriptors();
    for (let i = 0; i < 30; i++) await host.deploy(flow);
    await settled();
    await expect.poll(() => watched.connected(), { timeout: 60_000, interval: 200 }).toBe(clients);
    await expect
      .poll(() => host.descriptors(), { timeout: 60_000, interval: 200 })
      .toBeLessThanOrEqual(descriptors + 2);
    expect(host.log.filter((line) => /MaxListeners|leak/i.test(line))).toEqual([]);
  });

  test('a broker that goes and comes back costs the host nothing; minutes go on, what was missed is counted', {
    timeout: 200_000,
  }, async () => {
    const before = tap.got.length;
    await end(broker);
    await tap.until((got) =>
      got.slice(before).find(({ tap: name, msg }) => name === 'state' && /red/.test(JSON.stringify(msg))),
    );
    broker = await startMosquitto(folder, port);
    const from = minutes().length;
    await tap.until((got) => (got.filter((each) => each.tap === 'out').length > from + 4 ? true : undefined), 120_000);
    const since = tap.got.slice(before).filter((each) => each.tap === 'out' && each.msg['repeated'] === false);
    // Between two minutes of one chiller lie exactly as many as it says.
    for (const chiller of ['CH-1', 'CH-2']) {
      const mine = since.map(({ msg }) => msg).filter((each) => each['chiller'] === chiller);
      const gaps = mine.slice(1).map((each, i) => sequenceOf(each) - sequenceOf(mine[i] ?? {}) - 1);
      expect(gaps).toEqual(mine.slice(1).map(({ missed }) => missed));
      expect(gaps.length).toBeGreaterThan(0);
    }
    expect(host.child.exitCode).toBeNull();
  });
});

test('the host that was asked to stop stops in good order', async () => {
  await host.stop();
  expect([host.child.exitCode, host.child.signalCode]).toEqual([0, null]);
});
