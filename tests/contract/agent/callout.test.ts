/**
 * An alarm on its way to people: the whole agent with a real plant, broker and mail server; the packets that a history
 * gives for faults of the emulated plant, which shares no code with the room that judges them; and the verb.
 */
import { execFile } from 'node:child_process';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';
import mqtt from 'mqtt';
import { afterAll, beforeAll, describe, expect, onTestFinished, test, vi } from 'vitest';
import type { CalloutPacket } from '../../../agent/callout/packet.ts';
import { startBroker } from '../../../agent/sinks/broker.ts';
import { Secret } from '../../../agent/site/secret.ts';
import type { ChillerSite, Site } from '../../../agent/site/site.ts';
import { type Story, tell } from '../../unit/callout/story.ts';
import { type Authority, makeCertificate, startMailServer } from '../sinks/mail-server.ts';
import { agentFor, siteFor, startPlant, temporaryFolder } from './harness.ts';

const WAIT = { timeout: 90_000, interval: 50 };
const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;
const SITE_FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

/** The alarm of the condenser approach, at once and from nearly nothing. */
function eager(chiller: ChillerSite): ChillerSite {
  const alarms = chiller.alarms
    .filter(({ id }) => id === 'condenser-approach')
    .map((rule) => ({
      ...rule,
      limit: 0.1,
      deadband: 0,
      on_delay_s: 0,
      running_for_s: 0,
      when: 'always' as const,
      beyond_uncertainty: false,
    }));
  return { ...chiller, alarms };
}

