/**
 * Mails that some recipients' servers asked to bring later (greylisting, a full box): each is tried again for them
 * alone, while others go on. Bounded in number and in time.
 */
import { LIMITS } from '../base/limits.ts';
import type { MailPlan } from './mail-batch.ts';
import type { Refusal } from './mail-replies.ts';
import { backoffMs } from './waiting.ts';

export interface Held {
  readonly plan: MailPlan;
  readonly remaining: readonly string[];
  /** ms since the epoch. */
  readonly first: number;
  readonly due: number;
  readonly tries: number;
  /** Whether somebody has it already. */
  readonly reached: boolean;
}

export interface DeferralLimits {
  readonly mail_backoff_ms_min: number;
  readonly mail_backoff_ms_max: number;
  readonly mail_deferred_ms_max: number;
}

export class Deferrals {
  readonly #limits: DeferralLimits;
  /** By the id of the mail's first message. */
  readonly #held = new Map<number, Held>();

  constructor(limits: DeferralLimits) {
    this.#limits = limits;
  }

  /** Ids of the messages that are held. */
  ids(): ReadonlySet<number> {
    return new Set([...this.#held.values()].flatMap(({ plan }) => plan.items.map(({ id }) => id)));
  }

  /** One whose time has come. It stays until it is held anew or forgotten. */
  due(now: number): Held | null {
    return [...this.#held.values()].find(({ due }) => due <= now) ?? null;
  }

  /** Time until the next one is due, ms; null where there is none. */
  next(now: number): number | null {
    const dues = [...this.#held.values()].map(({ due }) => due);
    return dues.length === 0 ? null : Math.max(1, Math.min(...dues) - now);
  }

  /**
   * After a try: whether the mail waits for `deferred`, and whether anybody has it in all. Does not wait where nobody
   * was deferred, where it has waited too long, or where too many wait.
   */
  hold(
    plan: MailPlan,
    {
      accepted,
      deferred,
      now,
      random,
    }: {
      readonly accepted: boolean;
      readonly deferred: readonly Refusal[];
      readonly now: number;
      readonly random: number;
    },
  ): { readonly waits: boolean; readonly reached: boolean } {
    const key = keyOf(plan);
    const before = this.#held.get(key);
    const reached = accepted || (before?.reached ?? false);
    const first = before?.first ?? now;
    const tries = before?.tries ?? 0;
    this.#held.delete(key);
    const full = this.#held.size >= LIMITS.mail_deferred_max;
    const {
      mail_deferred_ms_max,
      mail_backoff_ms_min: backoff_ms_min,
      mail_backoff_ms_max: backoff_ms_max,
    } = this.#limits;
    if (deferred.length === 0 || full || now - first > mail_deferred_ms_max) return { waits: false, reached };
    const pause = backoffMs(tries, { backoff_ms_min, backoff_ms_max }, () => random);
    const remaining = deferred.map(({ address }) => address);
    this.#held.set(key, { plan, remaining, first, due: now + pause, tries: tries + 1, reached });
    return { waits: true, reached };
  }

  /** No longer held; answers whether anybody has it. */
  forget(plan: MailPlan): boolean {
    const reached = this.#held.get(keyOf(plan))?.reached ?? false;
    this.#held.delete(keyOf(plan));
    return reached;
  }
}

function keyOf({ items }: MailPlan): number {
  return items[0]?.id ?? -1;
}
