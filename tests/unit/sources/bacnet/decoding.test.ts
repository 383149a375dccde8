/** What the decoders make of numbers, strings, constructions and addresses at the edges of the standard. */
import { describe, expect, test } from 'vitest';
import { readApdu } from '../../../../agent/sources/bacnet/apdu.ts';
import { readDatagram, writeDatagram, writeRegistration } from '../../../../agent/sources/bacnet/network.ts';
import { Octets } from '../../../../agent/sources/bacnet/octets.ts';
import { readReadPropertyAck } from '../../../../agent/sources/bacnet/services.ts';
import { readValue } from '../../../../agent/sources/bacnet/values.ts';
import { bytes, hex } from './hex.ts';

function value(text: string) {
  const octets = new Octets(bytes(text));
  const read = readValue(octets);
  return octets.fault ?? read;
}

describe('numbers', () => {
  test.each([
    ['unsigned of 7 bytes', '2507 00000000000100', { type: 'unsigned', value: 256 }],
    ['the greatest a number holds', '2507 1FFFFFFFFFFFFF', { type: 'unsigned', value: Number.MAX_SAFE_INTEGER }],
    ['beyond it', '2507 20000000000000', { type: 'unsigned', value: null }],
    ['unsigned of 8 bytes', '2508 FFFFFFFFFFFFFFFF', { type: 'unsigned', value: null }],
    ['unsigned of 9 bytes', '2509 000000000000000001', { type: 'unsigned', value: null }],
    ['unsigned with leading zeros', '2404 00000001'.replace('04 ', ''), { type: 'unsigned', value: 1 }],
    ['signed -1', '31 FF', { type: 'signed', value: -1 }],
    ['signed -129', '32 FF7F', { type: 'signed', value: -129 }],
    ['signed, lowest of 8 bytes', '3508 8000000000000000', { type: 'signed', value: null }],
    ['real NaN', '44 7FC00000', { type: 'real', value: Number.NaN }],
    ['real infinity', '44 FF800000', { type: 'real', value: Number.NEGATIVE_INFINITY }],
    ['enumerated of 2 bytes', '92 0100', { type: 'enumerated', value: 256 }],
  ])('%s', (_, text, expected) => {
    expect(value(text)).toEqual(expected);
  });

  test.each([
    ['unsigned of no bytes', '20', 'application tag 2: a number of no bytes'],
    ['real of 3 bytes', '43 429099', 'application tag 4: a length beyond the end'],
    ['real of 5 bytes', '4505 4290999A00', 'application tag 4: 1 bytes beyond the end'],
    ['boolean of 2', '12', 'a boolean of 2'],
    ['a length beyond the end', '25FE FFFF 00', 'a length beyond the end'],
    ['a length of four bytes beyond the end', '25FF FFFFFFFF 00', 'a length beyond the end'],
    ['bits of which more are unused than there are', '81 05', 'application tag 8: 5 unused bits'],
    ['bits of which 9 are unused', '82 09FF', 'application tag 8: 9 unused bits'],
    ['an application tag of no class', '26', 'a tag of no class'],
    ['a closing tag alone', '3F', 'a closing tag that was never opened'],
    ['nothing', '', 'cut short'],
  ])('%s is a fault', (_, text, fault) => {
    expect(value(text)).toBe(fault);
  });
});

describe('strings', () => {
  test.each([
    ['Latin-1', '74 05 E96FE9', 'éoé'],
    ['UCS-2', '75 07 04 00E9006F20AC', 'éo€'],
    ['UCS-2 cut in half', '74 04 00E900', null],
    ['UTF-8 that is none', '73 00 C328', null],
    ['JIS', '73 02 3021', null],
    ['IBM code page', '75 05 01 03524142', null],
    ['UCS-4', '75 05 03 000000E9', null],
    ['empty', '71 00', ''],
  ])('%s', (_, text, expected) => {
    expect(value(text)).toMatchObject({ type: 'string', value: expected });
  });
});

describe('what has no meaning here', () => {
  const answer = (content: string) => readReadPropertyAck(bytes(`0C00000005 1955 3E ${content} 3F`));

  test('is passed over by its length: reserved tags, context tags, constructions in constructions', () => {
    const read = answer('D1AA  0A1234  0E 1E 3E 10 11 441F2F3F4F 3F 1F 2C00000001 0F  444290999A');
    const values = [
      { type: 'other' },
      { type: 'other' },
      { type: 'other' },
      { type: 'real', value: Math.fround(72.3) },
    ];
    expect(read).toMatchObject({ ok: true, value: { answer: { values } } });
  });
  test('a tag number of its own byte', () => {
    expect(answer('F9C8AA').ok).toBe(true);
  });
  test.each([
    ['a construction without end', '0E 1E 10'],
    ['ten thousand constructions in each other', '0E'.repeat(10_000)],
    ['a length that passes the closing tag', '0C'],
  ])('%s is a fault', (_, content) => {
    expect(answer(content)).toMatchObject({ ok: false });
  });
  test('bytes behind the end are a fault', () => {
    expect(readReadPropertyAck(bytes('0C00000005 1955 3E 2148 3F 00'))).toEqual({
      ok: false,
      fault: '1 bytes beyond the end',
    });
  });
});

