import type { ExchangeOutcome } from '../../../agent/sources/modbus/pdu.ts';
import type { Connect } from '../../../agent/sources/modbus/transport.ts';
import type { FakeTime } from './fake-time.ts';

export interface Request {
  readonly unit: number;
  readonly code: number;
  readonly register: number;
  readonly count: number;
  /** Monotonic ms at which it was sent. */
  readonly at: number;
}

/**
 * A device behind a connection without a wire: for what the source does above the framing. Register r of every unit and
 * table holds r.
 */
export class MemoryDevice {
  readonly time: FakeTime;
  readonly requests: Request[] = [];
  /** Monotonic ms of each attempt to connect. */
  readonly attempts: number[] = [];
  /** How long a reply takes, ms. */
  latencyMs = 0;
  /** Why connections are refused, or null. */
  refusing: string | null = null;
  /** Registers that do not exist, and units that do not answer. */
  readonly illegal = new Set<number>();
  readonly silent = new Set<number>();
  /** Exception to every request, or null. */
  failing: number | null = null;
  inFlight = 0;
  mostInFlight = 0;
  open = 0;

  constructor(time: FakeTime) {
    this.time = time;
  }

  readonly connect: Connect = async () => {
    this.attempts.push(this.time.monotonic());
    if (this.refusing !== null) return { ok: false, reason: this.refusing };
    this.open += 1;
    let usable = true;
    let settle: ((outcome: ExchangeOutcome) => void) | null = null;
    const close = async (): Promise<void> => {
      if (usable) this.open -= 1;
      usable = false;
      settle?.({ kind: 'failed', cause: 'closed', reason: 'closed' });
    };
    return {
      ok: true,
      connection: {
        get usable() {
          return usable;
        },
        duplicates: 0,
        duplicatesInRow: 0,
        close,
        exchange: ({ unit, pdu, timeoutMs }) =>
          new Promise((resolve) => {
            this.inFlight += 1;
            this.mostInFlight = Math.max(this.mostInFlight, this.inFlight);
            const view = new DataView(pdu.buffer);
            const request = { unit, code: view.getUint8(0), register: view.getUint16(1), count: view.getUint16(3) };
            this.requests.push({ ...request, at: this.time.monotonic() });
            const late = this.silent.has(unit) || this.latencyMs >= timeoutMs;
            const take = this.time.after(late ? timeoutMs : this.latencyMs, () => {
              if (!late) return settle?.(this.#answer(request));
              void close();
            });
            settle = (outcome) => {
              take();
              settle = null;
              this.inFlight -= 1;
              const silence = { kind: 'failed', cause: 'silent', reason: `no reply within ${timeoutMs} ms` } as const;
              resolve(late && outcome.kind === 'failed' ? silence : outcome);
            };
          }),
      },
    };
  };

  #answer({ register, count }: { register: number; count: number }): ExchangeOutcome {
    if (this.failing !== null) return { kind: 'exception', code: this.failing };
    const registers = Array.from({ length: count }, (_, i) => register + i);
    if (registers.some((one) => this.illegal.has(one))) return { kind: 'exception', code: 2 };
    return { kind: 'reply', data: Uint8Array.from(registers.flatMap((one) => [one >> 8, one & 0xff])) };
  }
}
