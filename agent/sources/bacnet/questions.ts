/** Questions to a device, each with the reading of its answer that compares it with what was asked. */
import { CONFIRMED } from './apdu.ts';
import { fail, ok, type Result } from './decoded.ts';
import type { Ask } from './peer.ts';
import {
  type PropertyAnswer,
  type PropertyReference,
  type PropertyResult,
  readReadPropertyAck,
  readReadPropertyMultipleAck,
  writeReadProperty,
  writeReadPropertyMultiple,
  writeSubscribeCov,
} from './services.ts';
import type { BacnetValue, ObjectId } from './values.ts';

export type Question<T> = Pick<Ask<T>, 'service' | 'payload' | 'accept'>;

/** An object, and the properties of it that are wanted. */
export interface ObjectAsk {
  readonly object: ObjectId;
  readonly properties: readonly number[];
}

function same(one: PropertyReference, other: PropertyReference): boolean {
  return (
    one.object.type === other.object.type &&
    one.object.instance === other.object.instance &&
    one.property === other.property &&
    one.index === other.index
  );
}

export function readOne(reference: PropertyReference): Question<readonly BacnetValue[]> {
  return {
    service: CONFIRMED.readProperty,
    payload: writeReadProperty(reference),
    accept(payload) {
      if (payload === null) return fail('an acknowledgement without content');
      const read = readReadPropertyAck(payload);
      if (!read.ok) return read;
      if (!same(read.value, reference)) return fail('of another object or property');
      return read.value.answer.ok ? ok(read.value.answer.values) : fail('an error in place of a value');
    },
  };
}

/** Answers in the order of the asks and their properties; nothing missing, nothing else. */
export function readMany(asks: readonly ObjectAsk[]): Question<readonly (readonly PropertyAnswer[])[]> {
  return {
    service: CONFIRMED.readPropertyMultiple,
    payload: writeReadPropertyMultiple(asks),
    accept(payload) {
      if (payload === null) return fail('an acknowledgement without content');
      const read = readReadPropertyMultipleAck(payload);
      return read.ok ? ordered(asks, read.value) : read;
    },
  };
}

/** The standard demands the order of the question, so place and name must both agree. */
function ordered(
  asks: readonly ObjectAsk[],
  results: readonly PropertyResult[],
): Result<readonly (readonly PropertyAnswer[])[]> {
  let at = 0;
  const answers: PropertyAnswer[][] = [];
  for (const { object, properties } of asks) {
    const held: PropertyAnswer[] = [];
    for (const property of properties) {
      const result = results[at];
      at += 1;
      if (result === undefined) return fail('fewer properties than asked for');
      if (!same(result, { object, property })) return fail('of another object or property');
      held.push(result.answer);
    }
    answers.push(held);
  }
  return at === results.length ? ok(answers) : fail('more properties than asked for');
}

export function subscribe(options: { process: number; object: ObjectId; lifetimeS: number }): Question<null> {
  return {
    service: CONFIRMED.subscribeCov,
    payload: writeSubscribeCov(options),
    accept: (payload) => (payload === null ? ok(null) : fail('content where there is none')),
  };
}
