/**
 * Requests to one device: one at a time, each under an invoke id of its own, matched by address, id, service and
 * content. What does not belong to the question is counted and waited past; it can delay an answer, never be one.
 */
import type { Clock } from '../../base/clock.ts';
import { LIMITS } from '../../base/limits.ts';
import type { Timers } from '../timers.ts';
import { type Apdu, type SegmentHead, writeAbort, writeConfirmed, writeSegmentAck } from './apdu.ts';
import type { Result } from './decoded.ts';
import { Reassembly } from './segments.ts';

export interface Ask<T> {
  /** Whose request it is: `cancel` takes back all of one owner. */
  readonly owner: object;
  readonly service: number;
  readonly payload: readonly number[];
  readonly timeoutMs: number;
  /** Reads the answer and compares it with the question; null: an acknowledgement without content. */
  readonly accept: (payload: Uint8Array | null) => Result<T>;
  /** Called with each try that is sent. */
  readonly asked?: () => void;
}

export type Outcome<T> =
  | { readonly kind: 'reply'; readonly value: T }
  | { readonly kind: 'error'; readonly errorClass: number; readonly code: number }
  | { readonly kind: 'reject'; readonly reason: number }
  | { readonly kind: 'abort'; readonly reason: number }
  | { readonly kind: 'failed'; readonly cause: 'silent' | 'malformed' | 'unreachable'; readonly reason: string }
  | { readonly kind: 'stopped' };

export interface PeerMeans {
  readonly clock: Clock;
  readonly timers: Timers;
  readonly random: () => number;
  /** Sends an APDU to the device: null when it left, else why not. */
  readonly send: (apdu: Uint8Array, expectsReply: boolean) => Promise<string | null>;
  /** A reply that belongs to no request, or not to the one in flight. */
  readonly stray: () => void;
}

interface Job {
  readonly ask: Ask<unknown>;
  readonly settle: (outcome: Outcome<unknown>) => void;
  cancelled: boolean;
}

interface Flight {
  readonly id: number;
  readonly job: Job;
  readonly deadline: number;
  reassembly: Reassembly | null;
  /** What was wrong with the last reply that did not belong. */
  remark: string | null;
  take: () => void;
  readonly settle: (outcome: Outcome<unknown>) => void;
}

/** Copies of a confirmed report of changes come within this time. */
const REPEAT_MS = 30_000;
/** Abort reason when a reply is longer than may be: buffer-overflow. */
const BUFFER_OVERFLOW = 1;

export class Peer {
  readonly #means: PeerMeans;
  readonly #queue: Job[] = [];
  #working = false;
  #flight: Flight | null = null;
  #current: Job | null = null;
  #lastId: number;
  /** Until when (monotonic ms) an id without a reply rests. */
  readonly #resting = new Map<number, number>();
  readonly #reports = new Map<number, { readonly payload: Uint8Array; readonly at: number }>();

  constructor(means: PeerMeans) {
    this.#means = means;
    this.#lastId = Math.floor(means.random() * 255);
  }

  get idle(): boolean {
    return !this.#working;
  }

  /** Queues a request behind those already waiting. Never rejects. */
  exchange<T>(ask: Ask<T>): Promise<Outcome<T>> {
    return new Promise((resolve) => {
      const settle = resolve as (outcome: Outcome<unknown>) => void;
      this.#queue.push({ ask: ask as Ask<unknown>, settle, cancelled: false });
      if (!this.#working) void this.#work();
    });
  }

  cancel(owner: object): void {
    for (const job of this.#queue.filter(({ ask }) => ask.owner === owner)) {
      this.#queue.splice(this.#queue.indexOf(job), 1);
      job.settle({ kind: 'stopped' });
    }
    if (this.#current?.ask.owner !== owner) return;
    this.#current.cancelled = true;
    this.#flight?.settle({ kind: 'stopped' });
  }

  /** Sends a request whose answer nobody waits for. */
  async tell(service: number, payload: readonly number[]): Promise<void> {
    const id = this.#nextId();
    if (id === null) return;
    this.#rest(id);
    await this.#means.send(writeConfirmed(id, service, payload), true);
  }

  /** Whether this report came before and is only sent again; remembers it. */
  repeats(invokeId: number, payload: Uint8Array): boolean {
    const now = this.#means.clock.monotonic();
    const before = this.#reports.get(invokeId);
    this.#reports.set(invokeId, { payload: new Uint8Array(payload), at: now });
    return before !== undefined && now - before.at < REPEAT_MS && Buffer.compare(before.payload, payload) === 0;
  }

  received(apdu: Apdu): void {
    const flight = this.#flight;
    if (flight === null || !('invokeId' in apdu) || apdu.invokeId !== flight.id) this.#means.stray();
    else if ('service' in apdu && apdu.service !== flight.job.ask.service) this.#odd(flight, 'of another service');
    else this.#answer(flight, apdu);
  }

  #answer(flight: Flight, apdu: Apdu): void {
    switch (apdu.kind) {
      case 'simple-ack':
        this.#offer(flight, null);
        break;
      case 'complex-ack':
        if (apdu.segment === null) this.#offer(flight, apdu.payload);
        else this.#segment(flight, apdu.segment, apdu.payload);
        break;
      case 'error':
        flight.settle({ kind: 'error', errorClass: apdu.errorClass, code: apdu.code });
        break;
      case 'reject':
        flight.settle({ kind: 'reject', reason: apdu.reason });
        break;
      case 'abort':
        if (apdu.byServer) flight.settle({ kind: 'abort', reason: apdu.reason });
        else this.#means.stray();
        break;
      default:
        this.#means.stray();
    }
  }

  #odd(flight: Flight, what: string): void {
    flight.remark = what;
    this.#means.stray();
  }

