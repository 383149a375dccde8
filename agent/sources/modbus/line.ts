/**
 * One way to one host and port, shared by every source behind it: requests wait in one queue, the connection is opened
 * when one is needed and given up after any anomaly. A host that cannot be reached rests for all; a unit that does not
 * answer rests alone.
 */
import type { Clock } from '../../base/clock.ts';
import type { ErrorCode } from '../../base/errors.ts';
import { Backoff, type Trouble } from '../backoff.ts';
import type { Timers } from '../timers.ts';
import { TransactionIds } from './mbap.ts';
import { type ExchangeOutcome, encodeRead, type ReadRequest } from './pdu.ts';
import { tcpConnect } from './tcp.ts';
import type { Connect, ModbusConnection } from './transport.ts';

export interface LineRead {
  /** Whose request it is: `release` takes back all of one owner. */
  readonly owner: object;
  readonly unit: number;
  readonly request: ReadRequest;
  readonly timeoutMs: number;
  /** Least rest between the end of the exchange before and this request. */
  readonly pauseMs: number;
}

export type LineOutcome =
  | Extract<ExchangeOutcome, { kind: 'reply' | 'exception' }>
  /** The exchange failed, or nothing was sent because the unit or the host still rests (`attempted` false). */
  | ({ readonly kind: 'failed'; readonly attempted: boolean } & Trouble)
  | { readonly kind: 'stopped' };

interface Job extends LineRead {
  readonly settle: (outcome: LineOutcome) => void;
  cancelled: boolean;
}

export interface LineCounters {
  readonly connections: number;
  readonly connections_refused: number;
  readonly duplicates: number;
}

const CODE_OF = {
  silent: 'controller_silent',
  closed: 'controller_silent',
  malformed: 'controller_malformed',
} as const satisfies Record<string, ErrorCode>;

/** Duplicates in a row from which a device is said to send its replies more than once. */
const DUPLICATES_IN_ROW = 3;

export class ModbusLine {
  readonly #connect: Connect;
  readonly #clock: Clock;
  readonly #timers: Timers;
  readonly #random: () => number;
  readonly #queue: Job[] = [];
  readonly #owners = new Set<object>();
  readonly #host: Backoff;
  readonly #units = new Map<number, Backoff>();
  #current: Job | null = null;
  #interrupt = new AbortController();
  #connection: ModbusConnection | null = null;
  #closing: Promise<void> = Promise.resolve();
  #quietSince = Number.NEGATIVE_INFINITY;
  #connections = 0;
  #refused = 0;
  #duplicatesBefore = 0;

  constructor(options: { connect: Connect; clock: Clock; timers: Timers; random: () => number }) {
    this.#connect = options.connect;
    this.#clock = options.clock;
    this.#timers = options.timers;
    this.#random = options.random;
    this.#host = new Backoff(options.random);
  }

