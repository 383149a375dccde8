/**
 * The agent's log: one line of JSON each, by pino. Lines of one kind (same level, same code, same words but for the
 * figures in them) are let through up to a bound in a window of time; the rest of that window is one line with their
 * number. A fault that comes a thousand times a second can neither fill a gateway's disk nor hide what else is said.
 */
import type { Writable } from 'node:stream';
import { type Logger, pino } from 'pino';
import { LIMITS } from '../base/limits.ts';

export interface LimitedLog {
  readonly log: Logger;
  /** Says what the present windows held back; at the end, and now and then. */
  flush(): void;
}

interface Kind {
  readonly level: string;
  readonly code: string | null;
  readonly words: string;
  began: number;
  passed: number;
  held: number;
}

type Args = readonly unknown[];

/** `now`: monotonic ms. */
export function createLog(out: Writable, now: () => number): LimitedLog {
  const kinds = new Map<string, Kind>();
  let telling = false;
  const log: Logger = pino(
    {
      base: null,
      timestamp: pino.stdTimeFunctions.isoTime,
      hooks: {
        logMethod(args, method, level) {
          if (telling || passes(args, level)) method.apply(this, args);
        },
      },
    },
    out,
  );

  function passes(args: Args, level: number): boolean {
    const time = now();
    const kind = kindOf(args, log.levels.labels[level] ?? 'info');
    if (time - kind.began >= LIMITS.log_window_ms) {
      tell(kind);
      [kind.began, kind.passed] = [time, 0];
    }
    kind.passed += 1;
    if (kind.passed <= LIMITS.log_lines_per_window_max) return true;
    kind.held += 1;
    return false;
  }

  function kindOf(args: Args, level: string): Kind {
    const { code, words } = contentOf(args);
    let key = `${level} ${code} ${words.replaceAll(/\d+/g, '#')}`;
    // So many kinds are no kinds: what is new shares one bound.
    if (!kinds.has(key) && kinds.size >= LIMITS.log_kinds_max) key = OTHER;
    let kind = kinds.get(key);
    if (kind === undefined) {
      kind = { level, code: key === OTHER ? null : code, words: key === OTHER ? 'of many kinds' : words, ...EMPTY };
      kinds.set(key, kind);
    }
    return kind;
  }

  function tell(kind: Kind): void {
    if (kind.held === 0) return;
    const fields = { ...(kind.code === null ? {} : { code: kind.code }), held_back: kind.held };
    kind.held = 0;
    telling = true;
    try {
      const method = log[kind.level as 'info'];
      method.call(log, fields, `${fields.held_back} more lines like this were held back: ${kind.words}`);
    } finally {
      telling = false;
    }
  }

  return {
    log,
    flush() {
      const time = now();
      for (const [key, kind] of kinds) {
        tell(kind);
        // A kind that fell silent makes room.
        if (time - kind.began >= LIMITS.log_window_ms) kinds.delete(key);
      }
    },
  };
}

const OTHER = 'other';
const EMPTY = { began: Number.NEGATIVE_INFINITY, passed: 0, held: 0 };

function contentOf([first, second]: Args): { readonly code: string | null; readonly words: string } {
  if (typeof first === 'string') return { code: null, words: first };
  const { code } = (first ?? {}) as { code?: unknown };
  return { code: typeof code === 'string' ? code : null, words: typeof second === 'string' ? second : '' };
}
