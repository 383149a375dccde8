/**
 * Drains the outbox to a mail server: alarms become mails, a flood of them becomes a digest.
 *
 *     outbox --all that waits--> [ next mail ] --250--> its messages settled together
 *
 * A mail is settled when every recipient was accepted or refused for good. Whatever happens before that, its messages
 * are in the outbox still and are sent again under the same Message-ID, so that whoever gets it twice can tell.
 */
import { LIMITS } from '../base/limits.ts';
import type { Fault, Result } from '../base/result.ts';
import { type MailItem, type MailPlan, mailName, nextMail, readItem } from './mail-batch.ts';
import { Deferrals } from './mail-deferrals.ts';
import { type Letter, MailLink } from './mail-link.ts';
import { checkMailOptions, type MailLimits, type MailOptions } from './mail-options.ts';
import { MailRate } from './mail-rate.ts';
import type { MailOutcome, Refusal } from './mail-replies.ts';
import { sinkStatus } from './standing.ts';
import type { Sink, SinkStatus } from './types.ts';
import { backoffMs, within } from './waiting.ts';

const SINK = 'mail';

type Taken = Extract<MailOutcome, { kind: 'taken' }>;
type Failed = Extract<MailOutcome, { kind: 'failed' }>;

export class MailSink implements Sink {
  readonly #options: MailOptions;
  readonly #limits: MailLimits;
  readonly #now: () => number;
  readonly #rate: MailRate;
  readonly #link: MailLink;
  readonly #stop = new AbortController();
  readonly #held: Deferrals;
  #state: SinkStatus['state'] = 'stopped';
  #since: number;
  #fault: Fault | null = null;
  #attempts = 0;
  /** The mail that the server refused last, how often, and whether it is to be smaller. */
  #troubled: { readonly name: string; tries: number; bare: boolean } | null = null;
  #timer: NodeJS.Timeout | null = null;
  #busy = false;
  #sending = 0;
  #woken = false;
  #idle: (() => void) | null = null;
  #stopping: Promise<void> | null = null;
  readonly #counters = { mails: 0, digests: 0, failures: 0, recipients_refused: 0, recipients_given_up: 0 };
  /** Last reply to each refused recipient: told again only where it changes. */
  readonly #told = new Map<string, string>();

  constructor(options: MailOptions) {
    this.#options = options;
    this.#limits = { ...LIMITS, ...options.limits };
    this.#now = options.now ?? Date.now;
    this.#since = this.#now();
    this.#rate = new MailRate({ per_hour: options.per_hour, now: this.#since });
    this.#held = new Deferrals(this.#limits);
    const { mail_silence_ms_max: silence_ms, mail_send_ms_max: send_ms } = this.#limits;
    this.#link = new MailLink(options.server, { silence_ms, send_ms });
  }

