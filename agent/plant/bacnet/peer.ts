/**
 * Who a datagram came from, and the envelope around what is sent back: BVLL (Annex J) and network layer (clause 6) of
 * ASHRAE 135, from memory.
 */
import { Reader } from './reader.ts';

/** A station behind a router. */
export interface Route {
  readonly network: number;
  readonly address: Buffer;
}

export interface Peer {
  readonly host: string;
  readonly port: number;
  readonly route: Route | null;
}

const BVLL = 0x81;
const UNICAST = 0x0a;
const BROADCAST = 0x0b;
const FORWARDED = 0x04;
const VERSION = 1;
const NETWORK_MESSAGE = 0x80;
const DESTINATION = 0x20;
const SOURCE = 0x08;
const EXPECTING_REPLY = 0x04;
const EVERY_NETWORK = 0xffff;

export function peerKey({ host, port, route }: Peer): string {
  return route === null ? `${host}:${port}` : `${host}:${port}/${route.network}/${route.address.toString('hex')}`;
}

export interface Received {
  readonly peer: Peer;
  readonly apdu: Buffer;
}

/** The application's part of a datagram and whom to answer; null: not for this device. Throws `Malformed`. */
export function unwrap(data: Buffer, from: { readonly address: string; readonly port: number }): Received | null {
  const reader = new Reader(data);
  if (reader.byte() !== BVLL) return null;
  const kind = reader.byte();
  if (reader.word() !== data.length) return null;
  if (kind !== UNICAST && kind !== BROADCAST && kind !== FORWARDED) return null;
  let { address: host, port } = from;
  if (kind === FORWARDED) {
    host = [...reader.bytes(4)].join('.');
    port = reader.word();
  }
  if (reader.byte() !== VERSION) return null;
  const control = reader.byte();
  let forUs = (control & NETWORK_MESSAGE) === 0;
  if (control & DESTINATION) {
    // No router: only what is for all networks is for this one too.
    forUs &&= reader.word() === EVERY_NETWORK;
    reader.bytes(reader.byte());
  }
  let route: Route | null = null;
  if (control & SOURCE) {
    const network = reader.word();
    route = { network, address: Buffer.from(reader.bytes(reader.byte())) };
  }
  if (control & DESTINATION) reader.byte();
  return forUs ? { peer: { host, port, route }, apdu: reader.rest() } : null;
}

export function wrap(apdu: Uint8Array, peer: Peer, expectingReply: boolean): Buffer {
  const { route } = peer;
  const control = (route === null ? 0 : DESTINATION) | (expectingReply ? EXPECTING_REPLY : 0);
  const to =
    route === null ? [] : [route.network >> 8, route.network & 0xff, route.address.length, ...route.address, 0xff];
  const length = 6 + to.length + apdu.length;
  return Buffer.from([BVLL, UNICAST, length >> 8, length & 0xff, VERSION, control, ...to, ...apdu]);
}
