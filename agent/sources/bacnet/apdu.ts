/** APDUs of ASHRAE 135 clause 20.1: the fixed part of each, read; and the few that leave, written. */
import { fail, ok, type Result } from './decoded.ts';
import { Octets } from './octets.ts';
import { applicationNumber } from './values.ts';

export const CONFIRMED = { covNotification: 1, subscribeCov: 5, readProperty: 12, readPropertyMultiple: 14 } as const;
export const UNCONFIRMED = { iAm: 0, covNotification: 2, whoIs: 8 } as const;

/** Largest APDU this side takes: the most that a BACnet/IP datagram of the standard carries. */
export const APDU_MAX = 1476;
/** The same in the standard's code, with 'more than 64 segments'. */
const LIMITS_CODE = (7 << 4) | 5;

/** One segment of a reply: its number modulo 256, whether more follow, and the window its sender proposes. */
export interface SegmentHead {
  readonly sequence: number;
  readonly more: boolean;
  readonly window: number;
}

export type Apdu =
  | {
      readonly kind: 'confirmed';
      readonly invokeId: number;
      readonly service: number;
      readonly segment: SegmentHead | null;
      readonly payload: Uint8Array;
    }
  | { readonly kind: 'unconfirmed'; readonly service: number; readonly payload: Uint8Array }
  | { readonly kind: 'simple-ack'; readonly invokeId: number; readonly service: number }
  | {
      readonly kind: 'complex-ack';
      readonly invokeId: number;
      readonly service: number;
      readonly segment: SegmentHead | null;
      readonly payload: Uint8Array;
    }
  | { readonly kind: 'segment-ack'; readonly invokeId: number }
  | {
      readonly kind: 'error';
      readonly invokeId: number;
      readonly service: number;
      readonly errorClass: number;
      readonly code: number;
    }
  | { readonly kind: 'reject'; readonly invokeId: number; readonly reason: number }
  | { readonly kind: 'abort'; readonly invokeId: number; readonly reason: number; readonly byServer: boolean };

export function readApdu(bytes: Uint8Array): Result<Apdu> {
  const octets = new Octets(bytes);
  const apdu = body(octets);
  if (octets.fault !== null || apdu === null) return fail(octets.fault ?? `a PDU of type ${(bytes[0] ?? 0) >> 4}`);
  return ok(apdu);
}

function body(octets: Octets): Apdu | null {
  const first = octets.u8();
  switch (first >> 4) {
    case 0: {
      octets.u8();
      return { kind: 'confirmed', ...serviceHead(octets, first) };
    }
    case 1:
      return { kind: 'unconfirmed', service: octets.u8(), payload: octets.rest() };
    case 2:
      return closed(octets, { kind: 'simple-ack', invokeId: octets.u8(), service: octets.u8() });
    case 3:
      return { kind: 'complex-ack', ...serviceHead(octets, first) };
    case 4: {
      const invokeId = octets.u8();
      octets.unsigned(2);
      return closed(octets, { kind: 'segment-ack', invokeId });
    }
    case 5: {
      const [invokeId, service] = [octets.u8(), octets.u8()];
      const errorClass = applicationNumber(octets, 'enumerated');
      return closed(octets, {
        kind: 'error',
        invokeId,
        service,
        errorClass,
        code: applicationNumber(octets, 'enumerated'),
      });
    }
    case 6:
      return closed(octets, { kind: 'reject', invokeId: octets.u8(), reason: octets.u8() });
    case 7:
      return closed(octets, { kind: 'abort', byServer: (first & 1) !== 0, invokeId: octets.u8(), reason: octets.u8() });
    default:
      return null;
  }
}

function closed(octets: Octets, apdu: Apdu): Apdu {
  octets.end();
  return apdu;
}

function serviceHead(octets: Octets, first: number) {
  const invokeId = octets.u8();
  const segmented = (first & 8) !== 0;
  const segment = segmented ? { more: (first & 4) !== 0, sequence: octets.u8(), window: octets.u8() } : null;
  return { invokeId, segment, service: octets.u8(), payload: octets.rest() };
}

/** An unsegmented confirmed request that takes its reply in segments. */
export function writeConfirmed(invokeId: number, service: number, payload: readonly number[]): Uint8Array {
  return Uint8Array.from([0x02, LIMITS_CODE, invokeId, service, ...payload]);
}

export function writeUnconfirmed(service: number, payload: readonly number[]): Uint8Array {
  return Uint8Array.from([0x10, service, ...payload]);
}

export function writeSimpleAck(invokeId: number, service: number): Uint8Array {
  return Uint8Array.from([0x20, invokeId, service]);
}

export function writeSegmentAck(options: {
  invokeId: number;
  sequence: number;
  window: number;
  negative: boolean;
}): Uint8Array {
  const { invokeId, sequence, window, negative } = options;
  return Uint8Array.from([0x40 | (negative ? 2 : 0), invokeId, sequence, window]);
}

export function writeAbort(invokeId: number, reason: number): Uint8Array {
  return Uint8Array.from([0x70, invokeId, reason]);
}
