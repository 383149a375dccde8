import { readdirSync } from 'node:fs';
import { afterEach, beforeEach, expect } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { type LineOutcome, ModbusLine } from '../../../agent/sources/modbus/line.ts';
import { TransactionIds } from '../../../agent/sources/modbus/mbap.ts';
import { tcpConnect } from '../../../agent/sources/modbus/tcp.ts';
import { FakeTime, seeded, until } from '../../unit/sources/fake-time.ts';
import { answer, held, LyingServer } from './lying-server.ts';

export const TIMEOUT_MS = 1000;

/** A line to the lying server under fake time, with short words for the tests. */
export class BenchLine {
  readonly time = new FakeTime();
  readonly server: LyingServer;
  readonly line: ModbusLine;
  readonly owner = {};

  constructor(server: LyingServer, seed = 1) {
    this.server = server;
    const random = seeded(seed);
    const ids = new TransactionIds(random);
    const connect = tcpConnect({ host: '127.0.0.1', port: server.port, timers: this.time, ids });
    this.line = new ModbusLine({ connect, clock: this.time, timers: this.time, random });
    this.line.attach(this.owner);
  }

  read(options: { unit?: number; register?: number; count?: number; owner?: object } = {}): Promise<LineOutcome> {
    const { unit = 1, register = 0, count = 4, owner = this.owner } = options;
    const request = { table: 'holding', register, count } as const;
    return this.line.read({ owner, unit, request, timeoutMs: TIMEOUT_MS, pauseMs: 0 });
  }

  /** A read to a server that will not answer: lets the deadline pass once the request has arrived there. */
  async readInVain(options: { unit?: number; register?: number; count?: number } = {}): Promise<LineOutcome> {
    const before = this.server.requests;
    const outcome = this.read(options);
    await until(() => this.server.requests > before);
    this.time.advance(TIMEOUT_MS);
    return outcome;
  }

  /** Lets exactly the announced pause pass. */
  waitOut(outcome: LineOutcome): void {
    if (outcome.kind === 'failed') this.time.advance(Math.max(0, outcome.retryAt - this.time.monotonic()));
  }
}

/** Whether a reply holds exactly what the honest server holds there. */
export function right(
  outcome: LineOutcome,
  options: { unit?: number; register?: number; count?: number } = {},
): boolean {
  const { unit = 1, register = 0, count = 4 } = options;
  if (outcome.kind !== 'reply' || outcome.data.length !== 2 * count) return false;
  const view = new DataView(outcome.data.buffer, outcome.data.byteOffset);
  for (let i = 0; i < count; i += 1) {
    if (view.getUint16(2 * i) !== held({ unit, code: 3, register: register + i })) return false;
  }
  return true;
}

/** Open descriptors of this process (Linux). */
export function descriptors(): number {
  return readdirSync('/proc/self/fd').length;
}

export function failed(outcome: LineOutcome): Extract<LineOutcome, { kind: 'failed' }> {
  if (outcome.kind !== 'failed') throw new Error(`expected a failure, found ${outcome.kind}`);
  return outcome;
}

/** A fresh lying server and a line to it for every test of a file; what is left open at the end of a test fails it. */
export class FaultRig {
  server!: LyingServer;
  bench!: BenchLine;

  constructor() {
    beforeEach(async () => {
      this.server = await LyingServer.listen();
      this.bench = new BenchLine(this.server);
    });
    afterEach(async () => {
      await this.bench.line.release(this.bench.owner);
      await this.server.close();
      expect(this.server.unexplained).toEqual([]);
      expect(this.bench.time.waiting).toBe(0);
    });
  }

  /**
   * After a failure: at most the first back-off to wait, then the server is honest and 20 reads of changing blocks are
   * right.
   */
  async recovers(outcome: LineOutcome): Promise<void> {
    const { server, bench } = this;
    const { retryAt } = failed(outcome);
    const pause = retryAt - bench.time.monotonic();
    expect(pause).toBeGreaterThanOrEqual(LIMITS.backoff_ms_min);
    expect(pause).toBeLessThanOrEqual(2 * LIMITS.backoff_ms_min);
    const resting = failed(await bench.read());
    expect(resting).toMatchObject({ attempted: false, reason: failed(outcome).reason });
    server.behaviour = answer;
    bench.waitOut(outcome);
    for (let register = 0; register < 20; register += 1) {
      expect(right(await bench.read({ register }), { register })).toBe(true);
    }
  }
}
