/**
 * One UDP socket for every device behind one local address and port. Sorts what arrives to the device it comes from;
 * answers nothing but what it asked for itself (segments, reports it subscribed to).
 */
import type { Clock } from '../../base/clock.ts';
import { LIMITS } from '../../base/limits.ts';
import type { Timers } from '../timers.ts';
import { type Apdu, CONFIRMED, readApdu, UNCONFIRMED, writeSimpleAck, writeUnconfirmed } from './apdu.ts';
import { ForeignRegistration } from './foreign.ts';
import {
  addressKey,
  type Datagram,
  type DeviceAddress,
  type Endpoint,
  readDatagram,
  writeDatagram,
} from './network.ts';
import { type Ask, type Outcome, Peer } from './peer.ts';
import { type CovNotification, type IAm, readCovNotification, readIAm, writeWhoIs } from './services.ts';
import { type Datagrams, type OpenDatagrams, openUdp } from './udp.ts';

export interface PortMeans {
  readonly clock: Clock;
  readonly timers: Timers;
  readonly random: () => number;
  readonly open?: OpenDatagrams;
}

/** Where Who-Is goes: a broadcast address, one device or router, or a BBMD that distributes it. */
export interface Audience {
  readonly via: 'unicast' | 'broadcast' | 'distribute';
  readonly to: Endpoint;
  /** Network behind a router whose devices are meant; null: those that hear it directly. */
  readonly network: number | null;
}

export type IAmListener = (iAm: IAm, from: DeviceAddress) => void;
/** Takes a report, or says that it is not its own. `repeated`: it was delivered before. */
export type ReportListener = (report: CovNotification, from: DeviceAddress, repeated: boolean) => boolean;

const NOBODY = new Uint8Array(0);

export class BacnetPort {
  readonly #means: PortMeans;
  readonly #local: Endpoint;
  readonly #owners = new Set<object>();
  readonly #peers = new Map<string, Peer>();
  readonly #bbmds = new Map<string, ForeignRegistration>();
  readonly #iAmListeners = new Set<IAmListener>();
  readonly #reportListeners = new Set<ReportListener>();
  #socket: Promise<Datagrams> | null = null;
  #closing: Promise<void> = Promise.resolve();
  readonly #counters = { datagrams: 0, malformed: 0, strays: 0, sent: 0, send_failures: 0 };

  constructor(options: PortMeans & { local: Endpoint }) {
    this.#means = options;
    this.#local = options.local;
  }

  /** Binds the socket for the first owner; rejects with the reason where that fails. */
  async attach(owner: object): Promise<void> {
    this.#owners.add(owner);
    await this.#bound();
  }

