/**
 * One write to a time-series store. Of the library the transport alone is used: its own buffer would be a second queue
 * beside the outbox, its retries a second back-off, it takes Retry-After for milliseconds, and its time limit is one of
 * silence that leaves the request under way. The limit here is of the whole exchange and ends the connection.
 */
import { Agent as HttpAgent } from 'node:http';
import { Agent as HttpsAgent } from 'node:https';
import { HttpError, InfluxDB, type Transport } from '@influxdata/influxdb-client';
import { authorization, type InfluxOptions, writePath } from './influx-options.ts';

/** Bodies larger than this travel compressed. */
const GZIP_BYTES = 1024;
/** What is kept of a refusal. */
const WORDS_MAX = 300;

/** What the far end said to one write. */
export type Answer =
  | { readonly kind: 'answer'; readonly status: number; readonly words: string; readonly retry_after: string | null }
  | { readonly kind: 'none'; readonly reason: string };

export class InfluxWriter {
  readonly #transport: Transport;
  readonly #agent: HttpAgent;
  readonly #path: string;
  readonly #headers: Record<string, string>;
  #under: AbortController | null = null;

  /** Opens no connection. */
  constructor(options: InfluxOptions) {
    const secure = new URL(options.url).protocol === 'https:';
    this.#agent = secure ? new HttpsAgent(ONE_CONNECTION) : new HttpAgent(ONE_CONNECTION);
    // The library's own limit is off: 0 is none.
    const transportOptions = { agent: this.#agent, timeout: 0 };
    this.#transport = new InfluxDB({ url: options.url, timeout: 0, transportOptions }).transport;
    this.#path = writePath(options.write);
    this.#headers = { 'content-type': 'text/plain; charset=utf-8', ...authorization(options.write) };
  }

  /** Settles within `answer_ms`, whatever the far end does; one at a time. */
  write(body: string, answer_ms: number): Promise<Answer> {
    return this.#exchange('POST', this.#path, { body, answer_ms });
  }

  /** Whether anybody answers there: stores of both ways have this path, and any answer will do. */
  ping(answer_ms: number): Promise<Answer> {
    return this.#exchange('GET', '/ping', { body: '', answer_ms });
  }

  #exchange(method: string, path: string, { body, answer_ms }: { body: string; answer_ms: number }): Promise<Answer> {
    return new Promise((resolve) => {
      const under = new AbortController();
      this.#under = under;
      const timer = setTimeout(() => {
        settle({ kind: 'none', reason: `no answer within ${answer_ms} ms` });
        under.abort();
      }, answer_ms);
      const settle = (answer: Answer): void => {
        clearTimeout(timer);
        this.#under = null;
        resolve(answer);
      };
      let status = 0;
      this.#transport.send(
        path,
        body,
        { method, headers: this.#headers, gzipThreshold: GZIP_BYTES, signal: under.signal },
        {
          responseStarted: (_headers, code) => {
            status = code ?? 0;
          },
          complete: () => settle({ kind: 'answer', status, words: '', retry_after: null }),
          error: (error) => settle(answerOf(error)),
        },
      );
    });
  }

  /** Ends what is under way and the connection. */
  close(): void {
    this.#under?.abort();
    this.#agent.destroy();
  }
}

/** One request at a time, on a connection that stays. */
const ONE_CONNECTION = { keepAlive: true, maxSockets: 1 } as const;

function answerOf(error: Error): Answer {
  if (!(error instanceof HttpError)) return { kind: 'none', reason: reasonOf(error) };
  const after = error.headers?.['retry-after'];
  return {
    kind: 'answer',
    status: error.statusCode,
    words: wordsOf(error.body ?? ''),
    retry_after: typeof after === 'string' ? after : null,
  };
}

function reasonOf(error: Error): string {
  const { code } = error as { code?: unknown };
  return error.message || (typeof code === 'string' ? code : 'the connection failed');
}

/** The message of a JSON answer (`message` of v2, `error` of v1), else its text; one line, bounded. */
function wordsOf(body: string): string {
  let text = body;
  try {
    const { message, error } = JSON.parse(body) as { message?: unknown; error?: unknown };
    text = [message, error].find((each) => typeof each === 'string') ?? body;
  } catch {
    // Not JSON: as it is.
  }
  return text
    .replace(/[\p{Cc}\s]+/gu, ' ')
    .trim()
    .slice(0, WORDS_MAX);
}
