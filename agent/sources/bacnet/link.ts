/**
 * One device as one source sees it: found when it is first needed, asked one thing at a time, left alone for a growing
 * pause after a failure and then found anew, since it may have moved.
 */
import type { Clock } from '../../base/clock.ts';
import type { ErrorCode } from '../../base/errors.ts';
import { type BacnetSource, endpointOf } from '../../site/buses/bacnet.ts';
import { Backoff, type Trouble } from '../backoff.ts';
import type { Timers } from '../timers.ts';
import { type Abilities, abilitiesOf, find, type Whereabouts } from './find.ts';
import { errorText } from './names.ts';
import { addressKey, type DeviceAddress } from './network.ts';
import type { Outcome } from './peer.ts';
import type { BacnetPort } from './port.ts';
import { type Question, readOne } from './questions.ts';
import { DEVICE_OBJECT, PROPERTY } from './services.ts';

export type LinkOutcome<T> =
  | Exclude<Outcome<T>, { kind: 'failed' }>
  /** Nothing was sent where `attempted` is false: the device still rests. */
  | ({ readonly kind: 'failed'; readonly attempted: boolean } & Trouble);

export interface LinkMeans {
  readonly settings: Whereabouts & Pick<BacnetSource, 'device'>;
  /** Where the device is, if that is known already: it is not searched for then. */
  readonly known?: BoundDevice;
  readonly port: BacnetPort;
  readonly clock: Clock;
  readonly timers: Timers;
  readonly random: () => number;
  /** Every change for better or worse: null where the device answered. */
  readonly heard: (trouble: Trouble | null) => void;
  /** The device answers I-Am for its instance from another address too, while it is read at the first. */
  readonly rival: (address: string) => void;
}

export interface BoundDevice extends Abilities {
  readonly address: DeviceAddress;
}

type Fault = { readonly code: ErrorCode; readonly reason: string };

const CODE_OF = {
  silent: 'controller_silent',
  malformed: 'controller_malformed',
  unreachable: 'controller_unreachable',
} as const satisfies Record<string, ErrorCode>;

/** What is assumed of a device at a fixed address that does not say its largest APDU: that of a serial network. */
const APDU_UNSAID = 480;
const NO_SEGMENTS = 3;
/** Error codes by which a device says that an object is not there. */
const UNKNOWN_OBJECT = new Set([31, 70]);

export class DeviceLink {
  readonly #means: LinkMeans;
  readonly #backoff: Backoff;
  #bound: BoundDevice | null = null;
  #tail: Promise<unknown> = Promise.resolve();
  #stop = new AbortController();
  #deaf: (() => void) | null = null;
  readonly counters = { requests: 0, replies: 0, refusals: 0, timeouts: 0, anomalies: 0, searches: 0 };

  constructor(means: LinkMeans) {
    this.#means = means;
    this.#backoff = new Backoff(means.random);
  }

  /** The device, where it was found and has not failed since. */
  get bound(): BoundDevice | null {
    return this.#bound;
  }

