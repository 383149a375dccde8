/**
 * 200,000 damaged datagrams: a quarter over a real UDP socket, the rest over a wire in memory, through the same port,
 * matching and decoders. No value on the wrong point or of an earlier question, every clean read that follows is right
 * at once, nothing is uncaught, memory stays flat.
 */
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { expect, test } from 'vitest';
import type { Outcome } from '../../../../agent/sources/bacnet/peer.ts';
import { BacnetPort } from '../../../../agent/sources/bacnet/port.ts';
import { readMany, readOne } from '../../../../agent/sources/bacnet/questions.ts';
import type { OpenDatagrams } from '../../../../agent/sources/bacnet/udp.ts';
import type { BacnetValue } from '../../../../agent/sources/bacnet/values.ts';
import { FakeTime, seeded } from '../../../unit/sources/fake-time.ts';
import { type Asked, framed, parseRequest } from './frames.ts';
import { LyingDevice } from './lying-device.ts';
import { claimOf, honestReply, Mutator } from './mutations.ts';

const SEED = 20_261_126;
const TIMEOUT_MS = 500;

setFlagsFromString('--expose-gc');
const collect = runInNewContext('gc') as () => void;

function heapNow(): number {
  collect();
  const { heapUsed, external } = process.memoryUsage();
  return heapUsed + external;
}

const HOST = { host: '127.0.0.5', port: 47_808 };

/** The far end, however it is reached: called with each request, says what to send. */
interface FarEnd {
  reply: (asked: Asked) => readonly Buffer[];
  readonly address: { readonly host: string; readonly port: number };
  /** Requests that have arrived, and datagrams sent in answer. */
  requests: number;
  sent: number;
}

/** A wire in memory: the same bytes as on a socket, without the kernel between. */
function inMemory(): { open: OpenDatagrams; farEnd: FarEnd } {
  const farEnd: FarEnd = { reply: () => [], address: HOST, requests: 0, sent: 0 };
  const open: OpenDatagrams = async ({ received }) => ({
    port: 1,
    send: async (bytes) => {
      const apdu = Buffer.from(bytes.subarray(6));
      if (apdu[0] === 0x02)
        queueMicrotask(() => {
          farEnd.requests += 1;
          for (const datagram of farEnd.reply(parseRequest(apdu, HOST))) {
            farEnd.sent += 1;
            received(datagram, HOST);
          }
        });
      return null;
    },
    close: async () => {},
  });
  return { open, farEnd };
}

interface Tally {
  sent: number;
  right: number;
  damaged: number;
  refused: number;
  nothing: number;
  wrong: number;
  laterWrong: number;
}

/** Values by object; null where the outcome is no reply. */
function valuesOf(outcome: Outcome<unknown>, multiple: boolean): (BacnetValue | undefined)[] | null {
  if (outcome.kind !== 'reply') return null;
  if (!multiple) return [(outcome.value as BacnetValue[])[0]];
  const answers = outcome.value as { ok: boolean; values?: BacnetValue[] }[][];
  return answers.map(([answer]) => answer?.values?.[0]);
}

class Run {
  readonly #port: BacnetPort;
  readonly #farEnd: FarEnd;
  readonly #time: FakeTime;
  readonly #mutator: Mutator;
  readonly #owner = {};
  #nonce = 0;
  #asked = 0;
  readonly tally: Tally = { sent: 0, right: 0, damaged: 0, refused: 0, nothing: 0, wrong: 0, laterWrong: 0 };

  constructor(options: { port: BacnetPort; farEnd: FarEnd; time: FakeTime; seed: number }) {
    this.#port = options.port;
    this.#farEnd = options.farEnd;
    this.#time = options.time;
    this.#mutator = new Mutator(seeded(options.seed));
  }

  async all(count: number): Promise<Tally & { heapGrowth: number }> {
    await this.#port.attach(this.#owner);
    let heap: number | null = null;
    while (this.tally.sent < count) {
      await this.#one();
      if (heap === null && this.tally.sent > count / 10) heap = heapNow();
    }
    const heapGrowth = heapNow() - (heap ?? 0);
    await this.#port.release(this.#owner);
    return { ...this.tally, heapGrowth };
  }

