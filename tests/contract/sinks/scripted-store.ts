/**
 * An HTTP peer that answers writes of line protocol as a script says: real stores do not refuse on request. Node's own
 * server; what came is unpacked and kept.
 */
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo, Socket } from 'node:net';
import { gunzipSync } from 'node:zlib';
import { onTestFinished } from 'vitest';

export interface Written {
  readonly path: string;
  readonly authorization: string | undefined;
  readonly compressed: boolean;
  /** Sequence numbers of the minutes in it, in order. */
  readonly sequences: readonly number[];
  readonly lines: readonly string[];
  readonly bytes: number;
  /** performance.now() at its arrival. */
  readonly at: number;
}

/** Status, body, headers; 'silent': never answered; 'cut': a reset connection; 'half': an answer without an end. */
export type Reply =
  | { readonly status: number; readonly body?: string; readonly headers?: Readonly<Record<string, string>> }
  | 'silent'
  | 'cut'
  | 'half';

export interface ScriptedStore {
  readonly port: number;
  readonly url: string;
  readonly writes: readonly Written[];
  /** Connections that were accepted, and writes that stood unanswered at one moment, at most. */
  readonly connections: () => number;
  readonly unanswered: () => number;
}

export async function startStore(script: (write: Written, count: number) => Reply): Promise<ScriptedStore> {
  const writes: Written[] = [];
  let [connections, open, most] = [0, 0, 0];
  const handle = async (request: IncomingMessage, answer: ServerResponse): Promise<void> => {
    open++;
    most = Math.max(most, open);
    request.on('error', () => {});
    answer.on('close', () => open--);
    // Whether it is there, it says whatever the script says of writes.
    if (request.method === 'GET') return void answer.writeHead(204).end();
    const chunks: Buffer[] = [];
    for await (const chunk of request) chunks.push(chunk as Buffer);
    const compressed = request.headers['content-encoding'] === 'gzip';
    const raw = Buffer.concat(chunks);
    const body = compressed ? gunzipSync(raw) : raw;
    const lines = body.toString('utf8').split('\n');
    const write: Written = {
      path: request.url ?? '',
      authorization: request.headers.authorization,
      compressed,
      lines,
      sequences: lines.flatMap((line) => /_minute,.*sequence=(\d+)i/.exec(line)?.[1] ?? []).map(Number),
      bytes: body.length,
      at: performance.now(),
    };
    writes.push(write);
    const reply = script(write, writes.length);
    if (reply === 'silent') return;
    if (reply === 'cut') (request.socket as Socket).resetAndDestroy();
    else if (reply === 'half') answer.writeHead(200, { 'content-length': '100' }).write('{"er');
    else answer.writeHead(reply.status, reply.headers).end(reply.body);
  };
  const server = createServer((request, answer) => {
    handle(request, answer).catch(() => {});
  });
  server.on('connection', () => connections++);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', () => resolve()));
  onTestFinished(() => {
    server.closeAllConnections();
    server.close();
  });
  const { port } = server.address() as AddressInfo;
  return { url: `http://127.0.0.1:${port}`, port, writes, connections: () => connections, unanswered: () => most };
}