  async start(): Promise<void> {
    this.#stop = new AbortController();
    await this.#means.port.attach(this);
    const { port, settings, rival } = this.#means;
    this.#deaf?.();
    this.#deaf = port.onIAm(({ instance }, from) => {
      const known = this.#bound?.address;
      if (instance === settings.device && known !== undefined && addressKey(known) !== addressKey(from))
        rival(addressKey(from));
    });
  }

  /** Settles whatever waits, at once, as stopped. */
  async stop(): Promise<void> {
    this.#stop.abort();
    this.#deaf?.();
    this.#deaf = null;
    this.#bound = null;
    await this.#means.port.release(this);
  }

  /** Asks when everything asked before is settled. Never rejects. */
  ask<T>(make: (device: BoundDevice) => Question<T>): Promise<LinkOutcome<T>> {
    const turn = this.#tail.then(() => this.#ask(make));
    this.#tail = turn;
    return turn;
  }

  async #ask<T>(make: (device: BoundDevice) => Question<T>): Promise<LinkOutcome<T>> {
    if (this.#stop.signal.aborted) return { kind: 'stopped' };
    const resting = this.#backoff.waiting(this.#means.clock.monotonic());
    if (resting !== null) return { kind: 'failed', attempted: false, ...resting };
    const device = this.#bound ?? (await this.#bind());
    if (this.#stop.signal.aborted) return { kind: 'stopped' };
    if ('reason' in device) return this.#failed(device);
    this.#bound = device;
    const outcome = await this.#exchange(device.address, make(device));
    if (this.#stop.signal.aborted) return { kind: 'stopped' };
    if (outcome.kind === 'failed') return this.#failed({ code: CODE_OF[outcome.cause], reason: outcome.reason });
    this.#backoff.succeeded();
    this.#means.heard(null);
    return outcome;
  }

  #failed({ code, reason }: Fault): LinkOutcome<never> {
    this.#bound = null;
    const trouble = this.#backoff.failed(this.#means.clock.monotonic(), code, reason);
    this.#means.heard(trouble);
    return { kind: 'failed', attempted: true, ...trouble };
  }

  async #exchange<T>(address: DeviceAddress, question: Question<T>): Promise<Outcome<T>> {
    const { port, settings } = this.#means;
    const { counters } = this;
    const asked = (): void => {
      counters.requests += 1;
    };
    const outcome = await port.exchange(address, { owner: this, timeoutMs: settings.timeout_ms, asked, ...question });
    if (outcome.kind === 'reply') counters.replies += 1;
    else if (outcome.kind === 'failed') counters[outcome.cause === 'malformed' ? 'anomalies' : 'timeouts'] += 1;
    else if (outcome.kind !== 'stopped') counters.refusals += 1;
    return outcome;
  }

  async #bind(): Promise<BoundDevice | Fault> {
    const { settings, known } = this.#means;
    if (known !== undefined) return known;
    this.counters.searches += 1;
    const { address, network } = settings;
    return address !== undefined && network === undefined ? this.#atFixed(endpointOf(address)) : this.#search();
  }

  /** Asks the device at the given address whether it is the one, and how much it takes. */
  async #atFixed(endpoint: { host: string; port: number }): Promise<BoundDevice | Fault> {
    const { device } = this.#means.settings;
    const address: DeviceAddress = { ...endpoint, network: null, mac: new Uint8Array(0) };
    const said: number[] = [];
    for (const property of [PROPERTY.maxApduLengthAccepted, PROPERTY.segmentationSupported]) {
      const object = { type: DEVICE_OBJECT, instance: device };
      const outcome = await this.#exchange(address, readOne({ object, property }));
      if (outcome.kind === 'failed') return { code: CODE_OF[outcome.cause], reason: outcome.reason };
      if (outcome.kind === 'stopped') return { code: 'controller_silent', reason: 'stopped' };
      if (outcome.kind === 'error' && UNKNOWN_OBJECT.has(outcome.code)) {
        const error = errorText(outcome.errorClass, outcome.code);
        return { code: 'bacnet_other_device', reason: `${addressKey(address)} is not device ${device}: ${error}` };
      }
      const [value] = outcome.kind === 'reply' ? outcome.value : [];
      const number =
        value !== undefined && (value.type === 'unsigned' || value.type === 'enumerated') ? value.value : null;
      said.push(number ?? (property === PROPERTY.maxApduLengthAccepted ? APDU_UNSAID : NO_SEGMENTS));
    }
    return { address, ...abilitiesOf(said[0] ?? APDU_UNSAID, said[1] ?? NO_SEGMENTS) };
  }

  async #search(): Promise<BoundDevice | Fault> {
    const { settings, port, timers } = this.#means;
    const { device: instance } = settings;
    const { signal } = this.#stop;
    const found = await find({ port, where: settings, low: instance, high: instance, timers, signal });
    if (!found.ok) {
      const code = settings.foreign === undefined ? 'controller_unreachable' : 'bacnet_foreign';
      return { code, reason: found.fault };
    }
    const router = settings.address === undefined ? null : endpointOf(settings.address);
    const there = found.value.filter(
      ({ address }) => router === null || (address.host === router.host && address.port === router.port),
    );
    const [device, other] = there;
    if (device === undefined) {
      const reason = `device ${instance} does not answer Who-Is within ${settings.timeout_ms} ms`;
      return { code: 'bacnet_not_found', reason };
    }
    if (other !== undefined) {
      const places = there.map(({ address }) => addressKey(address)).join(' and ');
      return { code: 'bacnet_instance_twice', reason: `device ${instance} answers from ${places}` };
    }
    return device;
  }
}
