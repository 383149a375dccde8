/**
 * Drains the outbox to an MQTT broker: QoS 1, in the order of commit, a bounded number of messages under way.
 *
 *     outbox --oldest--> [ in flight, in order ] --PUBACK--> settled from the front
 *
 * Settled is only what stands at the front, so after any loss of the connection the stream goes on from the oldest message without an
 * answer: a subscriber may see some twice, in order, and drops them by (chiller, sequence). MQTT 5.0; where the broker knows 3.1.1
 * alone, and `protocol` leaves it open, that.
 */
import type { Outbox, QueuedMessage } from '../base/delivery.ts';
import { LIMITS } from '../base/limits.ts';
import { type Fault, fail, ok, type Result } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import { type Allowed, Link } from './link.ts';
import { verdictOf } from './reasons.ts';
import type { Announcement, Sink, SinkStatus } from './types.ts';

export interface MqttLimits {
  readonly backoff_ms_min: number;
  readonly backoff_ms_max: number;
  readonly mqtt_acknowledge_ms_max: number;
  readonly mqtt_in_flight_max: number;
  readonly mqtt_payload_bytes_max: number;
  readonly mqtt_refusals_max: number;
}

export interface MqttOptions {
  readonly outbox: Outbox;
  /** `mqtt://`, `mqtts://`, `ws://` or `wss://`, without user and password. */
  readonly url: string;
  readonly username?: string | undefined;
  readonly password?: string | undefined;
  readonly ca?: string | undefined;
  /** The same over restarts, another for each agent: a broker ends the older of two connections with one client id. */
  readonly clientId: string;
  readonly protocol?: 'auto' | 5 | 4;
  readonly keepalive_s?: number;
  /** Where the retained status goes: `<prefix>/<site>/status`. */
  readonly statusAddress: string;
  /** Further retained messages at each connection, such as the descriptions of the chillers. */
  readonly announcements?: () => readonly Announcement[];
  readonly version: string;
  readonly now?: () => number;
  /** 0 to 1; spreads reconnections of many gateways. */
  readonly random?: () => number;
  readonly report?: (fault: Fault) => void;
  readonly checkpoint?: (name: 'after_send' | 'after_acknowledge') => void;
  readonly limits?: Partial<MqttLimits>;
}

interface InFlight {
  readonly message: QueuedMessage;
  answered: 'accept' | 'reject' | null;
}

const SINK = 'mqtt';

export class MqttSink implements Sink {
  readonly #options: MqttOptions;
  readonly #limits: MqttLimits;
  #state: SinkStatus['state'] = 'stopped';
  #since: number;
  #fault: Fault | null = null;
  #protocol: 5 | 4;
  #link: Link | null = null;
  #up = false;
  #allowed: Allowed = { in_flight: 1, packet_bytes: 0 };
  #inFlight: InFlight[] = [];
  #announcing = 0;
  #ready: QueuedMessage[] = [];
  #attempts = 0;
  /** After a refusal one message at a time, until one is taken. */
  #probing = false;
  #refused: { id: number; tries: number } | null = null;
  #retryTimer: NodeJS.Timeout | null = null;
  #answerTimer: NodeJS.Timeout | null = null;
  #woken = false;
  #stopping: Promise<void> | null = null;
  #settledAll: (() => void) | null = null;
  #ended: (() => void) | null = null;
  readonly #counters = { connections: 0, sent: 0, accepted: 0, rejected: 0, refused: 0, lost: 0 };

  constructor(options: MqttOptions) {
    this.#options = options;
    this.#limits = { ...LIMITS, ...options.limits };
    this.#protocol = options.protocol === 4 ? 4 : 5;
    this.#since = this.#now();
  }

