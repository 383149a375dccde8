/**
 * Reads properties in as few requests as the device bears, and remembers what it does not: fewer objects where a reply
 * is too long, one by one where it knows no ReadPropertyMultiple, apart what upsets the others of a request.
 */
import { LIMITS } from '../../base/limits.ts';
import type { Abilities } from './find.ts';
import type { BoundDevice, DeviceLink, LinkOutcome } from './link.ts';
import { abortText, errorText, rejectText } from './names.ts';
import { type ObjectAsk, readMany, readOne } from './questions.ts';
import { PROPERTY, type PropertyAnswer } from './services.ts';
import type { BacnetValue } from './values.ts';

export type Answer =
  | { readonly ok: true; readonly values: readonly BacnetValue[] }
  | { readonly ok: false; readonly reason: string; readonly unknownProperty: boolean };

export type Interruption = Extract<LinkOutcome<unknown>, { kind: 'failed' | 'stopped' }>;
type Refusal = Extract<LinkOutcome<unknown>, { kind: 'error' | 'reject' | 'abort' }>;

const UNKNOWN_PROPERTY = 32;
/** Reject reason unrecognized-service; and the same given as an error, as some devices do. */
const UNRECOGNIZED_SERVICE = 9;
const ERROR_UNRECOGNIZED_SERVICE = 67;
/** buffer-overflow, segmentation-not-supported, out-of-resources, apdu-too-long. */
const ABORTS_OF_SIZE = new Set([1, 4, 9, 11]);
/** buffer-overflow, too-many-arguments. */
const REJECTS_OF_SIZE = new Set([1, 7]);
/** abort-buffer-overflow, abort-segmentation-not-supported, given as errors. */
const ERRORS_OF_SIZE = new Set([51, 54]);
/** Properties that an object may lack for good: not asked again one by one. */
const OPTIONAL: ReadonlySet<number> = new Set([
  PROPERTY.statusFlags,
  PROPERTY.reliability,
  PROPERTY.units,
  PROPERTY.description,
]);

export function refusalText(refusal: Refusal): string {
  if (refusal.kind === 'error') return errorText(refusal.errorClass, refusal.code);
  return refusal.kind === 'reject' ? rejectText(refusal.reason) : abortText(refusal.reason);
}

function concernsSize(refusal: Refusal): boolean {
  if (refusal.kind === 'abort') return ABORTS_OF_SIZE.has(refusal.reason);
  return refusal.kind === 'reject' ? REJECTS_OF_SIZE.has(refusal.reason) : ERRORS_OF_SIZE.has(refusal.code);
}

function answerOf(said: PropertyAnswer): Answer {
  if (said.ok) return said;
  return { ok: false, reason: errorText(said.errorClass, said.code), unknownProperty: said.code === UNKNOWN_PROPERTY };
}

export class PropertyReader {
  readonly #link: DeviceLink;
  readonly #monotonic: () => number;
  readonly #objectsMax: number;
  /** Bytes that one object's answers take. */
  readonly #bytes: number;
  #learnedMax = Number.POSITIVE_INFINITY;
  #multiple = true;
  readonly #apart = new Set<string>();
  readonly #lacking = new Map<string, Answer>();
  #learnedAt: number | null = null;

  constructor(options: { link: DeviceLink; monotonic: () => number; objectsMax: number; bytesPerObject: number }) {
    this.#link = options.link;
    this.#monotonic = options.monotonic;
    this.#objectsMax = options.objectsMax;
    this.#bytes = options.bytesPerObject;
  }

