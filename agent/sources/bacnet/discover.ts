/** What a scan of a site asks: which devices there are, and what objects one of them holds. */
import type { Clock } from '../../base/clock.ts';
import { LIMITS } from '../../base/limits.ts';
import { BACNET_INSTANCE_MAX } from '../../site/buses/bacnet.ts';
import type { Timers } from '../timers.ts';
import { fail, ok, type Result } from './decoded.ts';
import { type FoundDevice, find, type Whereabouts } from './find.ts';
import { DeviceLink } from './link.ts';
import { objectText, UNITS } from './names.ts';
import type { BacnetPort } from './port.ts';
import { type ObjectAsk, readOne } from './questions.ts';
import { type Answer, PropertyReader, refusalText } from './reader.ts';
import { DEVICE_OBJECT, PROPERTY } from './services.ts';
import type { BacnetValue, ObjectId } from './values.ts';

export interface FoundObject {
  readonly object: ObjectId;
  /** Kind and instance in the standard's words, such as analog-input:3. */
  readonly address: string;
  readonly name: string | null;
  readonly description: string | null;
  /** The standard's name of the engineering units, or their number; null where the object has none. */
  readonly units: string | null;
}

/**
 * Devices of a range of instances that answer Who-Is within `where.timeout_ms`, by instance. One that answers from two
 * addresses is there twice. The port must be attached by `owner`.
 */
export async function findDevices(options: {
  port: BacnetPort;
  where: Whereabouts;
  low?: number;
  high?: number;
  timers: Timers;
  signal: AbortSignal;
}): Promise<Result<FoundDevice[]>> {
  const { low = 0, high = BACNET_INSTANCE_MAX, ...rest } = options;
  const found = await find({ low, high, ...rest });
  return found.ok ? ok(found.value.sort((one, other) => one.instance - other.instance)) : found;
}

/** Bytes that names, descriptions and units of one object mostly take in a reply. */
const BYTES_PER_OBJECT = 160;
const OBJECTS_PER_REQUEST = 20;

/** The objects of a device that was found, with what they are called; a fault says why they cannot be listed. */
export async function listObjects(options: {
  port: BacnetPort;
  device: FoundDevice;
  timeoutMs: number;
  clock: Clock;
  timers: Timers;
  random: () => number;
}): Promise<Result<FoundObject[]>> {
  const { port, device, timeoutMs, clock, timers, random } = options;
  const settings = { device: device.instance, timeout_ms: timeoutMs };
  const nothing = (): void => {};
  const link = new DeviceLink({
    ...{ settings, known: device, port, clock, timers, random },
    heard: nothing,
    rival: nothing,
  });
  try {
    await link.start();
    const objects = await objectList(link, device.instance);
    if (!objects.ok) return objects;
    const monotonic = (): number => clock.monotonic();
    const bounds = { objectsMax: OBJECTS_PER_REQUEST, bytesPerObject: BYTES_PER_OBJECT };
    const reader = new PropertyReader({ link, monotonic, ...bounds });
    const properties = [PROPERTY.objectName, PROPERTY.description, PROPERTY.units];
    const found: FoundObject[] = [];
    const asks: ObjectAsk[] = objects.value.map((object) => ({ object, properties }));
    const end = await reader.read(asks, ({ object }, answers) => found.push(objectOf(object, answers)));
    if (end !== null) return fail(end.kind === 'failed' ? end.reason : 'stopped');
    return ok(found.sort(({ object: a }, { object: b }) => a.type - b.type || a.instance - b.instance));
  } finally {
    await link.stop();
  }
}

/** Whole where the device can send it so, else element by element. */
async function objectList(link: DeviceLink, instance: number): Promise<Result<ObjectId[]>> {
  const list = { object: { type: DEVICE_OBJECT, instance }, property: PROPERTY.objectList };
  const whole = await link.ask(() => readOne(list));
  if (whole.kind === 'failed') return fail(whole.reason);
  if (whole.kind === 'stopped') return fail('stopped');
  if (whole.kind === 'reply') return ok(objectsAmong(whole.value).slice(0, LIMITS.bacnet_objects_found_max));
  const count = await link.ask(() => readOne({ ...list, index: 0 }));
  if (count.kind === 'failed') return fail(count.reason);
  if (count.kind === 'stopped') return fail('stopped');
  if (count.kind !== 'reply') return fail(`the object list: ${refusalText(count)}`);
  const [length] = count.value;
  if (length?.type !== 'unsigned' || length.value === null) return fail('the length of the object list is no number');
  const objects: ObjectId[] = [];
  for (let index = 1; index <= Math.min(length.value, LIMITS.bacnet_objects_found_max); index += 1) {
    const one = await link.ask(() => readOne({ ...list, index }));
    if (one.kind === 'failed') return fail(one.reason);
    if (one.kind === 'stopped') return fail('stopped');
    if (one.kind === 'reply') objects.push(...objectsAmong(one.value));
  }
  return ok(objects);
}

function objectsAmong(values: readonly BacnetValue[]): ObjectId[] {
  return values.flatMap((value) =>
    value.type === 'object' && value.value.type !== DEVICE_OBJECT ? [value.value] : [],
  );
}

function objectOf(object: ObjectId, [name, description, units]: readonly (Answer | undefined)[]): FoundObject {
  return {
    object,
    address: objectText(object),
    name: textOf(name),
    description: textOf(description),
    units: unitsOf(units),
  };
}

function textOf(answer: Answer | undefined): string | null {
  const value = answer?.ok === true ? answer.values[0] : undefined;
  if (value?.type !== 'string') return null;
  return value.value ?? `(character set ${value.characterSet} is not read)`;
}

function unitsOf(answer: Answer | undefined): string | null {
  const value = answer?.ok === true ? answer.values[0] : undefined;
  if (value?.type !== 'enumerated' || value.value === null) return null;
  return UNITS[value.value] ?? `units ${value.value}`;
}
