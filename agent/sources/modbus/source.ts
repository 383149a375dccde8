import type { ErrorCode } from '../../base/errors.ts';
import { ok, type Result } from '../../base/result.ts';
import type { LinkState, SampleSink, Source, SourceStatus } from '../../points/types.ts';
import type { ModbusAddress, ModbusSource as ModbusSettings } from '../../site/buses/modbus.ts';
import { checkPoints, type SourceOptions } from '../options.ts';
import { PollLoop } from '../poll-loop.ts';
import type { Block } from './blocks.ts';
import { type LineOutcome, type ModbusLine, ModbusLines } from './line.ts';
import { BlockReader, type ReaderMeans } from './reader.ts';

export interface ModbusSourceOptions extends SourceOptions<ModbusSettings, ModbusAddress> {
  /**
   * The line shared with other chillers behind the same host and port (`ModbusLines.at`); without it the source has one
   * of its own.
   */
  readonly line?: ModbusLine;
}

/**
 * A reader of one chiller's points over Modbus TCP. Validates without the network; `start` begins to poll and does not
 * wait for a first reply.
 */
export function modbusSource(options: ModbusSourceOptions): Result<Source> {
  const checked = checkPoints(options, 'Modbus');
  if (!checked.ok) return checked;
  return ok(new ModbusPoller(options));
}

interface Counters {
  requests: number;
  replies: number;
  exceptions: number;
  timeouts: number;
  anomalies: number;
}

class ModbusPoller implements Source {
  readonly #options: ModbusSourceOptions;
  readonly #line: ModbusLine;
  readonly #loops: readonly PollLoop[];
  #sink: SampleSink | null = null;
  #state: LinkState = 'stopped';
  #since: number;
  #reason: string | null = 'not started';
  /** Why each unit does not answer, null where it does. */
  readonly #units = new Map<number, { code: ErrorCode; reason: string } | null>();
  readonly #counters: Counters = { requests: 0, replies: 0, exceptions: 0, timeouts: 0, anomalies: 0 };
  #said: string | null = null;

  constructor(options: ModbusSourceOptions) {
    const { settings, clock, timers, random } = options;
    this.#options = options;
    this.#since = clock.now();
    this.#line = options.line ?? new ModbusLines({ clock, timers, random }).at(settings);
    const loop = (fast: boolean, periodS: number): readonly PollLoop[] => {
      const points = options.points.filter((point) => point.fast === fast);
      if (points.length === 0) return [];
      const reader = new BlockReader({ points, maxRegisters: settings.max_registers, means: this.#means() });
      return [new PollLoop({ periodMs: 1000 * periodS, run: () => reader.pass(), clock, timers })];
    };
    this.#loops = [...loop(true, settings.fast_s), ...loop(false, settings.poll_s)];
  }

  async start(sink: SampleSink): Promise<void> {
    if (this.#sink !== null) return;
    this.#sink = sink;
    this.#line.attach(this);
    this.#units.clear();
    this.#become('connecting', 'no reply yet');
    for (const loop of this.#loops) loop.start();
  }

  async stop(): Promise<void> {
    if (this.#sink === null) return;
    const stopped = this.#loops.map((loop) => loop.stop());
    await this.#line.release(this);
    await Promise.all(stopped);
    this.#sink = null;
    this.#become('stopped', 'stopped');
  }

  status(): SourceStatus {
    const { connections, connections_refused, duplicates } = this.#line.counters();
    const skipped = this.#loops.reduce((sum, loop) => sum + loop.skipped, 0);
    return {
      state: this.#state,
      since: this.#since,
      reason: this.#state === 'connected' ? this.#remark() : this.#reason,
      counters: {
        ...this.#counters,
        reconnects: Math.max(0, connections - 1),
        connections_refused,
        duplicates,
        polls_skipped: skipped,
      },
    };
  }

  #means(): ReaderMeans {
    const { clock } = this.#options;
    return {
      read: (block) => this.#read(block),
      record: (sample) => this.#sink?.record(sample),
      now: () => clock.now(),
      monotonic: () => clock.monotonic(),
      heard: (unit, trouble) => this.#heard(unit, trouble),
      refused: (block, reason) => this.#refused(block, reason),
    };
  }

  async #read(block: Block): Promise<LineOutcome> {
    const { timeout_ms: timeoutMs, pause_ms: pauseMs } = this.#options.settings;
    const { unit, table, register, count } = block;
    const request = { table, register, count };
    const outcome = await this.#line.read({ owner: this, unit, request, timeoutMs, pauseMs });
    const counters = this.#counters;
    if (outcome.kind === 'stopped' || (outcome.kind === 'failed' && !outcome.attempted)) return outcome;
    if (outcome.kind === 'failed' && outcome.code === 'controller_unreachable') return outcome;
    counters.requests += 1;
    if (outcome.kind === 'reply') counters.replies += 1;
    else if (outcome.kind === 'exception') counters.exceptions += 1;
    else if (outcome.code === 'controller_silent') counters.timeouts += 1;
    else counters.anomalies += 1;
    return outcome;
  }

  #heard(unit: number, trouble: { code: ErrorCode; reason: string } | null): void {
    const { chiller, log } = this.#options;
    this.#units.set(unit, trouble);
    // where one unit answers the host is there again: of the others nothing is known until they are asked
    const back = ([, other]: [number, typeof trouble]): boolean => other?.code === 'controller_unreachable';
    if (trouble === null) for (const [other] of [...this.#units].filter(back)) this.#units.delete(other);
    const answers = [...this.#units.values()].some((other) => other === null);
    if (answers) {
      if (this.#state !== 'connected') log.info({ chiller }, 'controller answers');
      this.#become('connected', null);
      this.#sayRemark();
      return;
    }
    if (trouble === null) return;
    if (this.#state !== 'lost') log.warn({ chiller, code: trouble.code, reason: trouble.reason }, 'controller lost');
    this.#become('lost', trouble.reason);
  }

  /** A link that works may still be odd; said once for as long as it lasts. */
  #remark(): string | null {
    const parts: string[] = [];
    for (const [unit, trouble] of this.#units) if (trouble !== null) parts.push(`unit ${unit}: ${trouble.reason}`);
    const line = this.#line.remark();
    if (line !== null) parts.push(line);
    return parts.length === 0 ? null : parts.join('; ');
  }

  #sayRemark(): void {
    const remark = this.#remark();
    if (remark === this.#said) return;
    this.#said = remark;
    const { chiller, log } = this.#options;
    const code: ErrorCode = this.#line.remark() === null ? 'controller_silent' : 'controller_duplicates';
    if (remark !== null) log.warn({ chiller, code, reason: remark }, 'controller answers, but not as it should');
  }

  #refused(block: Block, reason: string): void {
    const { chiller, log } = this.#options;
    const { unit, table, register, count } = block;
    const points = block.points.map((point) => point.name);
    const fields = { chiller, code: 'controller_exception', unit, table, register, count, points, reason };
    log.warn(fields, 'controller refuses to read an address');
  }

  #become(state: LinkState, reason: string | null): void {
    if (state !== this.#state) this.#since = this.#options.clock.now();
    this.#state = state;
    this.#reason = reason;
  }
}
