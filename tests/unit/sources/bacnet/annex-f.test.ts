/**
 * Examples of encodings from ASHRAE 135: values of clause 20.2, APDUs of annex F for the services used. All of them
 * from memory: the standard was not at hand. The examples' own size and segmentation octets are theirs; ours always
 * says 'segments accepted, more than 64, 1476 octets'.
 */
import { describe, expect, test } from 'vitest';
import { readApdu, writeConfirmed, writeSimpleAck, writeUnconfirmed } from '../../../../agent/sources/bacnet/apdu.ts';
import { Octets } from '../../../../agent/sources/bacnet/octets.ts';
import {
  readCovNotification,
  readIAm,
  readReadPropertyAck,
  readReadPropertyMultipleAck,
  writeReadProperty,
  writeReadPropertyMultiple,
  writeSubscribeCov,
  writeWhoIs,
} from '../../../../agent/sources/bacnet/services.ts';
import { readValue } from '../../../../agent/sources/bacnet/values.ts';
import { bytes, hex } from './hex.ts';

const analogInput = (instance: number) => ({ type: 0, instance });

function payloadOf(text: string): Uint8Array {
  const apdu = readApdu(bytes(text));
  if (!apdu.ok || !('payload' in apdu.value)) throw new Error(`no payload: ${JSON.stringify(apdu)}`);
  return apdu.value.payload;
}

describe('values, clause 20.2', () => {
  test.each([
    ['null', '00', { type: 'null' }],
    ['boolean', '10', { type: 'boolean', value: false }],
    ['unsigned 72', '2148', { type: 'unsigned', value: 72 }],
    ['signed 72', '3148', { type: 'signed', value: 72 }],
    ['real 72.0', '44 42900000', { type: 'real', value: 72 }],
    ['double 72.0', '5508 4052000000000000', { type: 'double', value: 72 }],
    ['octet string', '63 1234FF', { type: 'octets', value: bytes('1234FF') }],
    [
      'character string',
      '7519 00 546869732069732061204241436E657420737472696E6721',
      { type: 'string', characterSet: 0, value: 'This is a BACnet string!' },
    ],
    ['UTF-8', '750A 00 4672616EC3A7616973', { type: 'string', characterSet: 0, value: 'Français' }],
    ['bit string', '82 03A8', { type: 'bits', value: [true, false, true, false, true] }],
    ['enumerated', '9100', { type: 'enumerated', value: 0 }],
    ['date', 'A4 5B011804', { type: 'date', year: 1991, month: 1, day: 24 }],
    ['time', 'B4 11232D11', { type: 'time', hour: 17, minute: 35, second: 45.17 }],
    ['object identifier', 'C4 00C0000F', { type: 'object', value: { type: 3, instance: 15 } }],
  ])('%s', (_, text, value) => {
    const octets = new Octets(bytes(text));
    expect(readValue(octets)).toEqual(value);
    expect([octets.fault, octets.left]).toEqual([null, 0]);
  });
});

describe('Who-Is and I-Am, F.4.9', () => {
  test('the network address of device 3', () => {
    expect(hex(writeUnconfirmed(8, writeWhoIs(3, 3)))).toBe('100809031903');
  });
  test('its answer', () => {
    expect(readIAm(payloadOf('10 00 C402000003 220400 9103 2163'))).toEqual({
      ok: true,
      value: { instance: 3, maxApdu: 1024, segmentation: 3, vendor: 99 },
    });
  });
});

describe('ReadProperty, F.3.5', () => {
  test('the present value of analog input 5', () => {
    const payload = writeReadProperty({ object: analogInput(5), property: 85 });
    expect(hex(writeConfirmed(1, 12, payload))).toBe('0275010c0c000000051955');
  });
  test('72.3', () => {
    const apdu = readApdu(bytes('30 01 0C 0C00000005 1955 3E 444290999A 3F'));
    expect(apdu).toMatchObject({ ok: true, value: { kind: 'complex-ack', invokeId: 1, service: 12, segment: null } });
    expect(readReadPropertyAck(payloadOf('30 01 0C 0C00000005 1955 3E 444290999A 3F'))).toEqual({
      ok: true,
      value: {
        object: analogInput(5),
        property: 85,
        answer: { ok: true, values: [{ type: 'real', value: Math.fround(72.3) }] },
      },
    });
  });
});

