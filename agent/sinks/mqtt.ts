/**
 * Drains the outbox to an MQTT broker: QoS 1, in the order of commit, a bounded number of messages under way.
 *
 *     outbox --oldest--> [ in flight, in order ] --PUBACK--> settled from the front
 *
 * Settled is only what stands at the front, so after any loss of the connection the stream goes on from the oldest
 * message without an answer: a subscriber may see some twice, in order, and drops them by (chiller, sequence). MQTT
 * 5.0; where the broker knows 3.1.1 alone, and `protocol` leaves it open, that.
 */
import type { QueuedMessage } from '../base/delivery.ts';
import { LIMITS } from '../base/limits.ts';
import type { Fault, Result } from '../base/result.ts';
import { Flight, type InFlight } from './flight.ts';
import { type Allowed, Link } from './link.ts';
import { checkOptions, linkOptions, type MqttLimits, type MqttOptions, statusOf } from './mqtt-options.ts';
import { keptFault, refusedFault, sizeFault, verdictOf } from './reasons.ts';
import { sinkStatus } from './standing.ts';
import type { Announcement, Sink, SinkStatus } from './types.ts';
import { backoffMs, Watchdog, within } from './waiting.ts';

const SINK = 'mqtt';
/** Topic, properties and headers of a packet, at most, beside its payload. */
const PACKET_OVERHEAD_BYTES = 1024;

export class MqttSink implements Sink {
  readonly #options: MqttOptions;
  readonly #limits: MqttLimits;
  readonly #now: () => number;
  #state: SinkStatus['state'] = 'stopped';
  #since: number;
  #fault: Fault | null = null;
  #protocol: 5 | 4;
  #link: Link | null = null;
  #up = false;
  #allowed: Allowed = { in_flight: 1, packet_bytes: 0 };
  readonly #flight: Flight;
  #toAnnounce: Announcement[] = [];
  #announcing = 0;
  #attempts = 0;
  /** After a refusal one message at a time, until one is taken. */
  #probing = false;
  #refused: { id: number; tries: number } | null = null;
  #retryTimer: NodeJS.Timeout | null = null;
  /** While something is under way, the broker must answer in time: a connection that only seems to live is cut. */
  readonly #watchdog: Watchdog;
  #woken = false;
  #stopping: Promise<void> | null = null;
  #settledAll: (() => void) | null = null;
  #ended: (() => void) | null = null;
  readonly #counters = { connections: 0, sent: 0, refused: 0, lost: 0 };

  constructor(options: MqttOptions) {
    this.#options = options;
    this.#limits = { ...LIMITS, ...options.limits };
    this.#now = options.now ?? Date.now;
    this.#protocol = options.protocol === 4 ? 4 : 5;
    this.#since = this.#now();
    this.#flight = new Flight(options.outbox, SINK);
    const ms = this.#limits.mqtt_acknowledge_ms_max;
    const fault: Fault = { code: 'mqtt_unreachable', message: `the broker acknowledged nothing for ${ms} ms` };
    this.#watchdog = new Watchdog(ms, () => this.#link?.close(fault));
  }