  /** Takes back every request of an owner, and closes the socket behind the last one. Resolves when it is free. */
  async release(owner: object): Promise<void> {
    this.#owners.delete(owner);
    for (const peer of this.#peers.values()) peer.cancel(owner);
    if (this.#owners.size > 0 || this.#socket === null) return;
    const socket = this.#socket;
    this.#socket = null;
    for (const bbmd of this.#bbmds.values()) bbmd.stop();
    this.#closing = socket.then(
      (open) => open.close(),
      () => {},
    );
    await this.#closing;
  }

  counters(): Readonly<Record<string, number>> {
    return { ...this.#counters };
  }

  /** The port bound to; for devices and tests that must know it. */
  async localPort(): Promise<number> {
    return (await this.#bound()).port;
  }

  exchange<T>(address: DeviceAddress, ask: Ask<T>): Promise<Outcome<T>> {
    return this.#peer(address).exchange(ask);
  }

  /** Sends a request whose answer nobody waits for. */
  tell(address: DeviceAddress, service: number, payload: readonly number[]): Promise<void> {
    return this.#peer(address).tell(service, payload);
  }

  async whoIs(options: { low: number; high: number; audience: Audience }): Promise<string | null> {
    const { via, to, network } = options.audience;
    const apdu = writeUnconfirmed(UNCONFIRMED.whoIs, writeWhoIs(options.low, options.high));
    return this.#transmit(writeDatagram({ via, to: { network, mac: NOBODY }, expectsReply: false, apdu }), to);
  }

  /** Hears every I-Am until the returned function is called. */
  onIAm(listener: IAmListener): () => void {
    this.#iAmListeners.add(listener);
    return () => this.#iAmListeners.delete(listener);
  }

  onReport(listener: ReportListener): () => void {
    this.#reportListeners.add(listener);
    return () => this.#reportListeners.delete(listener);
  }

  /** Registers with a BBMD unless it already is; null, or why it is not. */
  registered(bbmd: Endpoint, options: { ttlS: number; timeoutMs: number }): Promise<string | null> {
    const key = `${bbmd.host}:${bbmd.port}`;
    let registration = this.#bbmds.get(key);
    if (registration === undefined) {
      const { clock, timers } = this.#means;
      const means = { clock, timers, send: (bytes: Uint8Array, to: Endpoint) => this.#transmit(bytes, to) };
      registration = new ForeignRegistration({ means, bbmd, ttlS: options.ttlS });
      this.#bbmds.set(key, registration);
    }
    return registration.ensure(options.timeoutMs);
  }

  #bound(): Promise<Datagrams> {
    if (this.#socket !== null) return this.#socket;
    const open = this.#means.open ?? openUdp;
    const received = (bytes: Uint8Array, from: Endpoint): void => this.#received(bytes, from);
    const broken = (): void => this.#broken(opening);
    // the port of a socket that is just being closed is not free yet
    const opening = this.#closing.then(() => open({ ...this.#local, received, broken }));
    this.#socket = opening;
    opening.catch(() => {
      if (this.#socket === opening) this.#socket = null;
    });
    return opening;
  }

  /** Gives a failed socket up; the next request opens another. */
  #broken(socket: Promise<Datagrams>): void {
    if (this.#socket === socket) this.#socket = null;
    this.#closing = socket.then((open) => open.close());
  }

  async #transmit(bytes: Uint8Array, to: Endpoint): Promise<string | null> {
    if (this.#owners.size === 0) return 'stopped';
    const why = await this.#bound().then(
      (socket) => socket.send(bytes, to),
      (error: unknown) => (error instanceof Error ? error.message : String(error)),
    );
    if (why === null) this.#counters.sent += 1;
    else this.#counters.send_failures += 1;
    return why;
  }

  #send(address: DeviceAddress, apdu: Uint8Array, expectsReply: boolean): Promise<string | null> {
    return this.#transmit(writeDatagram({ via: 'unicast', to: address, expectsReply, apdu }), address);
  }

  #peer(address: DeviceAddress): Peer {
    const key = addressKey(address);
    let peer = this.#peers.get(key);
    if (peer === undefined) {
      if (this.#peers.size >= LIMITS.bacnet_peers_max) this.#forgetOne();
      peer = new Peer({
        clock: this.#means.clock,
        timers: this.#means.timers,
        random: this.#means.random,
        send: (apdu, expectsReply) => this.#send(address, apdu, expectsReply),
        stray: () => this.#stray(),
      });
      this.#peers.set(key, peer);
    }
    return peer;
  }

  #forgetOne(): void {
    for (const [key, peer] of this.#peers) if (peer.idle) return void this.#peers.delete(key);
  }

  #stray(): void {
    this.#counters.strays += 1;
  }

  #received(bytes: Uint8Array, from: Endpoint): void {
    this.#counters.datagrams += 1;
    const datagram = readDatagram(bytes);
    if (!datagram.ok) this.#counters.malformed += 1;
    else if (datagram.value.kind === 'result')
      this.#bbmds.get(`${from.host}:${from.port}`)?.answered(datagram.value.code);
    else if (datagram.value.kind === 'apdu') this.#sort(datagram.value, from);
  }

  #sort({ bytes, forwardedFrom, source }: Extract<Datagram, { kind: 'apdu' }>, from: Endpoint): void {
    const apdu = readApdu(bytes);
    const { network, mac } = source ?? { network: null, mac: NOBODY };
    const address: DeviceAddress = { ...(forwardedFrom ?? from), network, mac: new Uint8Array(mac) };
    if (!apdu.ok) this.#counters.malformed += 1;
    else if (apdu.value.kind === 'unconfirmed' && apdu.value.service === UNCONFIRMED.iAm)
      this.#iAm(apdu.value.payload, address);
    // what a BBMD passes on names its sender itself: good enough to find a device by, not for a value
    else if (forwardedFrom === null) this.#deliver(apdu.value, address);
  }

  #iAm(payload: Uint8Array, from: DeviceAddress): void {
    const read = readIAm(payload);
    if (!read.ok) this.#counters.malformed += 1;
    else for (const listener of this.#iAmListeners) listener(read.value, from);
  }

  #deliver(apdu: Apdu, from: DeviceAddress): void {
    const peer = this.#peers.get(addressKey(from));
    if (peer === undefined) this.#stray();
    else if (apdu.kind === 'confirmed' || apdu.kind === 'unconfirmed') this.#report(apdu, from, peer);
    else peer.received(apdu);
  }

  /** Requests to this side are not answered, but for reports that it subscribed to. */
  #report(apdu: Extract<Apdu, { kind: 'confirmed' | 'unconfirmed' }>, from: DeviceAddress, peer: Peer): void {
    const confirmed = apdu.kind === 'confirmed';
    if (apdu.service !== (confirmed ? CONFIRMED.covNotification : UNCONFIRMED.covNotification)) return;
    if (confirmed && apdu.segment !== null) return;
    const report = readCovNotification(apdu.payload);
    if (!report.ok) {
      this.#counters.malformed += 1;
      return;
    }
    const repeated = confirmed && peer.repeats(apdu.invokeId, apdu.payload);
    const ours = [...this.#reportListeners].filter((listener) => listener(report.value, from, repeated));
    if (ours.length === 0) this.#stray();
    else if (confirmed) void this.#send(from, writeSimpleAck(apdu.invokeId, apdu.service), false);
  }
}

/** One port per local address and UDP port, made when first asked for: controllers of one site share it. */
export class BacnetPorts {
  readonly #means: PortMeans;
  readonly #ports = new Map<string, BacnetPort>();

  constructor(means: PortMeans) {
    this.#means = means;
  }

  at(options: { interface: string; port: number }): BacnetPort {
    const local = { host: options.interface, port: options.port };
    const key = `${local.host} ${local.port}`;
    let port = this.#ports.get(key);
    if (port === undefined) {
      port = new BacnetPort({ ...this.#means, local });
      this.#ports.set(key, port);
    }
    return port;
  }
}