describe('ReadPropertyMultiple, F.3.7', () => {
  test('present value and reliability of analog input 16', () => {
    const payload = writeReadPropertyMultiple([{ object: analogInput(16), properties: [85, 103] }]);
    expect(hex(writeConfirmed(241, 14, payload))).toBe('0275f10e0c000000101e095509671f');
    const reply = payloadOf('30 F1 0E 0C00000010 1E 2955 4E 444290999A 4F 2967 4E 9100 4F 1F');
    expect(readReadPropertyMultipleAck(reply)).toEqual({
      ok: true,
      value: [
        {
          object: analogInput(16),
          property: 85,
          answer: { ok: true, values: [{ type: 'real', value: Math.fround(72.3) }] },
        },
        { object: analogInput(16), property: 103, answer: { ok: true, values: [{ type: 'enumerated', value: 0 }] } },
      ],
    });
  });

  test('present values of analog inputs 33, 50 and 35, of which 50 is not there', () => {
    const asks = [33, 50, 35].map((instance) => ({ object: analogInput(instance), properties: [85] }));
    expect(hex(writeConfirmed(2, 14, writeReadPropertyMultiple(asks)))).toBe(
      '0275020e0c000000211e09551f0c000000321e09551f0c000000231e09551f',
    );
    const reply = payloadOf(`30 02 0E
      0C00000021 1E 2955 4E 4442293333 4F 1F
      0C00000032 1E 2955 5E 9101 911F 5F 1F
      0C00000023 1E 2955 4E 4443D9D99A 4F 1F`);
    expect(readReadPropertyMultipleAck(reply)).toMatchObject({
      ok: true,
      value: [
        { object: analogInput(33), answer: { values: [{ value: Math.fround(42.3) }] } },
        { object: analogInput(50), answer: { ok: false, errorClass: 1, code: 31 } },
        { object: analogInput(35), answer: { values: [{ value: Math.fround(435.7) }] } },
      ],
    });
  });
});

describe('change of value, F.1', () => {
  const LIST = '4E 0955 2E 4442820000 2F 096F 2E 820400 2F 4F';
  const report = {
    ok: true,
    value: {
      process: 18,
      device: { type: 8, instance: 4 },
      object: analogInput(10),
      values: [
        { property: 85, values: [{ type: 'real', value: 65 }] },
        { property: 111, values: [{ type: 'bits', value: [false, false, false, false] }] },
      ],
    },
  };

  test('SubscribeCOV to analog input 10, without end', () => {
    const payload = writeSubscribeCov({ process: 18, object: analogInput(10), lifetimeS: 0 });
    expect(hex(writeConfirmed(15, 5, payload))).toBe('02750f0509121c0000000a29013900');
    expect(readApdu(bytes('20 0F 05'))).toEqual({ ok: true, value: { kind: 'simple-ack', invokeId: 15, service: 5 } });
  });

  test('a confirmed report, and its acknowledgement', () => {
    const apdu = readApdu(bytes(`00 02 0F 01 0912 1C02000004 2C0000000A 3900 ${LIST}`));
    expect(apdu).toMatchObject({ ok: true, value: { kind: 'confirmed', invokeId: 15, service: 1, segment: null } });
    expect(readCovNotification(payloadOf(`00 02 0F 01 0912 1C02000004 2C0000000A 3900 ${LIST}`))).toEqual(report);
    expect(hex(writeSimpleAck(15, 1))).toBe('200f01');
  });

  test('an unconfirmed report', () => {
    expect(readCovNotification(payloadOf(`10 02 0912 1C02000004 2C0000000A 3900 ${LIST}`))).toEqual(report);
  });
});