  init(): Result<void> {
    const { url, clientId, statusAddress } = this.#options;
    const address = URL.canParse(url) ? new URL(url) : null;
    if (address === null || !['mqtt:', 'mqtts:', 'ws:', 'wss:'].includes(address.protocol) || address.hostname === '')
      return fail('mqtt_options', `broker address '${url}': write mqtt://host:port, or mqtts://host:port with TLS`);
    if (address.username !== '' || address.password !== '')
      return fail('mqtt_options', 'broker address: give user and password by their own keys, not within the address');
    if (clientId === '' || clientId.length > 128)
      return fail('mqtt_options', 'client id of the broker: 1 to 128 characters');
    if (statusAddress === '' || /[#+\0]/.test(statusAddress))
      return fail('mqtt_options', `topic '${statusAddress}': must not be empty nor contain # or +`);
    return ok(undefined);
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
    const { waiting, bytes, dropped, rejected } = this.#options.outbox.counts(SINK);
    return {
      state: this.#state,
      since: this.#since,
      reason: this.#fault?.message ?? null,
      code: this.#fault?.code ?? null,
      in_flight: this.#inFlight.length,
      counters: {
        ...this.#counters,
        rejected,
        waiting,
        waiting_bytes: bytes,
        dropped,
        protocol: this.#protocol,
      },
    };
  }

  #now(): number {
    return (this.#options.now ?? Date.now)();
  }

  #enter(state: SinkStatus['state'], fault: Fault | null): void {
    if (state !== this.#state) this.#since = this.#now();
    this.#state = state;
    this.#fault = fault;
  }

  #connect(): void {
    this.#retryTimer = null;
    if (this.#state !== 'lost') this.#enter('connecting', null);
    const { url, username, password, ca, clientId, keepalive_s = 30 } = this.#options;
    this.#link = new Link(
      {
        url,
        username,
        password,
        ca,
        clientId,
        keepalive_s,
        protocol: this.#protocol,
        answer_ms: this.#limits.mqtt_acknowledge_ms_max,
        will: this.#statusMessage({ status: 'offline', time: null, reason: 'connection lost' }),
      },
      { up: (allowed) => this.#connected(allowed), down: (fault, version) => this.#disconnected(fault, version) },
    );
  }

  #statusMessage(status: { status: 'online' | 'offline'; time: string | null; reason: string | null }): Announcement {
    return {
      address: this.#options.statusAddress,
      payload: JSON.stringify({ ...status, version: this.#options.version }),
    };
  }

  #connected(allowed: Allowed): void {
    this.#up = true;
    this.#allowed = allowed;
    this.#counters.connections++;
    this.#enter('connected', this.#probing ? this.#fault : null);
    const online = this.#statusMessage({ status: 'online', time: rfc3339(this.#now()), reason: null });
    const others = this.#options.announcements?.() ?? [];
    for (const announcement of [online, ...others.slice(0, LIMITS.mqtt_announcements_max)])
      this.#announce(announcement);
    this.wake();
  }

  #announce({ address, payload }: Announcement): void {
    this.#announcing++;
    this.#link?.publish({ address, payload, retain: true }, (reason) => {
      this.#announcing--;
      if (verdictOf(reason) !== 'accept')
        this.#tell({ code: 'mqtt_refused', message: `the broker refuses ${address} (reason ${reason})` });
      else if (this.#announcing === 0 && this.#inFlight.length === 0 && !this.#probing) this.#attempts = 0;
      this.#pump();
    });
    this.#watch();
  }

  #disconnected(fault: Fault, versionRefused: boolean): void {
    const wasUp = this.#up;
    this.#link = null;
    this.#up = false;
    this.#counters.lost += wasUp ? 1 : 0;
    // Nothing in flight is lost: the outbox still has all of it, and the next connection starts from the oldest.
    this.#inFlight = [];
    this.#announcing = 0;
    this.#ready = [];
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