  /** Hands over the answers object by object as they come. Null, or what ended the reading before the last. */
  async read<T extends ObjectAsk>(
    asks: readonly T[],
    got: (ask: T, answers: readonly Answer[]) => void,
  ): Promise<Interruption | null> {
    this.#relearn();
    const rest = asks.filter((ask) => this.#multiple && !this.#apart.has(keyOf(ask)));
    const single = asks.filter((ask) => !rest.includes(ask));
    let most = Number.POSITIVE_INFINITY;
    while (rest.length > 0) {
      let block: readonly T[] = [];
      const outcome = await this.#link.ask((device) => {
        block = rest.slice(0, Math.min(most, this.#fitting(device)));
        return readMany(block);
      });
      if (outcome.kind === 'failed' || outcome.kind === 'stopped') return outcome;
      if (outcome.kind === 'reply') {
        for (const [i, ask] of block.entries()) got(ask, (outcome.value[i] ?? []).map(answerOf));
        rest.splice(0, block.length);
      } else if (this.#refusedService(outcome)) {
        single.push(...rest.splice(0));
      } else if (block.length > 1) {
        most = Math.floor(block.length / 2);
        if (concernsSize(outcome)) this.#learn(() => this.#learnMax(most));
      } else {
        // what spoils every request it is part of is asked for by itself from now on
        const spoiler = rest.shift() as T;
        this.#learn(() => this.#apart.add(keyOf(spoiler)));
        single.push(spoiler);
        most = Number.POSITIVE_INFINITY;
      }
    }
    // smaller requests were all answered and no object was to blame: they are the ones to send
    if (Number.isFinite(most)) this.#learn(() => this.#learnMax(most));
    return this.#oneByOne(single, got);
  }

  async #oneByOne<T extends ObjectAsk>(
    asks: readonly T[],
    got: (ask: T, answers: readonly Answer[]) => void,
  ): Promise<Interruption | null> {
    for (const ask of asks) {
      const answers: Answer[] = [];
      for (const property of ask.properties) {
        const answer = await this.#one(ask, property);
        if ('kind' in answer) return answer;
        answers.push(answer);
      }
      got(ask, answers);
    }
    return null;
  }

  async #one({ object }: ObjectAsk, property: number): Promise<Answer | Interruption> {
    const key = `${object.type} ${object.instance} ${property}`;
    const lacking = this.#lacking.get(key);
    if (lacking !== undefined) return lacking;
    const outcome = await this.#link.ask(() => readOne({ object, property }));
    if (outcome.kind === 'failed' || outcome.kind === 'stopped') return outcome;
    if (outcome.kind === 'reply') return { ok: true, values: outcome.value };
    const unknownProperty = outcome.kind === 'error' && outcome.code === UNKNOWN_PROPERTY;
    const answer: Answer = { ok: false, reason: refusalText(outcome), unknownProperty };
    if (unknownProperty && OPTIONAL.has(property)) this.#learn(() => this.#lacking.set(key, answer));
    return answer;
  }

  #refusedService(refusal: Refusal): boolean {
    const asReject = refusal.kind === 'reject' && refusal.reason === UNRECOGNIZED_SERVICE;
    const asError = refusal.kind === 'error' && refusal.code === ERROR_UNRECOGNIZED_SERVICE;
    if (!asReject && !asError) return false;
    this.#learn(() => {
      this.#multiple = false;
    });
    return true;
  }

  #learn(lesson: () => void): void {
    lesson();
    this.#learnedAt ??= this.#monotonic();
  }

  #learnMax(most: number): void {
    this.#learnedMax = Math.min(this.#learnedMax, Math.max(1, most));
  }

  /** Forgets now and then what the device could not do: it may have been replaced or set up anew. */
  #relearn(): void {
    if (this.#learnedAt === null || this.#monotonic() - this.#learnedAt < 1000 * LIMITS.bacnet_rejoin_s) return;
    this.#learnedAt = null;
    this.#learnedMax = Number.POSITIVE_INFINITY;
    this.#multiple = true;
    this.#apart.clear();
    this.#lacking.clear();
  }

  #fitting(device: BoundDevice): number {
    return Math.max(1, Math.min(this.#objectsMax, this.#learnedMax, objectsFitting(device, this.#bytes)));
  }
}

/** Bytes of an object and three properties in a request, and of a request's and a reply's head. */
const REQUEST_BYTES_PER_OBJECT = 5 + 2 + 3 * 3;
const HEAD_BYTES = 5;

/** Objects whose question fits one APDU, and whose answer does where the device sends no segments. */
export function objectsFitting({ maxApdu, segmentation }: Abilities, bytesPerObject: number): number {
  const segments = segmentation === 'both' || segmentation === 'transmit';
  return Math.floor((maxApdu - HEAD_BYTES) / (segments ? REQUEST_BYTES_PER_OBJECT : bytesPerObject));
}

function keyOf({ object, properties }: ObjectAsk): string {
  return `${object.type} ${object.instance} ${properties.join(' ')}`;
}
