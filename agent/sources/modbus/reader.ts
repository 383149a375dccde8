import type { ErrorCode } from '../../base/errors.ts';
import { LIMITS } from '../../base/limits.ts';
import type { RawSample } from '../../points/types.ts';
import { type Block, type MappedPoint, planBlocks, splitBlock } from './blocks.ts';
import { decode } from './decode.ts';
import type { LineOutcome } from './line.ts';
import { exceptionText } from './pdu.ts';

/** Refusals of these kinds concern an address; the others (device failure, busy, gateway) the device at that moment. */
const ADDRESS_EXCEPTIONS = new Set([1, 2, 3]);
/**
 * A device that fails on a block this often in a row is taken to refuse an address of it: some answer so instead of
 * with exception 2.
 */
const FAILURES_UNTIL_SPLIT = 3;

/** What a pass over the blocks needs from its surroundings. */
export interface ReaderMeans {
  read(block: Block): Promise<LineOutcome>;
  record(sample: RawSample): void;
  /** Wall clock, ms. */
  now(): number;
  monotonic(): number;
  /** An outcome of a unit: `trouble` null where it answered, if only by an exception. */
  heard(unit: number, trouble: { code: ErrorCode; reason: string } | null): void;
  /** A block that cannot be taken apart further is refused, for the first time since it was last read. */
  refused(block: Block, reason: string): void;
}

/**
 * Reads the points of one period, block by block, and takes a refused block apart so that one bad register costs its
 * own points alone.
 */
export class BlockReader {
  readonly #points: readonly MappedPoint[];
  readonly #maxRegisters: number;
  readonly #means: ReaderMeans;
  #blocks: Block[];
  #splitAt: number | null = null;
  readonly #failuresInRow = new Map<Block, number>();
  readonly #refused = new Set<string>();

  constructor(options: { points: readonly MappedPoint[]; maxRegisters: number; means: ReaderMeans }) {
    this.#points = options.points;
    this.#maxRegisters = options.maxRegisters;
    this.#means = options.means;
    this.#blocks = planBlocks(options.points, options.maxRegisters);
  }

  get blocks(): readonly Block[] {
    return this.#blocks;
  }

  /**
   * One pass. Every point gets one sample, unless the source is stopped. Returns the monotonic ms of the next useful
   * attempt, or null.
   */
  async pass(): Promise<number | null> {
    this.#rejoin();
    const todo = [...this.#blocks];
    let retryAt: number | null = null;
    for (let block = todo.shift(); block !== undefined; block = todo.shift()) {
      const outcome = await this.#means.read(block);
      if (outcome.kind === 'stopped') return null;
      if (outcome.kind === 'failed') {
        this.#means.heard(block.unit, outcome);
        this.#nothing(block.points, outcome.reason);
        retryAt = Math.min(retryAt ?? Number.POSITIVE_INFINITY, outcome.retryAt);
        continue;
      }
      this.#means.heard(block.unit, null);
      if (outcome.kind === 'reply') this.#values(block, outcome.data);
      else todo.unshift(...this.#exception(block, outcome.code));
    }
    return retryAt;
  }

  #values(block: Block, data: Uint8Array): void {
    this.#failuresInRow.delete(block);
    if (this.#refused.size > 0) this.#refused.delete(keyOf(block));
    const time = this.#means.now();
    for (const { name, address } of block.points) {
      const raw = decode(address, data, block.register);
      this.#means.record(
        raw === null ? { point: name, time, raw, reason: 'not a number' } : { point: name, time, raw },
      );
    }
  }

  #nothing(points: readonly MappedPoint[], reason: string): void {
    const time = this.#means.now();
    for (const { name } of points) this.#means.record({ point: name, time, raw: null, reason });
  }

  /** The parts to read instead at once, or none: then the block's points have their reason. */
  #exception(block: Block, code: number): readonly Block[] {
    const failures = (this.#failuresInRow.get(block) ?? 0) + 1;
    this.#failuresInRow.set(block, failures);
    const splits = ADDRESS_EXCEPTIONS.has(code) || (code === 4 && failures >= FAILURES_UNTIL_SPLIT);
    const halves = splits ? splitBlock(block) : null;
    if (halves !== null) {
      this.#failuresInRow.delete(block);
      this.#blocks.splice(this.#blocks.indexOf(block), 1, ...halves);
      this.#splitAt ??= this.#means.monotonic();
      // a fresh half of a failing device has the same right to be taken apart at once
      if (code === 4) for (const half of halves) this.#failuresInRow.set(half, FAILURES_UNTIL_SPLIT - 1);
      return halves;
    }
    const reason = exceptionText(code);
    const key = keyOf(block);
    if (!this.#refused.has(key)) {
      this.#refused.add(key);
      this.#means.refused(block, reason);
    }
    this.#nothing(block.points, reason);
    return [];
  }

  /** Tries split blocks whole again now and then: a controller's point list may have been corrected. */
  #rejoin(): void {
    const now = this.#means.monotonic();
    if (this.#splitAt === null || now - this.#splitAt < 1000 * LIMITS.modbus_rejoin_s) return;
    this.#splitAt = null;
    this.#failuresInRow.clear();
    this.#blocks = planBlocks(this.#points, this.#maxRegisters);
  }
}

function keyOf(block: Block): string {
  return `${block.unit} ${block.table} ${block.register}`;
}
