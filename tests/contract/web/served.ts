/** A web room over the fixture plant on a real socket, and a raw client that reads the live stream. */
import { webServer } from '../../../agent/web/server.ts';
import { Fixture } from '../../browser/fixture.ts';

export interface Served {
  readonly url: string;
  readonly plant: Fixture;
  /** What the room logged. */
  readonly said: string[];
  stop(): Promise<void>;
}

export async function serve(): Promise<Served> {
  const plant = new Fixture();
  const said: string[] = [];
  const write = (details: object, message: string): void => {
    said.push(`${message} ${JSON.stringify(details)}`);
  };
  const log = { info: () => undefined, warn: write, error: write };
  const server = webServer({ data: plant, port: 0, log, clock: () => plant.time + 23_000 });
  const { url } = await server.start();
  return { url, plant, said, stop: () => server.stop() };
}

export interface Listener {
  /** Waits until the stream has brought `count` events in all. */
  events(count: number): Promise<{ event: string; id: string; data: string }[]>;
  /** Resolves when the far end closed the stream. */
  readonly ended: Promise<void>;
  close(): void;
}

export async function listen(url: string): Promise<Listener> {
  const abort = new AbortController();
  const response = await fetch(`${url}/api/live`, { signal: abort.signal });
  if (!response.ok || response.body === null) throw new Error(`no stream: ${response.status}`);
  const events: { event: string; id: string; data: string }[] = [];
  const waiting: { count: number; done: () => void }[] = [];
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
  const read = async (): Promise<void> => {
    let text = '';
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      text += value;
      for (let end = text.indexOf('\n\n'); end >= 0; end = text.indexOf('\n\n')) {
        const lines = Object.fromEntries(
          text
            .slice(0, end)
            .split('\n')
            .map((line) => line.split(/: ?(.*)/s).slice(0, 2)),
        );
        text = text.slice(end + 2);
        if (lines['event'] !== undefined)
          events.push({ event: lines['event'], id: lines['id'] ?? '', data: lines['data'] ?? '' });
      }
      for (const one of waiting) if (events.length >= one.count) one.done();
    }
  };
  const ended = read().catch(() => undefined);
  return {
    ended,
    close: () => abort.abort(),
    events: (count) =>
      new Promise((resolve) => {
        const done = (): void => resolve(events.slice());
        if (events.length >= count) done();
        else waiting.push({ count, done });
      }),
  };
}
