/**
 * Answers the services that read: ASHRAE 135 clauses 15 and 16, from memory. Pure: a request in, bytes of a reply out.
 */
import { ANY_INSTANCE, type BacnetError, CONFIRMED, DEVICE, ERROR, PROPERTY, REJECT } from './codes.ts';
import { type ObjectTable, type ShownObject, writeProperty } from './objects.ts';
import type { ObjectId, Reader } from './reader.ts';
import { Writer } from './writer.ts';

/** Body of a complex reply; 'done' for a simple one; an error; or the reason of a rejection. */
export type Answer =
  | { readonly body: Buffer }
  | { readonly done: true }
  | { readonly error: BacnetError }
  | { readonly reject: number };

/** Services that would change something: refused by name, so that a client sees why. */
const WRITING: ReadonlySet<number> = new Set([CONFIRMED.writeProperty, CONFIRMED.writePropertyMultiple]);

export function answerRead(table: ObjectTable, service: number, request: Reader): Answer {
  if (service === CONFIRMED.readProperty) return readProperty(table, request);
  if (service === CONFIRMED.readPropertyMultiple) return readMultiple(table, request);
  if (WRITING.has(service)) return { error: ERROR.writeDenied };
  return { reject: REJECT.unrecognizedService };
}

export function findObject(table: ObjectTable, { type, instance }: ObjectId): ShownObject | undefined {
  const own = type === DEVICE && instance === ANY_INSTANCE;
  return table.find(type, own ? table.device.instance : instance);
}

function readProperty(table: ObjectTable, request: Reader): Answer {
  const id = request.object(0);
  const property = request.unsigned(1);
  const index = request.has(2) ? request.unsigned(2) : null;
  const object = findObject(table, id);
  if (object === undefined) return { error: ERROR.unknownObject };
  const out = new Writer().contextObject(0, object.type, object.instance).contextUnsigned(1, property);
  if (index !== null) out.contextUnsigned(2, index);
  out.open(3);
  const error = writeProperty(object, property, index, out);
  if (error !== null) return { error };
  return { body: out.close(3).finish() };
}

function readMultiple(table: ObjectTable, request: Reader): Answer {
  const out = new Writer();
  do {
    const id = request.object(0);
    const object = findObject(table, id);
    out.contextObject(0, id.type, object?.instance ?? id.instance).open(1);
    request.open(1);
    while (!request.isClose(1)) {
      const property = request.unsigned(0);
      const index = request.has(1) ? request.unsigned(1) : null;
      for (const each of expand(object, property)) writeResult(object, each, index, out);
    }
    request.close(1);
    out.close(1);
  } while (!request.done);
  return { body: out.finish() };
}

/** The properties that ALL, REQUIRED and OPTIONAL stand for. */
function expand(object: ShownObject | undefined, property: number): readonly number[] {
  if (object === undefined) return [property];
  if (property === PROPERTY.all) return [...object.properties.keys()];
  if (property === PROPERTY.required) return object.required;
  if (property === PROPERTY.optional)
    return [...object.properties.keys()].filter((id) => !object.required.includes(id));
  return [property];
}

function writeResult(object: ShownObject | undefined, property: number, index: number | null, out: Writer): void {
  out.contextUnsigned(2, property);
  if (index !== null) out.contextUnsigned(3, index);
  const value = new Writer();
  const error = object === undefined ? ERROR.unknownObject : writeProperty(object, property, index, value);
  if (error === null) out.open(4).raw(value.finish()).close(4);
  else out.open(5).enumerated(error[0]).enumerated(error[1]).close(5);
}
