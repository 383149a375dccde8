/** Runs a plant against a clock, or as fast as it goes. */
import type { Clock } from '../base/clock.ts';
import type { Plant } from './plant.ts';

/** Most plant seconds computed before other work of the process gets its turn. */
const SECONDS_AT_ONCE = 600;
const PAUSE_MS = 50;

export interface PaceOptions {
  readonly clock: Clock;
  readonly stop: AbortSignal;
  /** Plant seconds per real second; null: as fast as it goes. */
  readonly speed: number | null;
  /** Plant seconds after which it ends. */
  readonly duration: number;
  /** Called after each batch of seconds, before others get their turn. */
  readonly after?: () => Promise<void>;
}

/** Ends at the duration or when stopped; answers the plant seconds that it ran. */
export async function pace(plant: Plant, options: PaceOptions): Promise<number> {
  const { clock, stop, speed, duration, after } = options;
  const began = clock.monotonic();
  let done = 0;
  while (done < duration && !stop.aborted) {
    const due = speed === null ? duration : Math.floor(((clock.monotonic() - began) / 1000) * speed);
    const seconds = Math.min(due - done, duration - done, SECONDS_AT_ONCE);
    if (seconds > 0) {
      plant.advance(seconds);
      done += seconds;
      await after?.();
    }
    await breathe(speed === null || seconds === SECONDS_AT_ONCE ? 0 : PAUSE_MS, stop);
  }
  return done;
}

/** Lets sockets have their turn; ends early when stopped. */
function breathe(ms: number, stop: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    if (stop.aborted) return resolve();
    if (ms === 0) return void setImmediate(resolve);
    const end = (): void => {
      clearTimeout(timer);
      stop.removeEventListener('abort', end);
      resolve();
    };
    const timer = setTimeout(end, ms);
    stop.addEventListener('abort', end);
  });
}