  /** Queues a read behind those already waiting, of whatever owner. Never rejects. */
  read(read: LineRead): Promise<LineOutcome> {
    return new Promise((settle) => {
      this.#queue.push({ ...read, settle, cancelled: false });
      if (this.#current === null) void this.#work();
    });
  }

  /** Notes a user: the connection is kept for as long as there is one. */
  attach(owner: object): void {
    this.#owners.add(owner);
  }

  /**
   * Takes back every read of an owner at once, the one in flight included, and closes the connection behind the last
   * owner. Resolves when what was closed is free. Other owners lose at most the connection, never a read.
   */
  async release(owner: object): Promise<void> {
    this.#owners.delete(owner);
    for (const job of this.#queue.filter((waiting) => waiting.owner === owner)) {
      this.#queue.splice(this.#queue.indexOf(job), 1);
      job.settle({ kind: 'stopped' });
    }
    const inFlight = this.#current?.owner === owner;
    if (this.#current !== null && inFlight) {
      this.#current.cancelled = true;
      this.#interrupt.abort();
    }
    if (!inFlight && this.#owners.size > 0) return;
    this.#drop();
    await this.#closing;
  }

  counters(): LineCounters {
    const duplicates = this.#duplicatesBefore + (this.#connection?.duplicates ?? 0);
    return { connections: this.#connections, connections_refused: this.#refused, duplicates };
  }

  /** What is odd about a line that works, or null. */
  remark(): string | null {
    const repeated = (this.#connection?.duplicatesInRow ?? 0) >= DUPLICATES_IN_ROW;
    return repeated ? 'the device sends its replies more than once (copies dropped)' : null;
  }

  async #work(): Promise<void> {
    for (let job = this.#queue.shift(); job !== undefined; job = this.#queue.shift()) {
      this.#current = job;
      this.#interrupt = new AbortController();
      const outcome = await this.#serve(job);
      this.#current = null;
      job.settle(job.cancelled ? { kind: 'stopped' } : outcome);
    }
  }

  async #serve(job: Job): Promise<LineOutcome> {
    const unit = this.#unit(job.unit);
    const now = this.#clock.monotonic();
    const resting = this.#host.waiting(now) ?? unit.waiting(now);
    if (resting !== null) return { kind: 'failed', attempted: false, ...resting };
    await this.#rest(job.pauseMs);
    if (job.cancelled) return { kind: 'stopped' };
    if (this.#connection?.usable !== true) {
      const why = await this.#open(job);
      if (job.cancelled) return { kind: 'stopped' };
      if (why !== null) {
        this.#refused += 1;
        const trouble = this.#host.failed(this.#clock.monotonic(), 'controller_unreachable', why);
        return { kind: 'failed', attempted: true, ...trouble };
      }
      this.#host.succeeded();
    }
    const { unit: number, timeoutMs } = job;
    const pdu = encodeRead(job.request);
    const outcome = await (this.#connection as ModbusConnection).exchange({ unit: number, pdu, timeoutMs });
    this.#quietSince = this.#clock.monotonic();
    if (job.cancelled) return { kind: 'stopped' };
    if (outcome.kind === 'refused') throw new Error(`assertion broken: ${outcome.reason}`);
    if (outcome.kind === 'failed') {
      this.#drop();
      const trouble = unit.failed(this.#clock.monotonic(), CODE_OF[outcome.cause], outcome.reason);
      return { kind: 'failed', attempted: true, ...trouble };
    }
    unit.succeeded();
    return outcome;
  }

  /**
   * A new connection, after the old one is gone: a controller with one slot would refuse it otherwise. Null, or why
   * there is none.
   */
  async #open(job: Job): Promise<string | null> {
    this.#drop();
    await this.#closing;
    const opened = await this.#connect({ timeoutMs: job.timeoutMs, signal: this.#interrupt.signal });
    if (!opened.ok) return opened.reason;
    this.#connections += 1;
    this.#connection = opened.connection;
    if (job.cancelled) this.#drop();
    return null;
  }

  #drop(): void {
    if (this.#connection === null) return;
    this.#duplicatesBefore += this.#connection.duplicates;
    this.#closing = this.#connection.close();
    this.#connection = null;
  }

  #rest(pauseMs: number): Promise<void> {
    const left = this.#quietSince + pauseMs - this.#clock.monotonic();
    if (!(left > 0)) return Promise.resolve();
    const { signal } = this.#interrupt;
    return new Promise((resolve) => {
      const done = (): void => {
        take();
        signal.removeEventListener('abort', done);
        resolve();
      };
      const take = this.#timers.after(left, done);
      signal.addEventListener('abort', done);
    });
  }

  #unit(number: number): Backoff {
    let unit = this.#units.get(number);
    if (unit === undefined) {
      unit = new Backoff(this.#random);
      this.#units.set(number, unit);
    }
    return unit;
  }
}

/** One line per host and port, made when first asked for: chillers behind one gateway share it. */
export class ModbusLines {
  readonly #means: { clock: Clock; timers: Timers; random: () => number };
  readonly #lines = new Map<string, ModbusLine>();

  constructor(means: { clock: Clock; timers: Timers; random: () => number }) {
    this.#means = means;
  }

  at(options: { host: string; port: number }): ModbusLine {
    const { clock, timers, random } = this.#means;
    const { host, port } = options;
    const key = `${host.toLowerCase()} ${port}`;
    let line = this.#lines.get(key);
    if (line === undefined) {
      const connect = tcpConnect({ host, port, timers, ids: new TransactionIds(random) });
      line = new ModbusLine({ connect, clock, timers, random });
      this.#lines.set(key, line);
    }
    return line;
  }
}
