/** A source that reads a lying device under fake time, and the checks every fault must pass. */
import { setTimeout as sleep } from 'node:timers/promises';
import { expect } from 'vitest';
import { must } from '../../../../agent/base/result.ts';
import type { Source } from '../../../../agent/points/types.ts';
import { bacnetAddress, bacnetSource as settingsSchema } from '../../../../agent/site/buses/bacnet.ts';
import { BacnetPort } from '../../../../agent/sources/bacnet/port.ts';
import { bacnetSource } from '../../../../agent/sources/bacnet/source.ts';
import { drive, Keeper } from '../../../contract/sources/source-contract.ts';
import { FakeTime, seeded } from '../../../unit/sources/fake-time.ts';
import { type Behaviour, heldAt, honest, type LyingDevice } from './lying-device.ts';

export const TIMEOUT_MS = 500;
/** The longest first pause: the back-off doubles its least from the first failure on. */
const FIRST_BACKOFF_MS = 1000;

/**
 * As `drive`, in longer steps of fake time: for tests in which minutes pass. A step must stay well within the
 * deadline of a reply.
 */
export async function stride(time: FakeTime, condition: () => boolean, stepMs = 50): Promise<void> {
  while (!condition()) {
    await sleep(1);
    time.advance(stepMs);
  }
}

export interface BenchOptions {
  readonly device: LyingDevice;
  readonly points?: number;
  readonly cov?: boolean;
  readonly settings?: object;
}

export class Bench {
  readonly time = new FakeTime();
  readonly sink = new Keeper();
  readonly device: LyingDevice;
  readonly port: BacnetPort;
  readonly source: Source;
  readonly names: readonly string[];
  readonly warnings: Record<string, unknown>[] = [];

  constructor({ device, points = 6, cov = false, settings: own = {} }: BenchOptions) {
    this.device = device;
    const where = { device: device.instance, address: device.address, interface: '127.0.0.1', port: 0 };
    const periods = { poll_s: 1, fast_s: 1, timeout_ms: TIMEOUT_MS, max_objects: 100 };
    const settings = settingsSchema.parse({ ...where, ...periods, ...own });
    const mapped = Array.from({ length: points }, (_, i) => ({
      name: `point.${i + 1}`,
      fast: false,
      address: bacnetAddress.parse({ object: `analog-input:${i + 1}`, cov: cov && i === 0 }),
    }));
    this.names = mapped.map(({ name }) => name);
    const means = { clock: this.time, timers: this.time, random: seeded(11) };
    this.port = new BacnetPort({ local: { host: '127.0.0.1', port: 0 }, ...means });
    const log = { info: () => {}, warn: (fields: Record<string, unknown>) => this.warnings.push(fields) };
    this.source = must(bacnetSource({ chiller: 'CH-2', settings, points: mapped, ...means, log, port: this.port }));
  }

  until(condition: () => boolean): Promise<void> {
    return drive(this.time, condition);
  }

  strides(condition: () => boolean, stepMs?: number): Promise<void> {
    return stride(this.time, condition, stepMs);
  }

  get state(): string {
    return this.source.status().state;
  }

  get reason(): string | null {
    return this.source.status().reason;
  }

  counter(name: string): number {
    return this.source.status().counters[name] ?? Number.NaN;
  }

  /** Every point has been read after `from` samples. */
  readAll(from = 0): boolean {
    const after = this.sink.samples.slice(from).filter(({ raw }) => raw !== null);
    return this.names.every((name) => after.some(({ point }) => point === name));
  }

  async connect(): Promise<void> {
    await this.source.start(this.sink);
    await this.until(() => this.readAll());
  }

  /**
   * Lets the device misbehave until the source calls it lost, then lets it be honest: it must be back in one
   * back-off.
   */
  async loses(behaviour: Behaviour): Promise<string> {
    this.device.behaviour = behaviour;
    await this.until(() => this.state === 'lost');
    const reason = this.reason ?? '';
    await this.recovers();
    return reason;
  }

  async recovers(): Promise<void> {
    this.device.behaviour = honest;
    const [from, since] = [this.sink.samples.length, this.time.monotonic()];
    await this.until(() => this.state === 'connected' && this.readAll(from));
    // the pause, and time for the questions themselves
    expect(this.time.monotonic() - since).toBeLessThan(FIRST_BACKOFF_MS + TIMEOUT_MS);
  }

  /** Every value of every sample is what its own point held at one of the versions. */
  allRight(versions: readonly number[] = [this.device.version]): void {
    for (const { point, raw } of this.sink.samples) {
      if (raw === null) continue;
      const instance = Number(point.split('.')[1]);
      expect([point, versions.map((version) => heldAt({ type: 0, instance }, version))]).toEqual([
        point,
        expect.arrayContaining([raw]),
      ]);
    }
  }

  async close(): Promise<void> {
    await this.source.stop();
    expect(this.time.waiting).toBe(0);
    await this.device.close();
  }
}