  #offer(flight: Flight, payload: Uint8Array | null): void {
    const read = flight.job.ask.accept(payload);
    if (read.ok) flight.settle({ kind: 'reply', value: read.value });
    else this.#odd(flight, read.fault);
  }

  #segment(flight: Flight, head: SegmentHead, payload: Uint8Array): void {
    const { send } = this.#means;
    const { id } = flight;
    flight.reassembly ??= new Reassembly();
    const step = flight.reassembly.offer(head, payload);
    if (step.acknowledge !== null) void send(writeSegmentAck({ invokeId: id, ...step.acknowledge }), false);
    if (step.overflow) {
      void send(writeAbort(id, BUFFER_OVERFLOW), false);
      flight.settle({ kind: 'failed', cause: 'malformed', reason: 'a reply in segments without end' });
    } else if (step.whole !== null) {
      flight.reassembly = null;
      this.#offer(flight, step.whole);
    } else if (step.progress) this.#arm(flight);
  }

  async #work(): Promise<void> {
    this.#working = true;
    for (let job = this.#queue.shift(); job !== undefined; job = this.#queue.shift()) {
      this.#current = job;
      const outcome = await this.#serve(job);
      this.#current = null;
      job.settle(job.cancelled ? { kind: 'stopped' } : outcome);
    }
    this.#working = false;
  }

  async #serve(job: Job): Promise<Outcome<unknown>> {
    for (let tries = 0; ; tries += 1) {
      const outcome = await this.#attempt(job);
      const again = outcome.kind === 'failed' && outcome.cause !== 'unreachable' && tries < LIMITS.bacnet_retries;
      if (!again || job.cancelled) return outcome;
    }
  }

  #attempt(job: Job): Promise<Outcome<unknown>> {
    const { clock, timers, send } = this.#means;
    const id = this.#nextId();
    if (id === null) {
      const reason = 'no invoke id is free: too many requests without a reply';
      return Promise.resolve({ kind: 'failed', cause: 'unreachable', reason });
    }
    return new Promise((resolve) => {
      const settle = (outcome: Outcome<unknown>): void => {
        if (this.#flight !== flight) return;
        this.#flight = null;
        flight.take();
        if (outcome.kind === 'failed' || outcome.kind === 'stopped') this.#rest(id);
        resolve(outcome);
      };
      const deadline = clock.monotonic() + Math.max(LIMITS.bacnet_reply_ms_max, job.ask.timeoutMs);
      const flight: Flight = { id, job, deadline, reassembly: null, remark: null, take: () => {}, settle };
      this.#flight = flight;
      flight.take = timers.after(job.ask.timeoutMs, () => this.#late(flight));
      job.ask.asked?.();
      const { service, payload } = job.ask;
      void send(writeConfirmed(id, service, payload), true).then((why) => {
        if (why !== null) settle({ kind: 'failed', cause: 'unreachable', reason: `cannot be sent: ${why}` });
      });
    });
  }

  /** A segment came: the next one has its time, within the time of all. */
  #arm(flight: Flight): void {
    const { clock, timers } = this.#means;
    flight.take();
    const left = Math.max(0, flight.deadline - clock.monotonic());
    flight.take = timers.after(Math.min(flight.job.ask.timeoutMs, left), () => this.#late(flight));
  }

  #late(flight: Flight): void {
    const { timeoutMs } = flight.job.ask;
    const { remark } = flight;
    const begun = flight.reassembly === null ? 'no reply' : 'a reply in segments, not complete';
    const reason = `${begun} within ${timeoutMs} ms${remark === null ? '' : `; one that did not belong: ${remark}`}`;
    flight.settle({ kind: 'failed', cause: remark === null ? 'silent' : 'malformed', reason });
  }

  #rest(id: number): void {
    this.#resting.set(id, this.#means.clock.monotonic() + LIMITS.bacnet_id_rest_ms);
  }

  /** The next id of 1 to 255 that does not rest. */
  #nextId(): number | null {
    const now = this.#means.clock.monotonic();
    for (let step = 1; step <= 255; step += 1) {
      const id = ((this.#lastId + step - 1) % 255) + 1;
      const until = this.#resting.get(id);
      if (until !== undefined && until > now) continue;
      this.#resting.delete(id);
      this.#lastId = id;
      return id;
    }
    return null;
  }
}
