/**
 * The sockets of the plant's BACnet/IP device: one at its own address, one that hears the broadcasts of its network. No
 * datagram ends the process, and it can fall silent or away.
 */
import { createSocket, type Socket } from 'node:dgram';
import { networkInterfaces } from 'node:os';
import type { Communication } from '../faults.ts';
import { BacnetDevice, type DeviceLimits } from './device.ts';
import type { ObjectTable } from './objects.ts';

const TICK_MS = 250;

export interface BacnetServerOptions {
  readonly host: string;
  readonly port: number;
  readonly limits: DeviceLimits;
  /** Monotonic ms. */
  readonly now: () => number;
}

const numberOf = (address: string): number =>
  address.split('.').reduce((sum, octet) => sum * 256 + Number(octet), 0) >>> 0;

/** Broadcast address of the network that a host's address is in; null: of none, or of all. */
export function broadcastOf(host: string): string | null {
  for (const found of Object.values(networkInterfaces()).flat()) {
    if (found?.family !== 'IPv4') continue;
    const mask = numberOf(found.netmask);
    if ((numberOf(host) & mask) !== (numberOf(found.address) & mask)) continue;
    const all = (numberOf(host) | ~mask) >>> 0;
    return [24, 16, 8, 0].map((shift) => (all >>> shift) & 0xff).join('.');
  }
  return null;
}

export class BacnetServer {
  readonly host: string;
  port: number;
  private readonly device: BacnetDevice;
  private readonly now: () => number;
  private sockets: readonly Socket[] = [];
  private own: Socket | null = null;
  private timer: NodeJS.Timeout | null = null;
  private communication: Communication = 'up';

  constructor(table: ObjectTable, options: BacnetServerOptions) {
    this.host = options.host;
    this.port = options.port;
    this.now = options.now;
    this.device = new BacnetDevice(table, (datagram, host, port) => this.send(datagram, host, port), options.limits);
  }

  async start(): Promise<void> {
    await this.open();
    this.timer = setInterval(() => this.tick(), TICK_MS);
  }

  async stop(): Promise<void> {
    if (this.timer !== null) clearInterval(this.timer);
    this.timer = null;
    await this.close();
  }

  /** Follows the plant's fault: up, silent (hears and says nothing), refused (nobody is there). */
  async communicate(now: Communication): Promise<void> {
    if (now === this.communication) return;
    this.communication = now;
    if (now === 'refused') await this.close();
    else if (this.own === null) await this.open();
  }

  /** Reports changes to subscribers; also by itself every so often. */
  tick(): void {
    if (this.communication === 'up') this.device.tick(this.now());
  }

  private async open(): Promise<void> {
    const own = await this.bind({ address: this.host, port: this.port, shared: false });
    this.port = own.address().port;
    this.own = own;
    this.sockets = [own];
    const broadcast = broadcastOf(this.host);
    // A socket bound to one address does not hear broadcasts; several devices of this host share theirs.
    if (broadcast !== null && broadcast !== this.host)
      this.sockets = [own, await this.bind({ address: broadcast, port: this.port, shared: true })];
  }

  private async close(): Promise<void> {
    const { sockets } = this;
    this.sockets = [];
    this.own = null;
    await Promise.all(sockets.map((socket) => new Promise<void>((resolve) => socket.close(() => resolve()))));
  }

  private async bind(to: { address: string; port: number; shared: boolean }): Promise<Socket> {
    const socket = createSocket({ type: 'udp4', reuseAddr: to.shared });
    await new Promise<void>((resolve, reject) => {
      socket.once('error', reject);
      socket.bind({ address: to.address, port: to.port, exclusive: true }, () => {
        socket.off('error', reject);
        resolve();
      });
    });
    // A peer that is gone is its own affair.
    socket.on('error', () => {});
    socket.on('message', (data, from) => {
      if (this.communication !== 'up') return;
      try {
        this.device.receive(data, from, this.now());
      } catch {
        // Whatever a datagram does to this device, the plant goes on.
      }
    });
    return socket;
  }

  private send(datagram: Buffer, host: string, port: number): void {
    if (port > 0) this.own?.send(datagram, port, host, () => {});
  }
}
