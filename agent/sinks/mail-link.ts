/** One try to hand a mail to the server: a connection of its own, TLS always, bounded in time. */
import { createTransport, type Transporter } from 'nodemailer';
import type { MailServer, MailText } from './mail-options.ts';
import { type MailOutcome, outcomeOf, sortRefusals } from './mail-replies.ts';

export interface Letter {
  readonly from: { readonly name: string; readonly address: string };
  readonly to: readonly string[];
  /** Left part of the Message-ID; unique within the site. */
  readonly name: string;
  /** Names what belongs together, so that readers gather it. */
  readonly thread: string | null;
  readonly site: string;
  readonly urgent: boolean;
  readonly matter: MailText;
}

interface Sent {
  readonly accepted: readonly (string | { readonly address: string })[];
  readonly rejectedErrors?: readonly unknown[];
}

export class MailLink {
  readonly place: string;
  readonly #send_ms: number;
  readonly #transport: Transporter;

  constructor(server: MailServer, limits: { readonly silence_ms: number; readonly send_ms: number }) {
    const { host, port, security, username, password, ca } = server;
    this.place = `${host}:${port}`;
    this.#send_ms = limits.send_ms;
    this.#transport = createTransport({
      host,
      port,
      secure: security === 'implicit',
      requireTLS: true,
      tls: { minVersion: 'TLSv1.2', rejectUnauthorized: true, ...(ca === undefined ? {} : { ca }) },
      ...(username === undefined ? {} : { auth: { user: username, pass: password }, forceAuth: true }),
      connectionTimeout: limits.silence_ms,
      greetingTimeout: limits.silence_ms,
      socketTimeout: limits.silence_ms,
      dnsTimeout: limits.silence_ms,
      disableFileAccess: true,
      disableUrlAccess: true,
    });
  }

  /** Whether the server lets this agent in; sends nothing. */
  async verify(): Promise<MailOutcome> {
    try {
      await this.#transport.verify();
      return { kind: 'taken', accepted: [], refused: [], deferred: [] };
    } catch (error) {
      return outcomeOf(error, this.place);
    }
  }

  async send({ from, to, name, thread, site, urgent, matter }: Letter, stop: AbortSignal): Promise<MailOutcome> {
    const host = from.address.slice(from.address.indexOf('@') + 1);
    const { subject, text, html, attachments } = matter;
    try {
      const sent = (await this.#transport.sendMail({
        from,
        to: [...to],
        subject,
        text,
        html,
        attachments: attachments.map((each) => ({ ...each })),
        messageId: `<${name}.${site}@${host}>`,
        ...(thread === null ? {} : { references: `<${thread}.${site}@${host}>` }),
        // RFC 3834: no vacation notes back, please.
        headers: { 'Auto-Submitted': 'auto-generated' },
        priority: urgent ? 'high' : 'normal',
        xMailer: false,
        signal: AbortSignal.any([stop, AbortSignal.timeout(this.#send_ms)]),
      })) as Sent;
      const accepted = sent.accepted.map((each) => (typeof each === 'string' ? each : each.address));
      return { kind: 'taken', accepted, ...sortRefusals(sent.rejectedErrors ?? []) };
    } catch (error) {
      return outcomeOf(error, this.place);
    }
  }

  close(): void {
    this.#transport.close();
  }
}