describe('BVLC and NPDU', () => {
  const EMPTY = new Uint8Array(0);
  const apdu = bytes('1008');

  test('local, broadcast, distributed', () => {
    const to = { network: null, mac: EMPTY };
    expect(hex(writeDatagram({ via: 'unicast', to, expectsReply: true, apdu }))).toBe('810a000801041008');
    expect(hex(writeDatagram({ via: 'broadcast', to, expectsReply: false, apdu }))).toBe('810b000801001008');
    expect(hex(writeDatagram({ via: 'distribute', to, expectsReply: false, apdu }))).toBe('8109000801001008');
  });
  test('to a device, and to all devices, of a network behind a router', () => {
    const device = { network: 2001, mac: bytes('05') };
    expect(hex(writeDatagram({ via: 'unicast', to: device, expectsReply: true, apdu }))).toBe(
      '810a000d012407d10105ff1008',
    );
    const all = { network: 2001, mac: EMPTY };
    expect(hex(writeDatagram({ via: 'broadcast', to: all, expectsReply: false, apdu }))).toBe(
      '810b000c012007d100ff1008',
    );
  });
  test('registration as a foreign device', () => {
    expect(hex(writeRegistration(300))).toBe('81050006012c');
  });
  test('a device behind a router, as its reply comes', () => {
    expect(readDatagram(bytes('810A 000C 0108 07D1 01 05 3001'))).toMatchObject({
      ok: true,
      value: { kind: 'apdu', source: { network: 2001, mac: bytes('05') }, bytes: bytes('3001'), forwardedFrom: null },
    });
  });
  test('passed on by a BBMD', () => {
    expect(readDatagram(bytes('8104 0010 0A000007BAC0 0120FFFF00FF 1000'.replace('0010', '0012')))).toMatchObject({
      ok: true,
      value: { kind: 'apdu', forwardedFrom: { host: '10.0.0.7', port: 47808 }, broadcast: true, bytes: bytes('1000') },
    });
  });
  test('the result of a registration', () => {
    expect(readDatagram(bytes('810000060030'))).toEqual({ ok: true, value: { kind: 'result', code: 0x30 } });
  });
  test.each([
    ['a network layer message', '810A 0007 018001'],
    ['a datagram for another network', '810A 000C 0120 07D2 00 FF 1008'],
    ['a Who-Is-Router, broadcast', '810B 0007 018000'],
    ['a read of the broadcast table', '81020004'],
  ])('%s is none of our business', (_, text) => {
    expect(readDatagram(bytes(text))).toEqual({ ok: true, value: { kind: 'other' } });
  });
  test.each([
    ['another protocol', '820A 0008 0104 1008', 'not BACnet/IP'],
    ['a length too great', '810A 0009 0104 1008', 'a length that is not that of the datagram'],
    ['a length too small', '810A 0007 0104 1008', 'a length that is not that of the datagram'],
    ['another version', '810A 0008 0204 1008', 'an unknown NPDU version'],
    ['no APDU', '810A 0006 0104', 'no APDU'],
    ['an address beyond the end', '810A 000A 0108 07D1 20 05', 'a length beyond the end'],
    ['a source of no length', '810A 000C 0108 07D1 00 1008 00', 'a source address that is none'],
    ['an unknown function', '810D 0006 0104', 'BVLC function 13'],
    ['nothing', '', 'not BACnet/IP'],
  ])('%s is a fault', (_, text, fault) => {
    expect(readDatagram(bytes(text))).toEqual({ ok: false, fault });
  });
});

describe('APDUs', () => {
  test.each([
    [
      'a segment',
      '3C 07 05 10 0E AABB',
      { kind: 'complex-ack', service: 14, segment: { more: true, sequence: 5, window: 16 } },
    ],
    ['the last segment', '38 07 FF 10 0E', { segment: { more: false, sequence: 255, window: 16 } }],
    ['an error', '50 07 0E 9101 911F', { kind: 'error', service: 14, errorClass: 1, code: 31 }],
    ['a reject', '60 07 09', { kind: 'reject', invokeId: 7, reason: 9 }],
    ['an abort by the device', '71 07 04', { kind: 'abort', byServer: true, reason: 4 }],
    ['an abort by the requester', '70 07 04', { kind: 'abort', byServer: false, reason: 4 }],
    ['an acknowledged segment', '41 07 05 10', { kind: 'segment-ack', invokeId: 7 }],
  ])('%s', (_, text, expected) => {
    expect(readApdu(bytes(text))).toMatchObject({ ok: true, value: expected });
  });
  test.each([
    ['nothing', ''],
    ['a type that is none', '80 00'],
    ['an error without class', '50 07 0E'],
    ['an error with a string for a class', '50 07 0E 7100 911F'],
    ['a simple acknowledgement with more behind it', '20 07 05 00'],
    ['a segment cut short', '3C 07 05'],
  ])('%s is a fault', (_, text) => {
    expect(readApdu(bytes(text))).toMatchObject({ ok: false, fault: expect.stringMatching(/\S/) });
  });
});
