import { LIMITS } from '../../base/limits.ts';
import { ok, type Result } from '../../base/result.ts';
import type { PointName } from '../../points/dictionary.ts';
import type { LinkState, SampleSink, Source, SourceStatus } from '../../points/types.ts';
import type { BacnetAddress, BacnetSource as BacnetSettings } from '../../site/buses/bacnet.ts';
import type { Trouble } from '../backoff.ts';
import { checkPoints, type SourceOptions } from '../options.ts';
import { PollLoop } from '../poll-loop.ts';
import { DeviceLink } from './link.ts';
import { type BacnetPort, BacnetPorts } from './port.ts';
import { PropertyReader } from './reader.ts';
import { askOf, BYTES_PER_POINT, type MappedPoint, type PointAsk, type Reading, readingOf } from './samples.ts';
import { Subscriptions } from './subscriptions.ts';

export interface BacnetSourceOptions extends SourceOptions<BacnetSettings, BacnetAddress> {
  /**
   * The socket shared with the other controllers of one local address and port (`BacnetPorts.at`); without it the
   * source has one of its own.
   */
  readonly port?: BacnetPort;
}

/**
 * A reader of one chiller's points over BACnet/IP. Validates without the network; `start` binds the socket, rejects
 * where that fails, begins to poll and does not wait for a first reply.
 */
export function bacnetSource(options: BacnetSourceOptions): Result<Source> {
  const checked = checkPoints(options, 'BACnet');
  if (!checked.ok) return checked;
  return ok(new BacnetPoller(options));
}

class BacnetPoller implements Source {
  readonly #options: BacnetSourceOptions;
  readonly #link: DeviceLink;
  readonly #port: BacnetPort;
  readonly #subscriptions: Subscriptions;
  readonly #loops: readonly PollLoop[];
  /** Monotonic ms at which each reported point was last polled beside its reports. */
  readonly #polledAt = new Map<MappedPoint, number>();
  /** Points the controller refuses, so that each is said once. */
  readonly #refused = new Map<PointName, string>();
  #sink: SampleSink | null = null;
  #state: LinkState = 'stopped';
  #since: number;
  #reason: string | null = 'not started';
  #rival: string | null = null;
  #connections = 0;

