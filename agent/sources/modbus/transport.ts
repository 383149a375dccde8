import type { ExchangeOutcome } from './pdu.ts';

/**
 * An open way to a bus, whatever carries it (MBAP over TCP today, a serial line later). One request at a time; refuses
 * whatever is not a reading request; unusable for good after a failure, so that nothing late can answer a later
 * request.
 */
export interface ModbusConnection {
  readonly usable: boolean;
  /** Copies of replies dropped so far. */
  readonly duplicates: number;
  /** Replies in a row that arrived more than once. */
  readonly duplicatesInRow: number;
  exchange(options: { unit: number; pdu: Uint8Array; timeoutMs: number }): Promise<ExchangeOutcome>;
  /**
   * Gives the connection up at once, settles a request in flight, and resolves when the descriptor is free. May be
   * called at any time.
   */
  close(): Promise<void>;
}

export type Opened =
  | { readonly ok: true; readonly connection: ModbusConnection }
  | { readonly ok: false; readonly reason: string };

/** Opens a new connection within the time, or says why not; never rejects. Aborting gives up at once. */
export type Connect = (options: { timeoutMs: number; signal: AbortSignal }) => Promise<Opened>;