  init(): Result<void> {
    return checkMailOptions(this.#options);
  }

  start(): void {
    if (this.#state !== 'stopped' || this.#stopping !== null) return;
    this.#enter('connecting', null);
    void this.#work();
  }

  stop(): Promise<void> {
    this.#stopping ??= this.#end();
    return this.#stopping;
  }

  wake(): void {
    if (this.#woken || this.#state !== 'connected') return;
    this.#woken = true;
    setImmediate(() => {
      this.#woken = false;
      void this.#work();
    });
  }

  status(): SinkStatus {
    const standing = { state: this.#state, since: this.#since, fault: this.#fault, in_flight: this.#sending };
    const counts = this.#options.outbox.counts(SINK);
    return sinkStatus({ ...standing, counters: this.#counters }, counts);
  }

  #enter(state: SinkStatus['state'], fault: Fault | null): void {
    if (state !== this.#state) this.#since = this.#now();
    this.#state = state;
    this.#fault = fault;
  }

  /** One thing after the other, until nothing is to be done now; then a timer or a wake-up goes on. */
  async #work(): Promise<void> {
    if (this.#busy || this.#stopping !== null) return;
    this.#busy = true;
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
    let pause: number | null = 0;
    // What cannot be is a claim of ours that is broken: it ends the process by an unhandled rejection, and the service
    // manager starts it anew.
    while (pause === 0 && this.#stopping === null)
      pause = this.#state === 'connected' ? await this.#next() : await this.#greet();
    this.#busy = false;
    this.#idle?.();
    if (pause !== null && this.#stopping === null) this.#timer = setTimeout(() => void this.#work(), pause);
  }

  /** Before the first mail, and after a failure: does the server let us in? Answers ms to wait; 0: go on. */
  async #greet(): Promise<number> {
    const outcome = await this.#link.verify();
    if (outcome.kind === 'failed') return this.#failed(outcome);
    this.#enter('connected', null);
    return 0;
  }

  /** Sends what is due next. Answers ms to wait for something to do, null: until woken. */
  async #next(): Promise<number | null> {
    const now = this.#now();
    const late = this.#held.due(now);
    if (late !== null) return this.#send(late.plan, late.remaining);
    const items = this.#waiting();
    const plan = nextMail(items, {
      recipients: (priority) => this.#recipients(priority),
      tokens: this.#rate.available(now),
      tokens_max: this.#rate.max,
    });
    const until = this.#held.next(now);
    if (plan !== null) return this.#send(plan, plan.recipients);
    if (items.length === 0) return until;
    const urgent = items.some(({ priority }) => priority === 1);
    const wait = Math.max(1, this.#rate.wait_ms(urgent || this.#rate.max < 2 ? 1 : 2, now));
    return until === null ? wait : Math.min(wait, until);
  }

  /** What can be mailed, oldest first; what cannot be read or has nobody to go to is given up, counted and told. */
  #waiting(): MailItem[] {
    const { outbox } = this.#options;
    const found: MailItem[] = [];
    const held = this.#held.ids();
    for (const message of outbox.oldest(SINK, LIMITS.mail_alarms_per_mail_max + held.size)) {
      if (held.has(message.id)) continue;
      const item = readItem(message);
      if (item !== null && this.#recipients(item.priority).length > 0) {
        found.push(item);
        continue;
      }
      const why = item === null ? 'it cannot be read' : `nobody gets mail of priority ${item.priority}`;
      this.#tell({ code: 'mail_refused', message: `a message for ${message.address} was given up: ${why}` });
      outbox.settle(message.id, 'reject');
    }
    return found;
  }

  #recipients(priority: 1 | 2 | 3): readonly string[] {
    return this.#options.to.flatMap(({ address, priorities }) => (priorities.includes(priority) ? [address] : []));
  }

  async #send(plan: MailPlan, to: readonly string[]): Promise<number> {
    const name = mailName(plan);
    const bare = this.#troubled?.name === name && this.#troubled.bare;
    this.#sending = plan.items.length;
    const outcome = await this.#link.send(this.#letter(plan, { name, to, bare }), this.#stop.signal);
    this.#sending = 0;
    if (this.#stop.signal.aborted) return 0;
    if (outcome.kind === 'failed') return this.#refusedWhole(plan, name, outcome);
    this.#attempts = 0;
    this.#troubled = null;
    this.#enter('connected', null);
    this.#answered(plan, outcome);
    return 0;
  }

  #letter(plan: MailPlan, { name, to, bare }: { name: string; to: readonly string[]; bare: boolean }): Letter {
    const { from, site, compose } = this.#options;
    const notices = plan.items.flatMap(({ content }) => ('notice' in content ? [content.notice] : []));
    const gaps = plan.items.flatMap(({ content }) => ('gap' in content ? [content.gap] : []));
    const [only] = notices;
    return {
      from,
      to,
      name,
      site,
      thread: plan.kind === 'alarm' && only !== undefined ? `${only.id}.${only.chiller}` : null,
      urgent: plan.items.some(({ priority }) => priority === 1),
      matter: compose({ kind: plan.kind, notices, gaps, attachments: !bare }),
    };
  }

  /** Some recipients have it, some never will, some may later. */
  #answered(plan: MailPlan, { accepted, refused, deferred }: Taken): void {
    for (const refusal of refused) this.#tellRefused(refusal);
    this.#counters.recipients_refused += refused.length;
    const now = this.#now();
    if (accepted.length > 0) {
      this.#rate.take(now);
      this.#counters[plan.kind === 'alarm' ? 'mails' : 'digests'] += 1;
    }
    const held = this.#held.hold(plan, { accepted: accepted.length > 0, deferred, now, random: this.#random() });
    if (held.waits) {
      this.#tell({
        code: 'mail_deferred',
        message: `${this.#link.place}: ${deferred.map(({ address, reply }) => `${address}: ${reply}`).join('; ')}; tried again`,
      });
      return;
    }
    for (const { address, reply } of deferred) {
      this.#counters.recipients_given_up += 1;
      this.#tell({ code: 'mail_recipient_refused', message: `${address} was given up, deferred too long: ${reply}` });
    }
    this.#settle(plan, held.reached ? 'accept' : 'reject');
  }

  #settle(plan: MailPlan, delivery: 'accept' | 'reject'): void {
    this.#options.checkpoint?.('after_acknowledge');
    this.#options.outbox.settleAll(
      plan.items.map(({ id }) => id),
      delivery,
    );
  }

  /** The server took nothing of a mail. */
  #refusedWhole(plan: MailPlan, name: string, outcome: Failed): number {
    const troubled = this.#troubled?.name === name ? this.#troubled : { name, tries: 0, bare: false };
    this.#troubled = troubled;
    troubled.tries += 1;
    const { verdict } = outcome;
    if (verdict === 'smaller' && !troubled.bare) {
      troubled.bare = true;
      return 0;
    }
    const spent = verdict === 'keep for some tries' && troubled.tries >= this.#limits.mail_refusals_max;
    if (verdict !== 'reject' && verdict !== 'smaller' && !spent) return this.#failed(outcome);
    this.#counters.failures += 1;
    const lost = `${plan.items.length} alarm ${plan.items.length === 1 ? 'message' : 'messages'} given up`;
    this.#tell({ ...outcome.fault, message: `${outcome.fault.message}; ${lost}` });
    this.#troubled = null;
    this.#settle(plan, this.#held.forget(plan) ? 'accept' : 'reject');
    return 0;
  }

  /** The server is not well: everything waits. Answers ms to wait. */
  #failed({ fault }: Failed): number {
    this.#counters.failures += 1;
    if (this.#state !== 'lost' || this.#fault?.message !== fault.message) this.#tell(fault);
    this.#enter('lost', fault);
    return Math.max(1, this.#backoff());
  }

  #backoff(): number {
    const { mail_backoff_ms_min: backoff_ms_min, mail_backoff_ms_max: backoff_ms_max } = this.#limits;
    const pause = backoffMs(this.#attempts, { backoff_ms_min, backoff_ms_max }, () => this.#random());
    this.#attempts += 1;
    return pause;
  }

  #random(): number {
    return (this.#options.random ?? Math.random)();
  }

  #tellRefused({ address, reply }: Refusal): void {
    if (this.#told.get(address) === reply) return;
    this.#told.set(address, reply);
    this.#tell({ code: 'mail_recipient_refused', message: `${this.#link.place}: ${address} is refused: ${reply}` });
  }

  #tell(fault: Fault): void {
    this.#options.report?.(fault);
  }

  async #end(): Promise<void> {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
    if (this.#busy)
      await within(LIMITS.mail_farewell_ms_max, (done) => {
        this.#idle = done;
      });
    this.#stop.abort();
    this.#link.close();
    this.#enter('stopped', null);
  }
}