  constructor(options: BacnetSourceOptions) {
    const { settings, clock, timers, random, points } = options;
    this.#options = options;
    this.#since = clock.now();
    this.#port = options.port ?? new BacnetPorts({ clock, timers, random }).at(settings);
    const heard = (trouble: Trouble | null): void => this.#heard(trouble);
    const rival = (address: string): void => this.#hasRival(address);
    this.#link = new DeviceLink({ settings, port: this.#port, clock, timers, random, heard, rival });
    const reported = points.filter(({ address }) => address.cov);
    this.#subscriptions = new Subscriptions({
      ...{ points: reported, device: settings.device, link: this.#link, port: this.#port, clock, random },
      record: (point, reading) => this.#record(point, reading),
      refused: (point, reason) => this.#unreported(point, reason),
    });
    const monotonic = (): number => clock.monotonic();
    const bounds = { objectsMax: settings.max_objects, bytesPerObject: BYTES_PER_POINT };
    const reader = new PropertyReader({ link: this.#link, monotonic, ...bounds });
    const loop = (periodS: number, run: () => Promise<number | null>): PollLoop =>
      new PollLoop({ periodMs: 1000 * periodS, run, clock, timers });
    const polled = (fast: boolean, periodS: number): readonly PollLoop[] => {
      const asks = points.filter((point) => point.fast === fast).map(askOf);
      return asks.length === 0 ? [] : [loop(periodS, () => this.#poll(reader, asks))];
    };
    const subscribed = reported.length === 0 ? [] : [loop(settings.poll_s, () => this.#subscriptions.pass())];
    this.#loops = [...subscribed, ...polled(true, settings.fast_s), ...polled(false, settings.poll_s)];
  }

  async start(sink: SampleSink): Promise<void> {
    if (this.#sink !== null) return;
    this.#sink = sink;
    try {
      await this.#link.start();
    } catch (error) {
      this.#sink = null;
      await this.#link.stop();
      throw error;
    }
    // stopped while the socket was being bound
    if (this.#sink !== sink) return;
    this.#rival = null;
    this.#refused.clear();
    this.#polledAt.clear();
    this.#become('connecting', 'no reply yet');
    this.#subscriptions.start();
    for (const loop of this.#loops) loop.start();
  }

  async stop(): Promise<void> {
    if (this.#sink === null) return;
    this.#sink = null;
    const stopped = this.#loops.map((loop) => loop.stop());
    await this.#subscriptions.stop();
    await this.#link.stop();
    await Promise.all(stopped);
    this.#become('stopped', 'stopped');
  }

  status(): SourceStatus {
    const skipped = this.#loops.reduce((sum, loop) => sum + loop.skipped, 0);
    const { malformed = 0, strays = 0 } = this.#port.counters();
    return {
      state: this.#state,
      since: this.#since,
      reason: this.#state === 'connected' ? this.#rival : this.#reason,
      counters: {
        ...this.#link.counters,
        reports: this.#subscriptions.reports,
        reconnects: Math.max(0, this.#connections - 1),
        datagrams_malformed: malformed,
        datagrams_stray: strays,
        polls_skipped: skipped,
      },
    };
  }

  /** One pass. Every point that is due gets one sample, unless the source is stopped. */
  async #poll(reader: PropertyReader, asks: readonly PointAsk[]): Promise<number | null> {
    const due = new Set(asks.filter((ask) => this.#due(ask.point)));
    const end = await reader.read([...due], (ask, answers) => {
      due.delete(ask);
      const reading = readingOf(answers);
      const own = answers[0];
      this.#noteRefusal(ask, own?.ok === false ? own.reason : null);
      this.#record(ask.point, reading);
    });
    if (end === null || end.kind === 'stopped') return null;
    for (const { point } of due) this.#record(point, { raw: null, reason: end.reason });
    return end.retryAt;
  }

  #due(point: MappedPoint): boolean {
    if (!point.address.cov) return true;
    const now = this.#options.clock.monotonic();
    const last = this.#polledAt.get(point) ?? Number.NEGATIVE_INFINITY;
    if (this.#subscriptions.holds(point) && now - last < 1000 * LIMITS.bacnet_cov_poll_s) return false;
    this.#polledAt.set(point, now);
    return true;
  }

  #record(point: MappedPoint, reading: Reading): void {
    this.#sink?.record({ point: point.name, time: this.#options.clock.now(), ...reading });
  }

  #noteRefusal({ point }: PointAsk, reason: string | null): void {
    const { chiller, log } = this.#options;
    const { name, address } = point;
    if (reason !== null && this.#refused.get(name) !== reason) {
      const fields = { chiller, code: 'controller_exception', object: address.object, property: address.property };
      log.warn({ ...fields, points: [name], reason }, 'controller refuses to read an address');
    }
    if (reason === null) this.#refused.delete(name);
    else this.#refused.set(name, reason);
  }

  #unreported(point: MappedPoint, reason: string): void {
    const { chiller, log } = this.#options;
    const fields = { chiller, code: 'bacnet_cov_refused', object: point.address.object, points: [point.name], reason };
    log.warn(fields, 'controller does not report changes; the point is polled');
  }

  #hasRival(address: string): void {
    const { chiller, log, settings } = this.#options;
    const reason = `device ${settings.device} also answers from ${address}, which is not read`;
    if (this.#rival !== reason) log.warn({ chiller, code: 'bacnet_instance_twice', reason }, 'instance claimed twice');
    this.#rival = reason;
  }

  #heard(trouble: Trouble | null): void {
    if (this.#sink === null) return;
    const { chiller, log } = this.#options;
    if (trouble === null) {
      if (this.#state === 'connected') return;
      this.#connections += 1;
      log.info({ chiller }, 'controller answers');
      this.#become('connected', null);
      return;
    }
    this.#rival = null;
    this.#subscriptions.lost();
    const { code, reason } = trouble;
    if (this.#state !== 'lost') log.warn({ chiller, code, reason }, 'controller lost');
    this.#become('lost', reason);
  }

  #become(state: LinkState, reason: string | null): void {
    if (state !== this.#state) this.#since = this.#options.clock.now();
    this.#state = state;
    this.#reason = reason;
  }
}