  async #one(): Promise<void> {
    const { tally } = this;
    this.#farEnd.reply = (asked) => {
      const times = 1 + this.#mutator.pick(2);
      tally.sent += times;
      return Array.from({ length: times }, () => this.#mutator.datagram(asked, this.#nonce));
    };
    tally[await this.#read()] += 1;
    // what fails rests its ids: time passes
    this.#time.advance(1500);
    this.#farEnd.reply = (asked) => [framed(honestReply(asked, this.#nonce))];
    if ((await this.#read()) !== 'right') tally.laterWrong += 1;
  }

  async #read(): Promise<'right' | 'damaged' | 'refused' | 'nothing' | 'wrong'> {
    const pick = (below: number): number => this.#mutator.pick(below);
    this.#nonce = (this.#nonce + 1) % 2 ** 24;
    const multiple = pick(3) > 0;
    const instances = Array.from({ length: multiple ? 1 + pick(5) : 1 }, (_, i) => 8 * i + pick(8));
    const asks = instances.map((instance) => ({ object: { type: 0, instance }, properties: [85] }));
    const question = multiple ? readMany(asks) : readOne({ object: asks[0]!.object, property: 85 });
    const asked = { owner: this.#owner, timeoutMs: TIMEOUT_MS, ...question, accept: question.accept as () => never };
    return this.#judge(await this.#settled(asked), instances, multiple);
  }

  /** Lets the deadline pass only when the request has arrived and everything that answers it has, too. */
  async #settled(ask: Parameters<BacnetPort['exchange']>[1]): Promise<Outcome<unknown>> {
    const address = { ...this.#farEnd.address, network: null, mac: new Uint8Array(0) };
    const settled: Outcome<unknown>[] = [];
    const asked = (): void => {
      this.#asked += 1;
    };
    void this.#port.exchange(address, { ...ask, asked }).then((outcome) => settled.push(outcome));
    for (;;) {
      await new Promise((resolve) => setImmediate(resolve));
      const [outcome] = settled;
      if (outcome !== undefined) return outcome;
      const { requests, sent } = this.#farEnd;
      if (requests === this.#asked && (this.#port.counters()['datagrams'] ?? 0) >= sent) this.#time.advance(TIMEOUT_MS);
    }
  }

  #judge(outcome: Outcome<unknown>, instances: readonly number[], multiple: boolean) {
    const values = valuesOf(outcome, multiple);
    if (values === null) return outcome.kind === 'failed' ? 'nothing' : 'refused';
    let damaged = values.length !== instances.length;
    for (const [i, value] of values.entries()) {
      const claim = value?.type === 'double' && value.value !== null ? claimOf(value.value) : null;
      if (claim === null) damaged = true;
      else if (claim.instance !== instances[i] || claim.nonce !== this.#nonce) return 'wrong';
    }
    return damaged ? 'damaged' : 'right';
  }
}

/** The growth allowed: a leak of 100 bytes a datagram would be more. */
const GROWTH_BYTES_MAX = 5e6;

function verify(tally: Tally & { heapGrowth: number }): void {
  console.info(JSON.stringify(tally));
  expect(tally).toMatchObject({ wrong: 0, laterWrong: 0 });
  // the damage is real, and some of it cannot be seen on the bus: all kinds must occur or the run proves nothing
  const reads = tally.right + tally.damaged + tally.refused + tally.nothing;
  for (const kind of ['right', 'damaged', 'refused', 'nothing'] as const)
    expect(tally[kind]).toBeGreaterThan(reads / 200);
  expect(tally.nothing).toBeGreaterThan(reads / 4);
  expect(tally.heapGrowth).toBeLessThan(GROWTH_BYTES_MAX);
}

test('150,000 damaged datagrams over a wire in memory', async () => {
  console.info(`seed ${SEED}`);
  const time = new FakeTime();
  const { open, farEnd } = inMemory();
  const local = { host: '127.0.0.1', port: 0 };
  const port = new BacnetPort({ local, clock: time, timers: time, random: seeded(SEED + 1), open });
  verify(await new Run({ port, farEnd, time, seed: SEED }).all(150_000));
  expect(time.waiting).toBe(0);
});

test('50,000 damaged datagrams over a real socket', async () => {
  console.info(`seed ${SEED + 2}`);
  const time = new FakeTime();
  const device = await LyingDevice.listen();
  const local = { host: '127.0.0.1', port: 0 };
  const port = new BacnetPort({ local, clock: time, timers: time, random: seeded(SEED + 3) });
  const farEnd: FarEnd = { reply: () => [], address: device, requests: 0, sent: 0 };
  device.behaviour = (asked) => {
    farEnd.requests += 1;
    for (const datagram of farEnd.reply(asked)) {
      farEnd.sent += 1;
      device.sendRaw(datagram, asked.from);
    }
    for (const list of [device.asked, device.segmentAcks, device.other]) list.length = 0;
  };
  verify(await new Run({ port, farEnd, time, seed: SEED + 2 }).all(50_000));
  expect(time.waiting).toBe(0);
  await device.close();
});
