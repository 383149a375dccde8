/** BVLC (annex J of ASHRAE 135) and NPDU (clause 6), read and written; IPv4 alone. */
import { fail, ok, type Result } from './decoded.ts';
import { Octets } from './octets.ts';

export interface Endpoint {
  /** IPv4 address, dotted. */
  readonly host: string;
  readonly port: number;
}

/** Where a device is: at an endpoint, or behind the router at that endpoint. */
export interface DeviceAddress extends Endpoint {
  /** Network behind the router, and the device's address there; null and empty without a router. */
  readonly network: number | null;
  readonly mac: Uint8Array;
}

export type Datagram =
  | { readonly kind: 'result'; readonly code: number }
  | {
      readonly kind: 'apdu';
      readonly bytes: Uint8Array;
      /** Who sent it before a BBMD passed it on; null where it came straight. */
      readonly forwardedFrom: Endpoint | null;
      readonly broadcast: boolean;
      /** Network and address of the sender behind a router. */
      readonly source: { readonly network: number; readonly mac: Uint8Array } | null;
    }
  /** Well formed, and none of our business: network layer messages, management of BBMDs, other networks. */
  | { readonly kind: 'other' };

const BVLC_IP = 0x81;
export const BVLC = { result: 0, forwarded: 4, register: 5, distribute: 9, unicast: 10, broadcast: 11 } as const;
const FUNCTIONS_MAX = 0x0c;

export function readDatagram(bytes: Uint8Array): Result<Datagram> {
  const octets = new Octets(bytes);
  if (octets.u8() !== BVLC_IP) return fail('not BACnet/IP');
  const code = octets.u8();
  if (octets.unsigned(2) !== bytes.length) octets.fail('a length that is not that of the datagram');
  if (code === BVLC.result) {
    const result = octets.unsigned(2);
    octets.end();
    return octets.fault === null ? ok({ kind: 'result', code: result }) : fail(octets.fault);
  }
  let forwardedFrom: Endpoint | null = null;
  if (code === BVLC.forwarded) {
    const host = [octets.u8(), octets.u8(), octets.u8(), octets.u8()].join('.');
    forwardedFrom = { host, port: octets.unsigned(2) };
  }
  if (octets.fault !== null) return fail(octets.fault);
  if (code > FUNCTIONS_MAX) return fail(`BVLC function ${code}`);
  if (code !== BVLC.forwarded && code !== BVLC.unicast && code !== BVLC.broadcast) return ok({ kind: 'other' });
  return readNpdu(octets, { forwardedFrom, broadcast: code !== BVLC.unicast });
}

function readNpdu(
  octets: Octets,
  carrier: { readonly forwardedFrom: Endpoint | null; readonly broadcast: boolean },
): Result<Datagram> {
  if (octets.u8() !== 1) octets.fail('an unknown NPDU version');
  const control = octets.u8();
  let foreign = false;
  if (control & 0x20) {
    foreign = octets.unsigned(2) !== 0xffff;
    octets.take(octets.u8());
  }
  let source: { network: number; mac: Uint8Array } | null = null;
  if (control & 0x08) {
    const network = octets.unsigned(2);
    source = { network, mac: octets.take(octets.u8()) };
    if (network === 0 || network === 0xffff || source.mac.length === 0) octets.fail('a source address that is none');
  }
  if (control & 0x20) octets.u8();
  if (octets.fault !== null) return fail(octets.fault);
  if (control & 0x80 || foreign) return ok({ kind: 'other' });
  if (octets.left === 0) return fail('no APDU');
  return ok({ kind: 'apdu', bytes: octets.rest(), source, ...carrier });
}

/** Destination of a datagram on the network layer: none on the own network; no `mac` means all of that network. */
export interface Destination {
  readonly network: number | null;
  readonly mac: Uint8Array;
}

/** Hops a routed datagram may make: the standard's start value. */
const HOPS = 255;

export function writeDatagram(options: {
  via: 'unicast' | 'broadcast' | 'distribute';
  to: Destination;
  expectsReply: boolean;
  apdu: Uint8Array;
}): Uint8Array {
  const { via, to, expectsReply, apdu } = options;
  const { network, mac } = to;
  const routed = network === null ? [] : [network >> 8, network & 0xff, mac.length, ...mac, HOPS];
  const control = (network === null ? 0 : 0x20) | (expectsReply ? 0x04 : 0);
  const length = 4 + 2 + routed.length + apdu.length;
  return Uint8Array.from([BVLC_IP, BVLC[via], length >> 8, length & 0xff, 1, control, ...routed, ...apdu]);
}

export function writeRegistration(ttlS: number): Uint8Array {
  return Uint8Array.from([BVLC_IP, BVLC.register, 0, 6, ttlS >> 8, ttlS & 0xff]);
}

export function addressKey({ host, port, network, mac }: DeviceAddress): string {
  return network === null ? `${host}:${port}` : `${host}:${port} network ${network} address ${hex(mac)}`;
}

function hex(bytes: Uint8Array): string {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
}