  init(): Result<void> {
    return checkOptions(this.#options);
  }

  start(): void {
    if (this.#state !== 'stopped' || this.#stopping !== null) return;
    this.#connect();
  }

  /** Lets what is under way be answered, says farewell, ends. */
  stop(): Promise<void> {
    this.#stopping ??= this.#end();
    return this.#stopping;
  }

  wake(): void {
    if (this.#woken || !this.#up) return;
    this.#woken = true;
    setImmediate(() => {
      this.#woken = false;
      this.#pump();
    });
  }

  status(): SinkStatus {
    const standing = { state: this.#state, since: this.#since, fault: this.#fault, in_flight: this.#flight.size };
    const counts = this.#options.outbox.counts(SINK);
    return sinkStatus({ ...standing, counters: { ...this.#counters, protocol: this.#protocol } }, counts);
  }

  #enter(state: SinkStatus['state'], fault: Fault | null): void {
    if (state !== this.#state) this.#since = this.#now();
    this.#state = state;
    this.#fault = fault;
  }

  #connect(): void {
    this.#retryTimer = null;
    if (this.#state !== 'lost') this.#enter('connecting', null);
    const will = statusOf(this.#options, 'offline', { time: null, reason: 'connection lost' });
    const options = linkOptions(this.#options, {
      protocol: this.#protocol,
      answer_ms: this.#limits.mqtt_acknowledge_ms_max,
      will,
    });
    this.#link = new Link(options, {
      up: (allowed) => this.#connected(allowed),
      down: (fault, versionRefused) => this.#disconnected(fault, versionRefused),
    });
  }

  #connected(allowed: Allowed): void {
    this.#up = true;
    this.#allowed = allowed;
    this.#counters.connections++;
    // What was wrong stands until this broker has acknowledged something.
    this.#enter('connected', this.#fault);
    const online = statusOf(this.#options, 'online', { time: this.#now(), reason: null });
    const others = this.#options.announcements?.() ?? [];
    this.#toAnnounce = [online, ...others.slice(0, LIMITS.mqtt_announcements_max)];
    this.wake();
  }

  #announce({ address, payload }: Announcement): void {
    this.#announcing++;
    this.#link?.publish({ address, payload, retain: true }, (reason) => {
      this.#announcing--;
      if (verdictOf(reason) !== 'accept') this.#tell(refusedFault(address, reason));
      // With messages under way behind it, it says little: a broker may take the greeting and then refuse them.
      else if (!this.#probing && this.#underWay() === 0) this.#well();
      this.#watchdog.signOfLife();
      this.#pump();
    });
  }

  #disconnected(fault: Fault, versionRefused: boolean): void {
    this.#counters.lost += this.#up ? 1 : 0;
    this.#link = null;
    this.#up = false;
    this.#flight.forget();
    this.#announcing = 0;
    this.#watch();
    this.#settledAll?.();
    this.#ended?.();
    if (this.#stopping !== null) return;
    if (versionRefused && this.#options.protocol !== 5 && this.#protocol === 5) {
      this.#protocol = 4;
      this.#connect();
      return;
    }
    if (this.#state !== 'lost' || this.#fault?.code !== fault.code) this.#tell(fault);
    this.#enter('lost', fault);
    this.#retryTimer = setTimeout(() => this.#connect(), this.#backoff());
  }

  #backoff(): number {
    const pause = backoffMs(this.#attempts, this.#limits, this.#options.random ?? Math.random);
    this.#attempts++;
    // The broker may have been updated since: ask for the newer protocol again now and then.
    if (this.#attempts % 8 === 0 && this.#options.protocol !== 4) this.#protocol = 5;
    return pause;
  }

  #window(): number {
    if (this.#probing) return 1;
    return Math.min(this.#limits.mqtt_in_flight_max, this.#allowed.in_flight);
  }

  #underWay(): number {
    return this.#flight.size + this.#announcing;
  }

  #pump(): void {
    if (!this.#up || this.#stopping !== null) return;
    let sent = 0;
    while (this.#underWay() < this.#window()) {
      const announcement = this.#toAnnounce.shift();
      if (announcement !== undefined) {
        this.#announce(announcement);
        continue;
      }
      const message = this.#flight.next();
      if (message === null) break;
      if (this.#tooLarge(message)) continue;
      this.#send(message);
      sent++;
    }
    this.#watch();
    // The library writes at the end of this turn; answers cannot be read before the next.
    if (sent > 0 && this.#options.checkpoint !== undefined)
      setImmediate(() => this.#options.checkpoint?.('after_send'));
  }

  #tooLarge({ id, address, payload }: QueuedMessage): boolean {
    const most = Math.min(this.#limits.mqtt_payload_bytes_max, this.#allowed.packet_bytes - PACKET_OVERHEAD_BYTES);
    const fault = sizeFault(address, payload, most);
    if (fault === null) return false;
    this.#tell(fault);
    this.#options.outbox.settle(id, 'reject');
    this.#flight.lookAgain();
    return true;
  }

  #send(message: QueuedMessage): void {
    const entry = this.#flight.add(message);
    this.#counters.sent++;
    this.#link?.publish(message, (reason) => this.#answered(entry, reason));
  }

  #answered(entry: InFlight, reason: number): void {
    const verdict = verdictOf(reason);
    const { message } = entry;
    if (verdict === 'accept') {
      entry.answered = 'accept';
      this.#probing = false;
      this.#refused = null;
      this.#well();
    } else if (verdict === 'reject' || (verdict === 'keep for some tries' && this.#givenUp(message.id))) {
      entry.answered = 'reject';
      this.#tell(refusedFault(message.address, reason));
    } else {
      this.#keep(message, reason);
      return;
    }
    this.#flight.settle(() => this.#options.checkpoint?.('after_acknowledge'));
    this.#watchdog.signOfLife();
    if (this.#flight.size === 0) this.#settledAll?.();
    this.#pump();
  }

  #well(): void {
    this.#attempts = 0;
    if (this.#state === 'connected') this.#fault = null;
  }

  #givenUp(id: number): boolean {
    const tries = this.#refused?.id === id ? this.#refused.tries + 1 : 1;
    this.#refused = { id, tries };
    return tries >= this.#limits.mqtt_refusals_max;
  }

  /**
   * A refused message stays; going on behind it would break the order, so the connection starts again from it, after a
   * pause.
   */
  #keep(message: QueuedMessage, reason: number): void {
    this.#counters.refused++;
    this.#probing = true;
    this.#link?.close(keptFault(message.address, reason));
  }

  #watch(): void {
    this.#watchdog.watch(this.#up && this.#underWay() > 0);
  }

  #tell(fault: Fault): void {
    this.#options.report?.(fault);
  }

  async #end(): Promise<void> {
    if (this.#retryTimer !== null) clearTimeout(this.#retryTimer);
    this.#retryTimer = null;
    if (this.#up && this.#link !== null) {
      if (this.#flight.size > 0)
        await within(LIMITS.mqtt_farewell_ms_max, (done) => {
          this.#settledAll = done;
        });
      const link = this.#link as Link | null; // may have gone meanwhile
      const offline = statusOf(this.#options, 'offline', { time: this.#now(), reason: 'stopped' });
      if (link !== null) {
        await within(LIMITS.mqtt_farewell_ms_max, (done) => {
          this.#ended = done;
          link.publish({ ...offline, retain: true }, done);
        });
        await within(LIMITS.mqtt_farewell_ms_max, (done) => {
          this.#ended = done;
          link.leave();
        });
      }
    }
    this.#link?.close({ code: 'mqtt_unreachable', message: 'stopped' });
    this.#enter('stopped', null);
  }
}