describe('the whole agent', () => {
  let authority: Authority;
  beforeAll(() => {
    authority = makeCertificate();
  });

  test('an alarm arrives by mail with its packet, over MQTT and on the page, as the same event', async () => {
    const server = await startMailServer({ authority });
    const plant = await startPlant();
    const broker = await startBroker();
    const { folder, remove } = temporaryFolder();
    const placed = await siteFor({ modbusPort: plant.port, mqttUrl: broker.url, folder });
    const site: Site = {
      ...placed,
      chillers: placed.chillers.map(eager),
      mail: {
        host: '127.0.0.1',
        port: server.port,
        security: 'starttls',
        ca: new Secret(authority.ca),
        login: { username: 'agent', password: new Secret('right') },
        from: 'tonhour@quay.example',
        to: [{ address: 'team@quay.example', priorities: [1, 2, 3] }],
        cleared: true,
        mails_per_hour: 600,
        page: null,
      },
    };
    const client = await mqtt.connectAsync(broker.url);
    const published: CalloutPacket[] = [];
    client.on('message', (_topic, payload) => published.push(JSON.parse(payload.toString()) as CalloutPacket));
    await client.subscribeAsync('tonhour/kestrel-quay/CH-1/callout', { qos: 1 });
    const agent = agentFor(site);
    onTestFinished(async () => {
      await agent.stop();
      await client.endAsync(true);
      await broker.stop();
      await plant.stop();
      await server.stop();
      remove();
    });
    const { url } = await agent.start();
    await vi.waitUntil(() => server.letters.length > 0 && published.length > 0, WAIT);
    const [letter] = server.letters;
    const [packet] = published;
    const name = `${packet?.alarm.id}.${packet?.sequence}`;
    expect(letter?.headers.get('subject')).toBe('[3] CH-1 Condenser approach high, Kestrel Quay');
    expect(letter?.headers.get('message-id')).toBe(`<${name}.raised.CH-1.kestrel-quay@quay.example>`);
    expect(letter?.parts.map(({ type, filename }) => [type, filename])).toEqual([
      ['text/plain', null],
      ['text/html', null],
      ['text/html', `callout-CH-1-${name}.html`],
      ['application/json', `callout-CH-1-${name}.json`],
    ]);
    const attached = JSON.parse(letter?.parts[3]?.content ?? '{}') as CalloutPacket;
    const answer = await fetch(new URL(`/api/chillers/CH-1/callouts/${name}`, url));
    const served = (await answer.json()) as CalloutPacket;
    for (const other of [attached, served]) {
      expect(other.event).toBe(packet?.event);
      expect(other.alarm).toEqual(packet?.alarm);
      expect(other.causes.map(({ fault }) => fault)).toEqual(packet?.causes.map(({ fault }) => fault));
      expect(other.machine).toEqual(packet?.machine);
    }
    const page = await fetch(new URL(`/callout/ch-1/condenser-approach?units=si`, url));
    expect(page.status).toBe(200);
    expect(page.headers.get('content-security-policy')).toMatch(/^default-src 'none'; style-src 'sha256-/);
    expect(await page.text()).toContain('CH-1 Condenser approach high');
    expect((await fetch(new URL('/callout/ch-1/no-such-alarm', url))).status).toBe(404);
    expect(await (await fetch(new URL('/alarms', url))).text()).toContain('/callout/ch-1/condenser-approach');
    const metrics = await (await fetch(new URL('/metrics', url))).text();
    expect(metrics).toMatch(/tonhour_outbox_settled_total\{sink="mail",end="accepted"\} [1-9]/);
  });
});

describe('faults of the plant', () => {
  const stories: Story[] = [];
  afterAll(() => {
    for (const story of stories) story.close();
  });

  async function packetOf(chiller: 'CH-1' | 'CH-2', fault: string): Promise<{ packet: CalloutPacket; story: Story }> {
    const story = await tell({ chiller, faults: [`${fault}@5400`], minutes: 170 });
    stories.push(story);
    const raised = story.outcomes.flatMap(({ record, events }) =>
      events.flatMap(({ change, report }) =>
        change === 'raised' && report.id === 'condenser-approach' ? [record] : [],
      ),
    );
    const packet = story.callouts.event(chiller, `condenser-approach.${raised[0]?.sequence}`);
    if (!packet.ok) throw new Error(packet.fault.message);
    return { packet: packet.value, story };
  }

  // Both raise the approach; the liquid temperature tells them apart (Comstock, Braun & Groll 2001, from memory).
  test.each([
    ['CH-1', 'fouled_condenser:45', 'fouled_condenser_tubes'],
    ['CH-1', 'non_condensables:40', 'non_condensables'],
    ['CH-2', 'fouled_condenser:45', 'fouled_condenser_tubes'],
    ['CH-2', 'non_condensables:15', 'non_condensables'],
  ] as const)('%s, %s: the first cause is %s', async (chiller, fault, cause) => {
    const { packet } = await packetOf(chiller, fault);
    expect(packet.causes[0]).toMatchObject({ fault: cause, says: 'for' });
    expect(packet.how_sure.verdict).toBe('beyond measuring error');
    expect(packet.trends.length).toBeGreaterThan(4);
    expect(Object.keys(packet.machine.states).length).toBeGreaterThan(5);
  });

  test('the verb lists the alarms and writes the packet as page and JSON', async () => {
    const { story } = await packetOf('CH-1', 'non_condensables:40');
    const file = join(story.folder, 'site.yaml');
    writeFileSync(file, readFileSync(SITE_FILE, 'utf8').replace('folder: history', `folder: ${story.folder}`));
    const run = (...args: string[]) =>
      promisify(execFile)(process.execPath, [MAIN, 'callout', '--config', file, ...args]);
    const { stdout: listed } = await run();
    const event = /CH-1\/condenser-approach\.\d+/.exec(listed)?.[0] ?? '';
    expect(event).not.toBe('');
    const out = join(story.folder, 'out');
    const { stdout } = await run('--alarm', event, '--out', out);
    const [html = '', json = ''] = stdout.trim().split('\n');
    expect(existsSync(html)).toBe(true);
    expect(readFileSync(html, 'utf8')).toContain('Air or other gas in the condenser');
    expect((JSON.parse(readFileSync(json, 'utf8')) as CalloutPacket).event).toBe(event.slice('CH-1/'.length));
    await expect(run('--alarm', 'CH-1/nothing')).rejects.toMatchObject({
      code: 1,
      stderr: expect.stringContaining('has raised no alarm'),
    });
    await expect(run('--alarm', 'condenser-approach')).rejects.toMatchObject({
      code: 2,
      stderr: expect.stringContaining('--chiller is missing'),
    });
  });
});
