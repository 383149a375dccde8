import { connect as connectSocket, type Socket } from 'node:net';
import type { Timers } from '../timers.ts';
import { MbapConnection, type TransactionIds, type Wire } from './mbap.ts';
import type { Connect, Opened } from './transport.ts';

const WORDS: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'connection refused',
  ECONNRESET: 'connection reset by the far end',
  EPIPE: 'connection closed by the far end',
  EHOSTUNREACH: 'no route to the host',
  ENETUNREACH: 'no route to the network',
  EHOSTDOWN: 'host is down',
  ETIMEDOUT: 'connection timed out',
  ENOTFOUND: 'host name not found',
  EAI_AGAIN: 'host name could not be looked up',
};

function inWords(error: Error): string {
  const code = (error as NodeJS.ErrnoException).code ?? '';
  return WORDS[code] ?? (code || error.message);
}

/**
 * A socket as a wire. `close` follows `destroy` whatever the far end does; a reset also frees the slot in the
 * controller at once.
 */
function socketWire(socket: Socket): Wire {
  let freed: Promise<void> | null = null;
  return {
    send(bytes) {
      socket.write(bytes);
    },
    destroy() {
      freed ??= new Promise((resolve) => {
        if (socket.closed) {
          resolve();
          return;
        }
        socket.once('close', () => resolve());
        if (socket.connecting || socket.destroyed) socket.destroy();
        else socket.resetAndDestroy();
      });
      return freed;
    },
  };
}

/**
 * Connections to one host and port. The ids are the host's: they outlive a connection, so that a reply of an earlier
 * one cannot fit a later one.
 */
export function tcpConnect(options: { host: string; port: number; timers: Timers; ids: TransactionIds }): Connect {
  const { host, port, timers, ids } = options;
  return ({ timeoutMs, signal }) =>
    new Promise<Opened>((resolve) => {
      if (signal.aborted) {
        resolve({ ok: false, reason: 'given up' });
        return;
      }
      const socket = connectSocket({ host, port, noDelay: true });
      const wire = socketWire(socket);
      const connection = new MbapConnection({ wire, ids, timers });
      const cancelDeadline = timers.after(timeoutMs, () => giveUp(`no connection within ${timeoutMs} ms`));
      const giveUp = (reason: string): void => {
        cancelDeadline();
        signal.removeEventListener('abort', abort);
        void wire.destroy();
        resolve({ ok: false, reason });
      };
      const abort = (): void => giveUp('given up');
      signal.addEventListener('abort', abort);
      let opened = false;
      const lost = (reason: string): void => {
        if (opened) connection.ended(reason);
        else giveUp(reason);
      };
      socket.on('data', (chunk) => connection.received(chunk));
      socket.on('error', (error) => lost(inWords(error)));
      socket.on('end', () => lost('connection closed by the far end'));
      socket.on('close', () => lost('connection closed'));
      socket.once('connect', () => {
        opened = true;
        cancelDeadline();
        signal.removeEventListener('abort', abort);
        resolve({ ok: true, connection });
      });
    });
}
