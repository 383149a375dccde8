/**
 * A real mail server in the process (smtp-server), with a certificate that openssl makes for the run, and what arrived
 * read by a parser that shares nothing with the sink: RFC 2045 parts, base64 and quoted-printable, RFC 2047 words.
 */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { SMTPServer, type SMTPServerOptions } from 'smtp-server';

export interface Authority {
  readonly ca: string;
  readonly key: string;
  readonly cert: string;
}

/** An authority and a certificate of the name `localhost` and the address 127.0.0.1, valid for a day. */
export function makeCertificate(names = 'DNS:localhost,IP:127.0.0.1'): Authority {
  const folder = mkdtempSync(join(tmpdir(), 'tonhour-mail-'));
  const at = (name: string) => join(folder, name);
  const openssl = (...args: string[]) => execFileSync('openssl', args, { stdio: 'pipe' });
  const curve = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes'];
  try {
    openssl(
      'req',
      '-x509',
      ...curve,
      '-keyout',
      at('ca.key'),
      '-out',
      at('ca.pem'),
      '-days',
      '1',
      '-subj',
      '/CN=Plant authority',
    );
    const extensions = ['-addext', `subjectAltName=${names}`];
    const signed = ['-CA', at('ca.pem'), '-CAkey', at('ca.key'), '-days', '1', '-subj', '/CN=mail'];
    openssl('req', '-x509', ...curve, ...extensions, ...signed, '-keyout', at('key.pem'), '-out', at('cert.pem'));
    const read = (name: string) => readFileSync(at(name), 'utf8');
    return { ca: read('ca.pem'), key: read('key.pem'), cert: read('cert.pem') };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

export interface Part {
  readonly type: string;
  readonly filename: string | null;
  readonly content: string;
}

export interface Letter {
  readonly headers: ReadonlyMap<string, string>;
  readonly parts: readonly Part[];
  readonly to: readonly string[];
  readonly raw: string;
}

function headersOf(block: string): Map<string, string> {
  const unfolded = block.replace(/\r\n[ \t]+/g, ' ').split('\r\n');
  return new Map(
    unfolded.flatMap((line) => {
      const [, name, value] = /^([^:]+):\s*(.*)$/.exec(line) ?? [];
      return name === undefined ? [] : [[name.toLowerCase(), words(value ?? '')] as const];
    }),
  );
}

/** RFC 2047. */
function words(text: string): string {
  return text
    .replace(/\?=\s+=\?/g, '?==?')
    .replace(/=\?utf-8\?([bq])\?([^?]*)\?=/gi, (_, how: string, body: string) =>
      how.toLowerCase() === 'b' ? Buffer.from(body, 'base64').toString() : quoted(body.replaceAll('_', ' ')),
    );
}

function quoted(text: string): string {
  const bytes = text
    .replace(/=\r\n/g, '')
    .replace(/=([0-9A-F]{2})/gi, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)));
  return Buffer.from(bytes, 'latin1').toString('utf8');
}

function partsOf(block: string): Part[] {
  const cut = block.indexOf('\r\n\r\n');
  const headers = headersOf(block.slice(0, cut));
  const body = block.slice(cut + 4);
  const type = headers.get('content-type') ?? 'text/plain';
  const [, boundary] = /boundary="?([^";]+)"?/.exec(type) ?? [];
  if (boundary !== undefined)
    return body
      .split(`--${boundary}`)
      .slice(1, -1)
      .flatMap((part) => partsOf(part.replace(/^\r\n/, '')));
  const how = headers.get('content-transfer-encoding') ?? '7bit';
  const content =
    how === 'base64' ? Buffer.from(body, 'base64').toString() : how === 'quoted-printable' ? quoted(body) : body;
  const [, filename = null] = /filename="?([^";]+)"?/.exec(headers.get('content-disposition') ?? '') ?? [];
  return [{ type: type.split(';')[0] ?? type, filename, content: content.replaceAll('\r\n', '\n') }];
}

export function readLetter(raw: string, to: readonly string[]): Letter {
  return { headers: headersOf(raw.slice(0, raw.indexOf('\r\n\r\n'))), parts: partsOf(raw), to, raw };
}

export interface MailServerUnderTest {
  readonly port: number;
  readonly letters: readonly Letter[];
  /** Whether each session that got as far as MAIL FROM was under TLS. */
  readonly safe: readonly boolean[];
  stop(): Promise<void>;
}

export interface ServerWishes {
  readonly security?: 'starttls' | 'implicit';
  readonly authority: Authority;
  readonly port?: number;
  /** Answer to RCPT TO, by address: null accepts. */
  readonly recipient?: (address: string) => { readonly code: number; readonly text: string } | null;
  /** Answer to MAIL FROM and to the end of DATA. */
  readonly sender?: () => { readonly code: number; readonly text: string } | null;
  readonly data?: (letter: Letter) => { readonly code: number; readonly text: string } | null;
  readonly options?: SMTPServerOptions;
}

function answer(said: { readonly code: number; readonly text: string } | null | undefined): Error | null {
  return said == null ? null : Object.assign(new Error(said.text), { responseCode: said.code });
}

/** Wants user `agent` with password `right`, and TLS first. */
export async function startMailServer(wishes: ServerWishes): Promise<MailServerUnderTest> {
  const { security = 'starttls', authority, port = 0 } = wishes;
  const letters: Letter[] = [];
  const safe: boolean[] = [];
  const server = new SMTPServer({
    secure: security === 'implicit',
    key: authority.key,
    cert: authority.cert,
    closeTimeout: 200,
    onAuth: ({ username, password }, _session, done) =>
      username === 'agent' && password === 'right'
        ? done(null, { user: 'agent' })
        : done(answer({ code: 535, text: '5.7.8 authentication failed' })),
    onMailFrom: (_address, session, done) => {
      safe.push(session.secure);
      done(answer(wishes.sender?.()));
    },
    onRcptTo: ({ address }, _session, done) => done(answer(wishes.recipient?.(address))),
    onData: (stream, session, done) => {
      const chunks: Buffer[] = [];
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      stream.on('end', () => {
        const to = session.envelope.rcptTo.map(({ address }) => address);
        const letter = readLetter(Buffer.concat(chunks).toString('latin1'), to);
        const refused = answer(wishes.data?.(letter));
        if (refused === null) letters.push(letter);
        done(refused);
      });
    },
    ...wishes.options,
  });
  server.on('error', () => {}); // a client that goes away is part of the tests
  await new Promise<void>((resolve) => server.listen(port, '127.0.0.1', () => resolve()));
  const address = server.server.address();
  if (address === null || typeof address === 'string') throw new Error('a TCP server has a port');
  return {
    port: address.port,
    letters,
    safe,
    stop: () => new Promise((resolve) => server.close(() => resolve())),
  };
}
