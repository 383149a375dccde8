/**
 * Goal: the sink trusts the authority of the site file and nobody else, says which broker it does not trust and why,
 * loses nothing meanwhile, and goes on by itself once the certificate is right. Certificates by openssl, a real broker
 * in this process behind Node's TLS, and a client of its own that hears what arrives.
 */
import { createServer, type Server, type TLSSocket } from 'node:tls';
import { Aedes } from 'aedes';
import { connectAsync } from 'mqtt';
import { beforeAll, expect, onTestFinished, test, vi } from 'vitest';
import type { Fault } from '../../../agent/base/result.ts';
import { must } from '../../../agent/base/result.ts';
import { startBroker } from '../../../agent/sinks/broker.ts';
import { MqttSink } from '../../../agent/sinks/mqtt.ts';
import { minute, open } from '../../unit/history/helpers.ts';
import { type Authority, makeCertificate } from './mail-server.ts';

const WAIT = { timeout: 60_000, interval: 20 };
let own: Authority;
let other: Authority;
beforeAll(() => {
  own = makeCertificate();
  other = makeCertificate();
});

interface Secured {
  readonly url: string;
  readonly server: Server;
  /** Sequence numbers that a subscriber heard. */
  readonly heard: number[];
}

/** A broker that shows the certificate, and a subscriber who trusts its authority. */
async function secured({ ca, key, cert }: Authority, host = '127.0.0.1'): Promise<Secured> {
  const aedes = await Aedes.createBroker();
  const sockets = new Set<TLSSocket>();
  const server = createServer({ key, cert }, (socket) => {
    sockets.add(socket);
    socket.on('error', () => undefined).on('close', () => sockets.delete(socket));
    aedes.handle(socket);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as { port: number };
  const listener = await connectAsync(`mqtts://127.0.0.1:${port}`, {
    ca,
    checkServerIdentity: () => undefined,
  } as never);
  const heard: number[] = [];
  listener.on('message', (topic, payload) => {
    if (topic.endsWith('/metrics')) heard.push(JSON.parse(payload.toString()).sequence);
  });
  await listener.subscribeAsync('tonhour/#', { qos: 1 });
  onTestFinished(async () => {
    await listener.endAsync(true);
    await new Promise<void>((resolve) => aedes.close(() => resolve()));
    for (const socket of sockets) socket.destroy();
    await new Promise<void>((resolve) => server.close(() => resolve()));
  });
  return { url: `mqtts://${host}:${port}`, server, heard };
}

function sinkTo(url: string, ca: string | undefined) {
  const history = open();
  const told: Fault[] = [];
  const sink = new MqttSink({
    outbox: history.outbox,
    url,
    ca,
    clientId: 'tonhour-kestrel-quay',
    statusAddress: 'tonhour/kestrel-quay/status',
    version: '0',
    limits: { backoff_ms_min: 20, backoff_ms_max: 100 },
    report: (fault) => told.push(fault),
  });
  must(sink.init());
  for (const sequence of [1, 2, 3]) must(history.commitMinute(minute(sequence)));
  sink.start();
  onTestFinished(() => sink.stop());
  return { sink, told };
}

/** Refused for its certificate, and everything kept. */
async function distrusted({ sink, told }: ReturnType<typeof sinkTo>, broker: Secured, why: RegExp): Promise<void> {
  await vi.waitUntil(() => told.length > 0, WAIT);
  expect(told[0]?.code).toBe('mqtt_tls');
  expect(told[0]?.message).toContain(`broker ${broker.url}: no safe connection: `);
  expect(told[0]?.message).toMatch(why);
  await vi.waitUntil(() => sink.status().state === 'lost', WAIT);
  expect(sink.status()).toMatchObject({ code: 'mqtt_tls', counters: { waiting: 3, accepted: 0, connections: 0 } });
  expect(broker.heard).toEqual([]);
}

test('an authority of one’s own is trusted, and everything arrives', async () => {
  const broker = await secured(own);
  const { sink, told } = sinkTo(broker.url, own.ca);
  await vi.waitUntil(() => broker.heard.length >= 3, WAIT);
  expect([...new Set(broker.heard)]).toEqual([1, 2, 3]);
  expect(sink.status()).toMatchObject({ state: 'connected', code: null });
  expect(told).toEqual([]);
});

test('a file of two authorities, the old and the new one, trusts both', async () => {
  const broker = await secured(own);
  sinkTo(broker.url, `${other.ca}\n${own.ca}`);
  await vi.waitUntil(() => broker.heard.length >= 3, WAIT);
});

// Words of OpenSSL's X509_V_ERR_... that Node passes on.
const UNTRUSTED = /self-signed certificate|unable to (get|verify)|certificate signature failure/;

test('another authority of the same name is refused and named', async () => {
  const broker = await secured(own);
  await distrusted(sinkTo(broker.url, other.ca), broker, UNTRUSTED);
});

test('without an authority of one’s own, the public ones alone are trusted', async () => {
  const broker = await secured(own);
  await distrusted(sinkTo(broker.url, undefined), broker, UNTRUSTED);
});

test('a certificate of another name is refused, by the name', async () => {
  const elsewhere = makeCertificate('DNS:broker.quay.example');
  const broker = await secured(elsewhere);
  await distrusted(sinkTo(broker.url, elsewhere.ca), broker, /IP: 127\.0\.0\.1 is not in the cert's list/);
});

test('a broker that gets the right certificate later is used from then on', async () => {
  const broker = await secured(other);
  const rig = sinkTo(broker.url, own.ca);
  await distrusted(rig, broker, UNTRUSTED);
  broker.server.setSecureContext({ key: own.key, cert: own.cert });
  await vi.waitUntil(() => rig.sink.status().state === 'connected', WAIT);
  await vi.waitUntil(() => broker.heard.length >= 3, WAIT);
  expect([...new Set(broker.heard)]).toEqual([1, 2, 3]);
});

test('a broker without TLS gets nothing, and is not said to be right', async () => {
  const plain = await startBroker();
  onTestFinished(() => plain.stop());
  const { sink, told } = sinkTo(plain.url.replace('mqtt:', 'mqtts:'), own.ca);
  await vi.waitUntil(() => told.length > 0, WAIT);
  expect(['mqtt_tls', 'mqtt_unreachable']).toContain(told[0]?.code);
  expect(sink.status().counters).toMatchObject({ connections: 0, waiting: 3 });
});

const PEM = (body: string): string => `-----BEGIN CERTIFICATE-----\n${body}\n-----END CERTIFICATE-----\n`;

test.each([
  ['a damaged one', () => PEM('bm9uc2Vuc2U='), 'mqtt.ca certificate 1 of 1 cannot be read'],
  ['a damaged second one', () => `${own.ca}${PEM('AAAA')}`, 'mqtt.ca certificate 2 of 2 cannot be read'],
  ['one cut short', () => own.ca.slice(0, 120), 'mqtt.ca holds no whole certificate in PEM'],
  ['a key', () => own.key, 'mqtt.ca holds no whole certificate in PEM'],
])('an authority that is %s is told before anything is connected', (_, ca, words) => {
  const checked = new MqttSink({
    outbox: open().outbox,
    url: 'mqtts://127.0.0.1:1',
    ca: ca(),
    clientId: 'a',
    statusAddress: 'tonhour/x/status',
    version: '0',
  }).init();
  expect(checked.ok ? null : checked.fault).toMatchObject({
    code: 'mqtt_options',
    message: expect.stringContaining(words),
  });
});
