/** Laws of the decoders, of the reassembly and of the gate, for any bytes. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type Apdu, readApdu } from '../../../../agent/sources/bacnet/apdu.ts';
import { refusal } from '../../../../agent/sources/bacnet/gate.ts';
import { readDatagram, writeDatagram } from '../../../../agent/sources/bacnet/network.ts';
import { Octets } from '../../../../agent/sources/bacnet/octets.ts';
import { Reassembly } from '../../../../agent/sources/bacnet/segments.ts';
import {
  readCovNotification,
  readIAm,
  readReadPropertyAck,
  readReadPropertyMultipleAck,
  writeReadProperty,
  writeReadPropertyMultiple,
  writeSubscribeCov,
} from '../../../../agent/sources/bacnet/services.ts';
import { readValue } from '../../../../agent/sources/bacnet/values.ts';

/** Bytes in which the structures of the standard are likely: tags, lengths, heads. */
const likely = fc.constantFrom(
  ...[0x00, 0x01, 0x02, 0x09, 0x0a, 0x0c, 0x0e, 0x0f, 0x10, 0x19, 0x1c, 0x1e, 0x1f, 0x20, 0x21, 0x25, 0x29, 0x2e, 0x2f],
  ...[0x30, 0x38, 0x3c, 0x3e, 0x3f, 0x44, 0x4e, 0x4f, 0x50, 0x55, 0x5e, 0x5f, 0x71, 0x75, 0x81, 0x82, 0x91, 0xc4, 0xf9],
  ...[0xfd, 0xfe, 0xff],
);
const any = fc.oneof(
  fc.uint8Array({ maxLength: 600 }),
  fc
    .array(fc.oneof({ arbitrary: likely, weight: 4 }, { arbitrary: fc.nat(255), weight: 1 }), { maxLength: 200 })
    .map((list) => Uint8Array.from(list)),
);
const RUNS = { numRuns: 3000 };
const object = fc.record({ type: fc.nat(1023), instance: fc.nat(0x3f_ffff) });

describe('a decoder gives a value or a fault, whatever the bytes', () => {
  const decoders = {
    readDatagram,
    readApdu,
    readIAm,
    readReadPropertyAck,
    readReadPropertyMultipleAck,
    readCovNotification,
  };
  test.each(Object.entries(decoders))('%s', (_, decode) => {
    fc.assert(
      fc.property(any, (bytes) => {
        const before = bytes.slice();
        const read = decode(bytes) as { ok: boolean; fault?: string };
        if (!read.ok) expect(read.fault).toMatch(/\S/);
        expect(bytes).toEqual(before);
      }),
      RUNS,
    );
  });

  test('the same bytes inside a larger memory: nothing beyond them is read', () => {
    fc.assert(
      fc.property(any, fc.uint8Array({ maxLength: 20 }), (bytes, around) => {
        const memory = Uint8Array.from([...around, ...bytes, ...around]);
        const inside = memory.subarray(around.length, around.length + bytes.length);
        for (const decode of Object.values(decoders)) expect(decode(inside)).toEqual(decode(bytes));
      }),
      RUNS,
    );
  });

  test('values one after another: each takes bytes or is a fault, so that every list ends', () => {
    fc.assert(
      fc.property(any, (bytes) => {
        const octets = new Octets(bytes);
        for (let left = octets.left; left > 0; left = octets.left) {
          readValue(octets);
          expect(octets.left).toBeLessThan(left);
        }
      }),
      RUNS,
    );
  });
});

describe('what is cut off at any place is a fault, or nothing', () => {
  const whole: readonly (readonly [string, (bytes: Uint8Array) => { ok: boolean }, string])[] = [
    ['I-Am', readIAm, 'c40200000322040091032163'],
    ['ReadProperty', readReadPropertyAck, '0c0000000519553e444290999a3f'],
    ['COV', readCovNotification, '09121c020000042c0000000a39004e09552e44428200002f096f2e8204002f4f'],
  ];
  test.each(whole)('%s', (_, decode, text) => {
    const bytes = Uint8Array.from(Buffer.from(text, 'hex'));
    expect(decode(bytes).ok).toBe(true);
    for (let length = 0; length < bytes.length; length += 1) expect(decode(bytes.subarray(0, length)).ok).toBe(false);
  });
});

