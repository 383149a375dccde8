/**
 * The broker of deploy/broker: mosquitto as Debian ships it, started on the very files that are shipped, with paths,
 * port and certificates of the test. The agent is a whole one beside an emulated machine; the others are clients of
 * MQTT 5.0, whose reason codes say who was refused (135: not authorized, MQTT 5.0 section 2.4).
 */
import { type ChildProcess, execFileSync } from 'node:child_process';
import { chmodSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { Secret } from '../../../agent/site/secret.ts';
import { agentFor, siteFor, startPlant } from '../../contract/agent/harness.ts';
import { end, env, freePort, startMosquitto } from '../mqtt/broker.ts';

const DEPLOY = new URL('../../../deploy/broker/', import.meta.url).pathname;
const NOT_AUTHORIZED = 135;
const SITE = 'tonhour/kestrel-quay';

let folder: string;
let port: number;
let ca: string;
let broker: ChildProcess;

beforeAll(async () => {
  folder = mkdtempSync(path.join(tmpdir(), 'tonhour-deploy-'));
  port = await freePort();
  certificates();
  for (const user of ['agent', 'viewer', 'operator'])
    execFileSync('mosquitto_passwd', ['-b', ...(user === 'agent' ? ['-c'] : []), at('passwords'), user, `of-${user}`], {
      env,
      stdio: 'ignore',
    });
  writeFileSync(at('acl'), readFileSync(path.join(DEPLOY, 'tonhour.acl')));
  for (const name of ['passwords', 'acl']) chmodSync(at(name), 0o700);
  const shipped = readFileSync(path.join(DEPLOY, 'mosquitto.conf'), 'utf8');
  const placed = shipped
    .replace('listener 8883', `listener ${port} 127.0.0.1`)
    .replaceAll('/etc/mosquitto/certs/', `${folder}/`)
    .replace('/etc/mosquitto/tonhour.passwords', at('passwords'))
    .replace('/etc/mosquitto/tonhour.acl', at('acl'))
    .replace('/var/lib/mosquitto/', `${folder}/`);
  writeFileSync(at('mosquitto.conf'), `${process.getuid?.() === 0 ? 'user root\n' : ''}${placed}`);
  broker = await startMosquitto(folder, port);
});
afterAll(async () => {
  await end(broker);
  rmSync(folder, { recursive: true, force: true });
});

function at(name: string): string {
  return path.join(folder, name);
}

/** An authority of the plant and a certificate of the broker, as deploy/gateway.md makes them. */
function certificates(): void {
  const openssl = (...args: string[]): Buffer =>
    execFileSync('openssl', args, { cwd: folder, stdio: ['ignore', 'pipe', 'ignore'] });
  const key = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes'];
  openssl('req', '-x509', ...key, '-keyout', 'ca.key', '-out', 'ca.pem', '-days', '30', '-subj', '/CN=Plant authority');
  const name = ['-subj', '/CN=broker', '-addext', 'subjectAltName=DNS:localhost,IP:127.0.0.1'];
  openssl('req', ...key, '-keyout', 'broker.key', '-out', 'broker.csr', ...name);
  const sign = ['-CA', 'ca.pem', '-CAkey', 'ca.key', '-days', '30', '-copy_extensions', 'copy'];
  openssl('x509', '-req', '-in', 'broker.csr', ...sign, '-out', 'broker.pem');
  ca = readFileSync(at('ca.pem'), 'utf8');
}

async function client(options: IClientOptions & { readonly plain?: boolean } = {}): Promise<MqttClient> {
  const { plain = false, ...rest } = options;
  const made = await connectAsync(`${plain ? 'mqtt' : 'mqtts'}://127.0.0.1:${port}`, {
    protocolVersion: 5,
    reconnectPeriod: 0,
    connectTimeout: 10_000,
    ...(plain ? {} : { ca }),
    ...rest,
  });
  onTestFinished(() => made.endAsync(true));
  return made;
}

const as = (user: string): IClientOptions => ({ username: user, password: `of-${user}` });

/** Reason code of a publication with QoS 1: 0 or 16 where it was taken. */
async function published(by: MqttClient, topic: string): Promise<number> {
  try {
    const packet = (await by.publishAsync(topic, '{}', { qos: 1 })) as { reasonCode?: number } | undefined;
    return packet?.reasonCode ?? 0;
  } catch (error) {
    return (error as { code: number }).code;
  }
}

const REFUSED = [NOT_AUTHORIZED];
const TAKEN = [0, 16];

describe('who may connect', () => {
  test.each([
    ['nobody without a name', {}],
    ['nobody with a wrong password', { username: 'viewer', password: 'of-agent' }],
    ['nobody with a name that is not there', { username: 'guest', password: '' }],
  ])('%s', async (_, account) => {
    await expect(client(account)).rejects.toMatchObject({ code: NOT_AUTHORIZED });
  });

  test('nobody without TLS, and nobody who is shown another authority', async () => {
    await expect(client({ ...as('viewer'), plain: true, connectTimeout: 3000 })).rejects.toThrow();
    await expect(client({ ...as('viewer'), ca: undefined as never })).rejects.toThrow(
      /self-signed|unable to (?:get|verify)/,
    );
  });
});

describe('who may say what', () => {
  test.each([
    ['agent', `${SITE}/status`, TAKEN],
    ['agent', `${SITE}/CH-1/metrics`, TAKEN],
    ['agent', `${SITE}/CH-1/valves`, TAKEN],
    ['agent', `${SITE}/CH-1/describe`, TAKEN],
    ['agent', `${SITE}/CH-1/alarms/head-pressure`, TAKEN],
    ['agent', `${SITE}/CH-1/callout`, TAKEN],
    ['agent', `${SITE}/command/acknowledge`, REFUSED],
    ['agent', 'tonhour/another-quay/status', REFUSED],
    ['viewer', `${SITE}/CH-1/metrics`, REFUSED],
    ['viewer', `${SITE}/command/acknowledge`, REFUSED],
    ['operator', `${SITE}/command/acknowledge`, TAKEN],
    ['operator', `${SITE}/command/shelve`, TAKEN],
    ['operator', `${SITE}/command/shelve/now`, REFUSED],
    ['operator', `${SITE}/CH-1/metrics`, REFUSED],
    ['operator', `${SITE}/CH-1/alarms/head-pressure`, REFUSED],
  ])('%s to %s', async (user, topic, codes) => {
    expect(codes).toContain(await published(await client(as(user)), topic));
  });
});

test('a real agent is heard by a viewer, and hears an operator', async () => {
  const plant = await startPlant();
  onTestFinished(() => plant.stop());
  const url = `mqtts://localhost:${port}`;
  const base = await siteFor({ modbusPort: plant.port, mqttUrl: url, folder: at('history') });
  const mqtt = { ...base.mqtt, ca: new Secret(ca), username: 'agent', password: new Secret('of-agent') };
  const agent = agentFor({ ...base, mqtt: mqtt as NonNullable<typeof base.mqtt> });
  onTestFinished(() => agent.stop());
  const seen = new Map<string, string>();
  const viewer = await client(as('viewer'));
  viewer.on('message', (topic, payload) => seen.set(topic, payload.toString()));
  await viewer.subscribeAsync(`${SITE}/#`, { qos: 1 });
  const page = await agent.start();
  const there = (...topics: string[]): boolean => topics.every((topic) => seen.has(`${SITE}/${topic}`));
  await expect
    .poll(() => there('status', 'CH-1/describe', 'CH-1/metrics', 'CH-1/valves'), { timeout: 60_000 })
    .toBe(true);
  await expect.poll(() => JSON.parse(seen.get(`${SITE}/status`) ?? '{}').status, { timeout: 30_000 }).toBe('online');

  const operator = await client(as('operator'));
  const command = { chiller: 'CH-1', alarm: 'no-such-alarm', by: 'test' };
  await operator.publishAsync(`${SITE}/command/acknowledge`, JSON.stringify(command), { qos: 1 });
  // There is no such alarm: that the agent says so in its own metrics shows that it heard.
  const heard = /tonhour_alarm_commands_total\{verb="acknowledge",end="refused"\} 1/;
  const metrics = async (): Promise<string> => (await fetch(new URL('/metrics', page.url))).text();
  await expect.poll(metrics, { timeout: 30_000 }).toMatch(heard);
});
