/** The framing by itself, on a wire in memory: what a connection does on its own account, whoever uses it. */
import { beforeEach, expect, test } from 'vitest';
import { MbapConnection, TransactionIds } from '../../../agent/sources/modbus/mbap.ts';
import { encodeRead } from '../../../agent/sources/modbus/pdu.ts';
import { FakeTime, seeded } from './fake-time.ts';

let time: FakeTime;
let sent: Buffer[];
let destroyed: number;
let connection: MbapConnection;

beforeEach(() => {
  time = new FakeTime();
  sent = [];
  destroyed = 0;
  const wire = {
    send: (bytes: Uint8Array) => void sent.push(Buffer.from(bytes)),
    destroy: async () => {
      destroyed += 1;
    },
  };
  connection = new MbapConnection({ wire, ids: new TransactionIds(seeded(4)), timers: time });
});

const ask = () => {
  const pdu = encodeRead({ table: 'holding', register: 0x6b, count: 3 });
  return connection.exchange({ unit: 0x11, pdu, timeoutMs: 1000 });
};

/** The reply of the published example, V1.1b3 section 6.3: registers 108 to 110 hold 022B, 0000, 0064. */
const reply = (): Buffer => {
  const id = sent.at(-1)!.subarray(0, 2);
  return Buffer.concat([id, Buffer.from('00000009110306022b00000064', 'hex')]);
};

test('the request of the published example, byte for byte behind a random id', () => {
  void ask();
  expect(sent[0]!.subarray(2).toString('hex')).toBe('00000006' + '11' + '03006b0003');
});

test('the reply of the published example, in one piece and in any two', async () => {
  for (let cut = 0; cut <= 15; cut += 1) {
    const outcome = ask();
    connection.received(reply().subarray(0, cut));
    connection.received(reply().subarray(cut));
    expect(await outcome).toEqual({ kind: 'reply', data: Uint8Array.of(0x02, 0x2b, 0, 0, 0, 0x64) });
  }
  expect([connection.usable, destroyed, time.waiting]).toEqual([true, 0, 0]);
});

test('after a deadline the connection is gone for good, without its user asking for it', async () => {
  const outcome = ask();
  time.advance(1000);
  expect(await outcome).toEqual({ kind: 'failed', cause: 'silent', reason: 'no reply within 1000 ms' });
  expect([connection.usable, destroyed]).toEqual([false, 1]);
  connection.received(reply());
  expect(await ask()).toEqual({ kind: 'failed', cause: 'closed', reason: 'connection is closed' });
  expect([sent.length, time.waiting]).toEqual([1, 0]);
});

test('after a wrong byte as well', async () => {
  const outcome = ask();
  const wrong = reply();
  wrong[6] = 0x12;
  connection.received(wrong);
  expect(await outcome).toMatchObject({ kind: 'failed', cause: 'malformed', reason: 'reply of unit 18 instead of 17' });
  expect([connection.usable, destroyed, time.waiting]).toEqual([false, 1, 0]);
});

test('two requests at once are the mistake of a programmer', async () => {
  const first = ask();
  expect(() => ask()).toThrow('one request in flight');
  await connection.close();
  expect(await first).toMatchObject({ kind: 'failed', cause: 'closed' });
});

test('ids are never the same within 8192 requests, even from a generator that is stuck', () => {
  const ids = new TransactionIds(() => 0.25);
  const drawn = Array.from({ length: 100_000 }, () => ids.next());
  const lastAt = new Map<number, number>();
  let nearest = Number.POSITIVE_INFINITY;
  for (const [i, id] of drawn.entries()) {
    nearest = Math.min(nearest, i - (lastAt.get(id) ?? Number.NEGATIVE_INFINITY));
    lastAt.set(id, i);
  }
  expect(nearest).toBeGreaterThan(8191);
  expect(drawn.every((id) => Number.isInteger(id) && id >= 0 && id <= 0xffff)).toBe(true);
});