  /** Doubles from try to try up to its bound; half of it is chance, so that many gateways do not return at one moment. */
  #backoff(): number {
    const { backoff_ms_min, backoff_ms_max } = this.#limits;
    const whole = Math.min(backoff_ms_max, backoff_ms_min * 2 ** Math.min(this.#attempts, 20));
    this.#attempts++;
    // The broker may have been updated since: ask for the newer protocol again now and then.
    if (this.#attempts % 8 === 0 && this.#options.protocol !== 4) this.#protocol = 5;
    return whole * (0.5 + 0.5 * (this.#options.random ?? Math.random)());
  }

  #window(): number {
    if (this.#probing) return 1;
    return Math.min(this.#limits.mqtt_in_flight_max, this.#allowed.in_flight) - this.#announcing;
  }

  #pump(): void {
    if (!this.#up || this.#stopping !== null) return;
    let sent = 0;
    while (this.#inFlight.length < this.#window()) {
      const message = this.#next();
      if (message === null) break;
      this.#send(message);
      sent++;
    }
    this.#watch();
    // The library writes at the end of this turn; answers cannot be read before the next.
    if (sent > 0 && this.#options.checkpoint !== undefined)
      setImmediate(() => this.#options.checkpoint?.('after_send'));
  }

  #next(): QueuedMessage | null {
    const { outbox } = this.#options;
    for (;;) {
      if (this.#ready.length === 0) {
        const under = new Set(this.#inFlight.map(({ message }) => message.id));
        const asked = Math.min(LIMITS.outbox_batch_max, under.size + this.#limits.mqtt_in_flight_max);
        this.#ready = outbox.oldest(SINK, asked).filter(({ id }) => !under.has(id));
      }
      const message = this.#ready.shift();
      if (message === undefined) return null;
      const bytes = Buffer.byteLength(message.payload);
      const most = Math.min(this.#limits.mqtt_payload_bytes_max, this.#allowed.packet_bytes - 512);
      if (bytes <= most) return message;
      this.#tell({
        code: 'mqtt_refused',
        message: `message for ${message.address} given up: ${bytes} bytes, ${most} are allowed`,
      });
      outbox.settle(message.id, 'reject');
    }
  }

  #send(message: QueuedMessage): void {
    const entry: InFlight = { message, answered: null };
    this.#inFlight.push(entry);
    this.#counters.sent++;
    this.#link?.publish(message, (reason) => this.#answered(entry, reason));
  }

  #answered(entry: InFlight, reason: number): void {
    const verdict = verdictOf(reason);
    const { message } = entry;
    if (verdict === 'accept') {
      entry.answered = 'accept';
      this.#probing = false;
      this.#attempts = 0;
      this.#refused = null;
      if (this.#state === 'connected') this.#fault = null;
    } else if (verdict === 'reject' || (verdict === 'keep for some tries' && this.#givenUp(message.id))) {
      entry.answered = 'reject';
      this.#tell({
        code: 'mqtt_refused',
        message: `the broker refuses a message for ${message.address} (reason ${reason})`,
      });
    } else {
      this.#keep(message, reason);
      return;
    }
    this.#settleFront();
    if (this.#inFlight.length === 0) this.#settledAll?.();
    this.#pump();
  }

  #givenUp(id: number): boolean {
    const tries = this.#refused?.id === id ? this.#refused.tries + 1 : 1;
    this.#refused = { id, tries };
    return tries >= this.#limits.mqtt_refusals_max;
  }

  /** A refused message stays; going on behind it would break the order, so the connection starts again from it, after a pause. */
  #keep(message: QueuedMessage, reason: number): void {
    this.#counters.refused++;
    this.#probing = true;
    const code = reason === 0x87 ? 'mqtt_not_authorised' : 'mqtt_refused';
    const why = reason === 0x87 ? 'no right to publish to' : 'does not take a message for';
    this.#link?.close({
      code,
      message: `broker: ${why} ${message.address} (reason ${reason}); it is kept and tried again`,
    });
  }

  #settleFront(): void {
    for (let entry = this.#inFlight[0]; entry?.answered != null; entry = this.#inFlight[0]) {
      this.#options.checkpoint?.('after_acknowledge');
      this.#options.outbox.settle(entry.message.id, entry.answered);
      this.#counters[entry.answered === 'accept' ? 'accepted' : 'rejected']++;
      this.#inFlight.shift();
      this.#watchAnew();
    }
  }

  /** While something is under way, the oldest must be answered in time: a connection that only seems to live is cut. */
  #watch(): void {
    const waiting = this.#up && (this.#inFlight.length > 0 || this.#announcing > 0);
    if (!waiting && this.#answerTimer !== null) {
      clearTimeout(this.#answerTimer);
      this.#answerTimer = null;
    }
    if (waiting && this.#answerTimer === null) {
      const ms = this.#limits.mqtt_acknowledge_ms_max;
      this.#answerTimer = setTimeout(() => {
        this.#answerTimer = null;
        this.#link?.close({ code: 'mqtt_unreachable', message: `the broker acknowledged nothing for ${ms} ms` });
      }, ms);
    }
  }

  #watchAnew(): void {
    this.#answerTimer?.refresh();
    this.#watch();
  }

  #tell(fault: Fault): void {
    this.#options.report?.(fault);
  }

  async #end(): Promise<void> {
    if (this.#retryTimer !== null) clearTimeout(this.#retryTimer);
    this.#retryTimer = null;
    if (this.#up && this.#link !== null) {
      if (this.#inFlight.length > 0)
        await within(LIMITS.mqtt_farewell_ms_max, (done) => {
          this.#settledAll = done;
        });
      const link = this.#link as Link | null; // may have gone meanwhile
      const offline = this.#statusMessage({ status: 'offline', time: rfc3339(this.#now()), reason: 'stopped' });
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

/** Waits for `done`, but not longer than `ms`. */
function within(ms: number, begin: (done: () => void) => void): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, ms);
    begin(() => {
      clearTimeout(timer);
      resolve();
    });
  });
}
