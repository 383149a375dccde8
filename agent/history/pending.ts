/**
 * Minutes that wait in memory while the store takes none; bounded, oldest first, and what the bound gives up is
 * remembered for a gap record.
 */
import type { Lost } from './outbox.ts';
import type { MinuteCommit } from './types.ts';

export interface PendingLimits {
  readonly history_pending_max: number;
  readonly history_pending_bytes_max: number;
}

export class Pending {
  readonly #limits: PendingLimits;
  #minutes: MinuteCommit[] = [];
  #bytes = 0;
  #dropped = 0;
  /** By address: the numbers of its stream that were given up. */
  readonly #lost = new Map<string, Lost>();
  /** Commands that minutes took in which were given up: the next stored minute of the chiller says so for them. */
  readonly #lostCommands = new Map<string, number[]>();

  constructor(limits: PendingLimits) {
    this.#limits = limits;
  }

  get size(): number {
    return this.#minutes.length;
  }

  get dropped(): number {
    return this.#dropped;
  }

  /** Takes a minute in; answers how many older ones had to go. */
  add(minute: MinuteCommit): number {
    this.#minutes.push(minute);
    this.#bytes += bytesOf(minute);
    let dropped = 0;
    const { history_pending_max, history_pending_bytes_max } = this.#limits;
    while (
      this.#minutes.length > 1 &&
      (this.#minutes.length > history_pending_max || this.#bytes > history_pending_bytes_max)
    ) {
      this.#remember(this.#minutes[0] as MinuteCommit);
      this.removeFirst();
      dropped++;
    }
    this.#dropped += dropped;
    return dropped;
  }

  first(): MinuteCommit | null {
    return this.#minutes[0] ?? null;
  }

  removeFirst(): void {
    const minute = this.#minutes.shift();
    if (minute !== undefined) this.#bytes -= bytesOf(minute);
  }

  /** Commands of a chiller that were taken in, and of which no stored minute tells yet. */
  commands(chiller: string): readonly number[] {
    const waiting = this.#minutes.filter((minute) => minute.chiller === chiller);
    return [...this.lostCommands(chiller), ...waiting.flatMap(({ commands }) => commands ?? [])];
  }

  lostCommands(chiller: string): readonly number[] {
    return this.#lostCommands.get(chiller) ?? [];
  }

  /** Another file took the place of the old one, where these ids mean other commands. */
  forgetCommands(): void {
    this.#lostCommands.clear();
    this.#minutes = this.#minutes.map(({ commands: _, ...minute }) => minute);
  }

  lost(chiller: string): readonly Lost[] {
    return [...this.#lost.values()].filter(({ message }) => message.chiller === chiller);
  }

  lostAreStored(chiller: string): void {
    this.#lostCommands.delete(chiller);
    for (const [key, { message }] of this.#lost) if (message.chiller === chiller) this.#lost.delete(key);
  }

  #remember(minute: MinuteCommit): void {
    const { chiller, commands = [] } = minute;
    if (commands.length > 0) this.#lostCommands.set(chiller, [...this.lostCommands(chiller), ...commands]);
    for (const message of minute.messages) {
      if (message.sequence === null) continue;
      const key = `${message.sink} ${message.address}`;
      const lost = this.#lost.get(key);
      if (lost === undefined) this.#lost.set(key, { message, from: message.sequence, to: message.sequence, count: 1 });
      else {
        lost.to = message.sequence;
        lost.count++;
      }
    }
  }
}

/** About what a minute holds in memory; characters, as most are one byte. */
function bytesOf({ state, record, messages, fast }: MinuteCommit): number {
  return (
    state.length +
    record.length +
    messages.reduce((sum, { payload }) => sum + payload.length, 0) +
    fast.reduce((sum, { times }) => sum + 16 * times.length, 0)
  );
}
