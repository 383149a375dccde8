/**
 * Reports of changes for the points that ask for them: subscribed, renewed before their lifetime ends, cancelled at the
 * end. A point whose subscription does not hold is polled as any other.
 */
import type { Clock } from '../../base/clock.ts';
import { LIMITS } from '../../base/limits.ts';
import { CONFIRMED } from './apdu.ts';
import type { DeviceLink } from './link.ts';
import { addressKey } from './network.ts';
import type { BacnetPort } from './port.ts';
import { subscribe } from './questions.ts';
import { type Answer, refusalText } from './reader.ts';
import { askOf, type MappedPoint, type PointAsk, type Reading, readingOf } from './samples.ts';
import { type CovNotification, PROPERTY, writeSubscribeCov } from './services.ts';

interface Subscription {
  readonly ask: PointAsk;
  /** Monotonic ms until which the device reports; null where it does not. */
  until: number | null;
  /** Monotonic ms at which to subscribe or renew. */
  next: number;
}

export interface SubscriptionMeans {
  readonly points: readonly MappedPoint[];
  readonly device: number;
  readonly link: DeviceLink;
  readonly port: BacnetPort;
  readonly clock: Clock;
  readonly random: () => number;
  readonly record: (point: MappedPoint, reading: Reading) => void;
  /** A point the device does not report, for the first time since it did. */
  readonly refused: (point: MappedPoint, reason: string) => void;
}

const PROCESS_MAX = 4_194_303;

export class Subscriptions {
  readonly #means: SubscriptionMeans;
  readonly #process: number;
  readonly #subscriptions: readonly Subscription[];
  readonly #refused = new Set<MappedPoint>();
  #deaf: (() => void) | null = null;
  reports = 0;

  constructor(means: SubscriptionMeans) {
    this.#means = means;
    // a number of its own at each start: reports of a subscription of before are not taken for this one's
    this.#process = 1 + Math.floor(means.random() * PROCESS_MAX);
    this.#subscriptions = means.points.map((point) => ({ ask: askOf(point), until: null, next: 0 }));
  }

  start(): void {
    this.#deaf?.();
    this.#deaf = this.#means.port.onReport((report, from, repeated) => {
      const { link, device } = this.#means;
      const known = link.bound?.address;
      if (known === undefined || addressKey(known) !== addressKey(from)) return false;
      if (report.process !== this.#process || report.device.instance !== device) return false;
      return this.#take(report, repeated);
    });
  }

  /** Whether the device reports the point at present. */
  holds(point: MappedPoint): boolean {
    const now = this.#means.clock.monotonic();
    return this.#subscriptions.some(({ ask, until }) => ask.point === point && until !== null && until > now);
  }

  /** Subscribes and renews what is due. */
  async pass(): Promise<null> {
    const { link, clock } = this.#means;
    for (const subscription of this.#subscriptions) {
      if (subscription.next > clock.monotonic()) continue;
      const { object, point } = subscription.ask;
      const lifetimeS = LIMITS.bacnet_cov_lifetime_s;
      const outcome = await link.ask(() => subscribe({ process: this.#process, object, lifetimeS }));
      if (outcome.kind === 'failed' || outcome.kind === 'stopped') return null;
      const now = clock.monotonic();
      if (outcome.kind === 'reply') {
        subscription.until = now + 1000 * lifetimeS;
        subscription.next = now + 500 * lifetimeS;
        this.#refused.delete(point);
        continue;
      }
      subscription.next = now + 1000 * LIMITS.bacnet_cov_retry_s;
      if (!this.#refused.has(point)) this.#means.refused(point, refusalText(outcome));
      this.#refused.add(point);
    }
    return null;
  }

  /** The device is gone, and its memory of subscriptions perhaps with it. */
  lost(): void {
    for (const subscription of this.#subscriptions) {
      subscription.until = null;
      subscription.next = 0;
    }
  }

  /** Cancels without waiting for an answer: what gets lost ends with its lifetime. */
  async stop(): Promise<void> {
    this.#deaf?.();
    this.#deaf = null;
    const { link, port } = this.#means;
    const address = link.bound?.address;
    const held = this.#subscriptions.filter(({ until }) => until !== null);
    this.lost();
    if (address === undefined) return;
    const cancel = (ask: PointAsk): Promise<void> =>
      port.tell(address, CONFIRMED.subscribeCov, writeSubscribeCov({ process: this.#process, object: ask.object }));
    await Promise.all(held.map(({ ask }) => cancel(ask)));
  }

  #take(report: CovNotification, repeated: boolean): boolean {
    const { object } = report;
    const matching = this.#subscriptions.filter(
      ({ ask }) => ask.object.type === object.type && ask.object.instance === object.instance,
    );
    const answer = (property: number): Answer | undefined => {
      const held = report.values.find((value) => value.property === property);
      return held === undefined ? undefined : { ok: true, values: held.values };
    };
    const own = answer(PROPERTY.presentValue);
    if (!repeated && own !== undefined) {
      const reading = readingOf([own, answer(PROPERTY.statusFlags), answer(PROPERTY.reliability)]);
      for (const { ask } of matching) this.#means.record(ask.point, reading);
      this.reports += matching.length;
    }
    return matching.length > 0;
  }
}
