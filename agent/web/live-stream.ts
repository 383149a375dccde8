/**
 * The live stream: each completed minute, and the plant's figures after it, to every page that listens (server-sent
 * events). Bounded listeners; a reader too slow is let go.
 */
import type { IncomingMessage, ServerResponse } from 'node:http';
import { LIMITS } from '../base/limits.ts';
import type { Now, PlantFigure } from './types.ts';

const HEARTBEAT_MS = 15_000;
/** Bytes that may wait for one slow reader. */
const WAITING_BYTES_MAX = 1024 * 1024;

export class LiveStream {
  readonly #listeners = new Set<ServerResponse>();
  #timer: NodeJS.Timeout | null = null;
  #dropped = 0;

  get listeners(): number {
    return this.#listeners.size;
  }

  /** Readers let go because they did not read. */
  get dropped(): number {
    return this.#dropped;
  }

  get full(): boolean {
    return this.#listeners.size >= LIMITS.live_listeners_max;
  }

  /** Takes a listener; the newest minutes are sent at once, so that a page that was away catches up. */
  add(
    request: IncomingMessage,
    response: ServerResponse,
    headers: Record<string, string>,
    first: readonly Now[],
    plant: PlantFigure | null = null,
  ): void {
    response.writeHead(200, {
      ...headers,
      'content-type': 'text/event-stream; charset=utf-8',
      'cache-control': 'no-store',
    });
    response.write('retry: 5000\n\n');
    this.#listeners.add(response);
    for (const now of first) this.#write(response, event(now));
    if (plant !== null) this.#write(response, plantEvent(plant));
    const gone = (): void => {
      this.#listeners.delete(response);
      if (this.#listeners.size === 0) this.#rest();
    };
    response.on('close', gone);
    response.on('error', gone);
    request.on('error', gone);
    this.#timer ??= setInterval(() => this.#all(': alive\n\n'), HEARTBEAT_MS).unref();
  }

  send(now: Now): void {
    if (this.#listeners.size > 0) this.#all(event(now));
  }

  sendPlant(plant: PlantFigure): void {
    this.#all(plantEvent(plant));
  }

  close(): void {
    this.#rest();
    for (const response of this.#listeners) response.end();
    this.#listeners.clear();
  }

  #rest(): void {
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
  }

  #all(text: string): void {
    for (const response of this.#listeners) this.#write(response, text);
  }

  #write(response: ServerResponse, text: string): void {
    if (response.writableLength > WAITING_BYTES_MAX) {
      this.#dropped++;
      this.#listeners.delete(response);
      response.destroy();
      return;
    }
    response.write(text);
  }
}

function event(now: Now): string {
  return `event: minute\nid: ${now.chiller} ${now.sequence ?? ''}\ndata: ${JSON.stringify(now)}\n\n`;
}

function plantEvent(plant: PlantFigure): string {
  return `event: plant\ndata: ${JSON.stringify(plant)}\n\n`;
}
