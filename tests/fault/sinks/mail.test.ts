/**
 * Goal: whatever dies between the outbox and the mail server, no alarm is lost, and one that comes twice can be told
 * by its Message-ID. Method: a real server that ends connections in the middle of a mail, and a child process with the
 * real store and sink that kills itself by SIGKILL between the server's word and the settling.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { beforeAll, expect, onTestFinished, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { openHistory } from '../../../agent/history/history.ts';
import {
  type Authority,
  type Letter,
  makeCertificate,
  readLetter,
  startMailServer,
} from '../../contract/sinks/mail-server.ts';
import { temporaryFolder } from '../../unit/history/helpers.ts';
import { startProxy } from '../tcp-proxy.ts';

const VICTIM = fileURLToPath(new URL('mail-victim.ts', import.meta.url));

let authority: Authority;
beforeAll(() => {
  authority = makeCertificate();
});

interface Life {
  readonly folder: string;
  readonly port: number;
  readonly commit?: readonly number[];
  readonly dieAt?: string;
  readonly early?: boolean;
}

async function live({ folder, port, commit = [], dieAt = '', early = false }: Life): Promise<string> {
  const child = spawn(process.execPath, [VICTIM], {
    stdio: ['ignore', 'inherit', 'inherit'],
    env: {
      ...process.env,
      EARLY: early ? '1' : '',
      FOLDER: folder,
      PORT: String(port),
      CA: authority.ca,
      COMMIT: commit.join(),
      DIE_AT: dieAt,
    },
  });
  onTestFinished(() => {
    child.kill('SIGKILL');
  });
  const [code, signal] = (await once(child, 'exit')) as [number | null, string | null];
  return signal ?? String(code);
}

const idOf = ({ headers }: Letter): string => headers.get('message-id') ?? '';
const name = (n: number): string => `<condenser-approach.${n}.raised.CH-1.kestrel-quay@quay.example>`;

function rejectedOf(folder: string): number {
  const history = must(openHistory({ folder }));
  const { waiting, rejected } = history.outbox.counts('mail');
  history.close();
  return waiting + rejected;
}

test('kill -9 between the server’s word and the settling: the alarm comes again under the same name, none is lost', async () => {
  const server = await startMailServer({ authority });
  onTestFinished(() => server.stop());
  const folder = temporaryFolder();
  expect(await live({ folder, port: server.port, commit: [1], dieAt: 'after_acknowledge' })).toBe('SIGKILL');
  expect(server.letters.map(idOf)).toEqual([name(1)]);
  expect(await live({ folder, port: server.port, commit: [2] })).toBe('0');
  expect(server.letters.map(idOf)).toEqual([name(1), name(1), name(2)]);
  expect(await live({ folder, port: server.port })).toBe('0');
  expect(server.letters).toHaveLength(3);
  expect(rejectedOf(folder)).toBe(0);
});

test('planted: a sink that settles before the server’s word loses the alarm', async () => {
  let open = false;
  const server = await startMailServer({
    authority,
    data: () => (open ? null : { code: 451, text: '4.3.0 later' }),
  });
  onTestFinished(() => server.stop());
  const folder = temporaryFolder();
  expect(await live({ folder, port: server.port, commit: [1], early: true })).toBe('0');
  open = true;
  expect(await live({ folder, port: server.port })).toBe('0');
  expect(server.letters.map(idOf)).not.toContain(name(1));
});

test('a server that dies in the middle of the data gets the mail whole when it is back, and nothing else', async () => {
  let deaths = 2;
  const halves: string[] = [];
  const whole: Letter[] = [];
  const server = await startMailServer({
    authority,
    options: {
      onData: (stream, session, done) => {
        const chunks: Buffer[] = [];
        stream.on('data', (chunk: Buffer) => {
          chunks.push(chunk);
          if (deaths === 0) return;
          deaths -= 1;
          halves.push(chunk.toString());
          proxy.cut();
        });
        stream.on('end', () => {
          const to = session.envelope.rcptTo.map(({ address }) => address);
          whole.push(readLetter(Buffer.concat(chunks).toString('latin1'), to));
          done(null);
        });
        stream.on('error', () => {});
      },
    },
  });
  const proxy = await startProxy(server.port);
  onTestFinished(async () => {
    await proxy.stop();
    await server.stop();
  });
  const folder = temporaryFolder();
  expect(await live({ folder, port: proxy.port, commit: [1] })).toBe('0');
  expect(halves).toHaveLength(2);
  expect(halves.every((half) => half.length < 100_000)).toBe(true);
  const complete = whole.filter(({ raw }) => (raw.match(/numbers: 1;/g) ?? []).length === 2000);
  expect(complete.map(idOf)).toEqual([name(1)]);
  expect(rejectedOf(folder)).toBe(0);
});