describe('reassembly', () => {
  test('any order, any copies: what comes out is the whole reply or nothing', () => {
    const scene = fc.record({
      count: fc.integer({ min: 1, max: 600 }),
      window: fc.nat(255),
      noise: fc.infiniteStream(fc.record({ drop: fc.nat(9), copy: fc.nat(9), swap: fc.nat(9) })),
    });
    fc.assert(
      fc.property(scene, ({ count, window, noise }) => {
        const reassembly = new Reassembly();
        const part = (n: number): Uint8Array => Uint8Array.of(n & 255, n >> 8);
        let next = 0;
        let agreed = 1;
        let whole: Uint8Array | null = null;
        for (let turn = 0; turn < 4 * count + 40 && whole === null; turn += 1) {
          const burst = Array.from({ length: Math.min(agreed, count - next) }, (_, i) => next + i);
          const { value } = noise.next();
          const { drop, copy, swap } = value as { drop: number; copy: number; swap: number };
          if (drop < 2 && turn % 2 === 0) burst.splice(drop, 1);
          if (copy < 3 && burst.length > 0) burst.push(burst[copy % burst.length]!);
          if (swap < 2) burst.reverse();
          for (const n of burst) {
            const step = reassembly.offer({ sequence: n & 255, more: n < count - 1, window }, part(n));
            expect(step.overflow).toBe(false);
            whole ??= step.whole;
            const { acknowledge } = step;
            if (acknowledge === null) continue;
            agreed = acknowledge.window;
            next = n - ((n - acknowledge.sequence + 256) & 255) + 1;
          }
        }
        if (whole !== null) expect([...whole]).toEqual(Array.from({ length: count }, (_, n) => [...part(n)]).flat());
        // without losses in a row it always comes to an end
        else expect(next).toBeLessThan(count);
      }),
      { numRuns: 300 },
    );
  });
});

describe('the gate', () => {
  const NOWHERE = { network: null, mac: new Uint8Array(0) };

  test('lets every question pass that the writers make, to any place', () => {
    const network = fc.option(fc.integer({ min: 1, max: 65_534 }), { nil: null });
    const place = fc.record({ network, mac: fc.uint8Array({ maxLength: 7 }) });
    const question = fc.oneof(
      fc
        .tuple(object, fc.nat(0x3f_ffff))
        .map(([one, property]) => [12, ...writeReadProperty({ object: one, property })]),
      fc
        .array(object, { minLength: 1, maxLength: 40 })
        .map((list) => [
          14,
          ...writeReadPropertyMultiple(list.map((one) => ({ object: one, properties: [85, 111, 103] }))),
        ]),
      fc
        .tuple(object, fc.integer({ min: 1, max: 0x3f_ffff }), fc.option(fc.nat(65_535), { nil: undefined }))
        .map(([one, process, lifetimeS]) => [
          5,
          ...writeSubscribeCov({ process, object: one, ...(lifetimeS === undefined ? {} : { lifetimeS }) }),
        ]),
    );
    fc.assert(
      fc.property(question, fc.integer({ min: 1, max: 255 }), place, (content, id, to) => {
        const apdu = Uint8Array.from([0x02, 0x75, id, ...content]);
        expect(refusal(writeDatagram({ via: 'unicast', to, expectsReply: true, apdu }))).toBeNull();
      }),
      RUNS,
    );
  });

  test('lets nothing pass that another reader takes for anything else', () => {
    const apdu = fc
      .tuple(fc.constantFrom(0x00, 0x02, 0x0a, 0x10, 0x20, 0x30, 0x40, 0x42, 0x50, 0x60, 0x70, 0x71), any)
      .map(([first, rest]) => Uint8Array.from([first, ...rest]));
    const allowed = (read: Apdu): boolean => {
      if (read.kind === 'confirmed') return read.segment === null && [5, 12, 14].includes(read.service);
      if (read.kind === 'unconfirmed') return read.service === 8;
      if (read.kind === 'simple-ack') return read.service === 1;
      return read.kind === 'segment-ack' || (read.kind === 'abort' && !read.byServer);
    };
    let passed = 0;
    fc.assert(
      fc.property(apdu, fc.constantFrom('unicast', 'broadcast', 'distribute' as const), (bytes, via) => {
        const frame = writeDatagram({ via: via as 'unicast', to: NOWHERE, expectsReply: false, apdu: bytes });
        if (refusal(frame) !== null) return;
        passed += 1;
        const read = readApdu(bytes);
        expect(read.ok && allowed(read.value)).toBe(true);
      }),
      { numRuns: 10_000 },
    );
    expect(passed).toBeGreaterThan(20);
  });

  test('and nothing at all that is no frame', () => {
    fc.assert(
      fc.property(any, (bytes) => {
        if (refusal(bytes) === null) expect([bytes[0], 256 * bytes[2]! + bytes[3]!]).toEqual([0x81, bytes.length]);
      }),
      RUNS,
    );
  });
});
