/**
 * What the next mail says, of all that waits. A few alarms get a mail each, with everything a person wants to know;
 * many, or more than the rate allows, get one digest together. Pure.
 */
import type { QueuedMessage } from '../base/delivery.ts';
import { LIMITS } from '../base/limits.ts';
import { type AlarmNotice, priorityOf } from '../callout/notice.ts';

/** Notices of a chiller that were given up before they could be mailed. */
export interface MailGap {
  readonly chiller: string;
  readonly priority: 1 | 2 | 3;
  readonly from_sequence: number;
  readonly to_sequence: number;
  readonly count: number;
}

/** One message of the outbox, read. */
export interface MailItem {
  readonly id: number;
  readonly priority: 1 | 2 | 3;
  readonly content: { readonly notice: AlarmNotice } | { readonly gap: MailGap };
}

export interface MailPlan {
  readonly kind: 'alarm' | 'digest';
  readonly items: readonly MailItem[];
  readonly recipients: readonly string[];
}

/** Null where it is neither a notice nor a gap record. */
export function readItem({ id, address, chiller, payload }: QueuedMessage): MailItem | null {
  let read: unknown;
  try {
    read = JSON.parse(payload);
  } catch {
    return null;
  }
  if (typeof read !== 'object' || read === null) return null;
  const priority = priorityOf(address);
  const { gap } = read as { gap?: Omit<MailGap, 'chiller' | 'priority'> };
  if (gap !== undefined) return { id, priority, content: { gap: { chiller, priority, ...gap } } };
  const notice = read as Partial<AlarmNotice>;
  if (typeof notice.id !== 'string' || typeof notice.sequence !== 'number' || typeof notice.title !== 'string')
    return null;
  return { id, priority, content: { notice: notice as AlarmNotice } };
}

export interface PlanOptions {
  /** Who gets mail about a priority. */
  readonly recipients: (priority: 1 | 2 | 3) => readonly string[];
  /** Mails that the rate allows now, and when it is full: the last one is left for priority 1. */
  readonly tokens: number;
  readonly tokens_max: number;
}

/**
 * The next mail, or null where the rate says wait. `items` in the order of their commit, all with recipients. The most
 * urgent is told first; with it goes what the same people get.
 */
export function nextMail(items: readonly MailItem[], options: PlanOptions): MailPlan | null {
  const first = items.reduce<MailItem | null>(
    (most, item) => (most === null || item.priority < most.priority ? item : most),
    null,
  );
  if (first === null) return null;
  const reserve = first.priority === 1 || options.tokens_max < 2 ? 0 : 1;
  const tokens = Math.floor(options.tokens) - reserve;
  if (tokens < 1) return null;
  const recipients = options.recipients(first.priority);
  const key = recipients.join();
  const group = items.filter((item) => options.recipients(item.priority).join() === key);
  const single = 'notice' in first.content && group.length <= Math.min(LIMITS.mail_single_max, Math.max(1, tokens));
  return single
    ? { kind: 'alarm', items: [first], recipients }
    : { kind: 'digest', items: group.slice(0, LIMITS.mail_alarms_per_mail_max), recipients };
}

/**
 * Name of a mail by what it tells: the same alarm in the same minute is the same mail, also after the agent died
 * between sending and settling it.
 */
export function mailName({ kind, items }: MailPlan): string {
  const [first, last] = [items[0], items.at(-1)] as [MailItem, MailItem];
  return kind === 'alarm' ? itemName(first) : `digest.${items.length}.${itemName(first)}.${itemName(last)}`;
}

function itemName({ content }: MailItem): string {
  if ('gap' in content) return `gap.${content.gap.from_sequence}-${content.gap.to_sequence}.${content.gap.chiller}`;
  const { id, sequence, change, chiller } = content.notice;
  return `${id}.${sequence}.${change}.${chiller}`;
}
