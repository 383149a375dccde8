/**
 * The objects of a controller as BACnet shows them: what its sensors say, and what the objects say of themselves.
 * ASHRAE 135 clause 12, from memory.
 */
import { assert } from '../../base/result.ts';
import type { UnitName } from '../../base/units.ts';
import { type BacnetObject, OBJECT_KINDS, type PlantPoint } from '../point-map.ts';
import type { ObjectFault, Sensor } from '../sensor.ts';
import { type BacnetError, DEVICE, ERROR, engineeringUnits, PROPERTY } from './codes.ts';
import type { Writer } from './writer.ts';

/** How a property is written; arrays item by item. */
export type Property = { readonly one: (out: Writer) => void } | { readonly items: readonly ((out: Writer) => void)[] };

export interface ShownObject {
  readonly type: number;
  readonly instance: number;
  readonly name: string;
  readonly properties: ReadonlyMap<number, Property>;
  /** Numbers of the properties that every object of its kind has. */
  readonly required: readonly number[];
}

/** What a subscriber hears of. */
export interface Monitored {
  readonly value: number;
  readonly flags: number;
}

/** An object that no point of the map stands for. */
export interface ExtraObject {
  readonly object: BacnetObject;
  readonly unit: UnitName;
  readonly value: () => number;
}

export interface DeviceOptions {
  readonly instance: number;
  readonly name: string;
  readonly model: string;
  readonly description: string;
  readonly vendor: string;
}

/** An instance that no maker has. */
const VENDOR_ID = 65_535;
export const MAX_APDU = 1476;
/** Sends segmented replies, takes no segmented requests. */
const SEGMENTED_TRANSMIT = 1;
const SOUND: ObjectFault = { reliability: 0, outOfService: false };
/** Services answered, by bit: SubscribeCOV, ReadProperty, ReadPropertyMultiple, Who-Has, Who-Is. */
const SERVICES = [5, 12, 14, 33, 34];
const SERVICE_BITS = 41;
const TYPE_BITS = 60;

const one = (write: (out: Writer) => void): Property => ({ one: write });

function keyOf(type: number, instance: number): string {
  return `${type}:${instance}`;
}

/** Value, reliability and service of one object as the bus has them now. */
class Shown {
  value = 0;
  fault: ObjectFault = SOUND;

  get flags(): readonly boolean[] {
    return [false, this.fault.reliability !== 0, false, this.fault.outOfService];
  }
}

export class ObjectTable {
  readonly device: DeviceOptions;
  private readonly objects = new Map<string, ShownObject>();
  private readonly byName = new Map<string, ShownObject>();
  private readonly shown = new Map<string, Shown>();
  private readonly increments = new Map<string, number>();
  private readonly points: readonly (readonly [point: string, shown: Shown])[];
  private readonly extras: readonly (readonly [extra: ExtraObject, shown: Shown])[];

  constructor(points: readonly PlantPoint[], extras: readonly ExtraObject[], device: DeviceOptions) {
    this.device = device;
    this.points = points.flatMap((point) =>
      point.bus === 'bacnet' ? [[point.name, this.add(point.object, point.unit)] as const] : [],
    );
    this.extras = extras.map((extra) => [extra, this.add(extra.object, extra.unit)] as const);
    this.put(deviceObject(device, [...this.objects.values()]));
  }

  private put(object: ShownObject): void {
    const key = keyOf(object.type, object.instance);
    assert(!this.objects.has(key) && !this.byName.has(object.name), `${object.name} (${key}) is there once`);
    this.objects.set(key, object);
    this.byName.set(object.name, object);
  }

  private add(object: BacnetObject, unit: UnitName): Shown {
    const shown = new Shown();
    const type = OBJECT_KINDS[object.kind];
    const key = keyOf(type, object.instance);
    this.put(pointObject(object, unit, shown));
    this.shown.set(key, shown);
    this.increments.set(key, object.covIncrement);
    return shown;
  }

  /** Takes over what the sensors show. */
  update(sensors: ReadonlyMap<string, Sensor>): void {
    for (const [name, shown] of this.points) {
      const sensor = sensors.get(name);
      assert(sensor !== undefined, `${name} has a sensor`);
      shown.value = sensor.raw;
      shown.fault = sensor.objectFault;
    }
    for (const [extra, shown] of this.extras) shown.value = extra.value();
  }

  find(type: number, instance: number): ShownObject | undefined {
    return this.objects.get(keyOf(type, instance));
  }

  named(name: string): ShownObject | undefined {
    return this.byName.get(name);
  }

  /** What a subscriber of the object would hear now; undefined: it reports no changes. */
  monitored(type: number, instance: number): Monitored | undefined {
    const shown = this.shown.get(keyOf(type, instance));
    if (shown === undefined) return undefined;
    return { value: shown.value, flags: shown.flags.reduce((bits, flag, i) => bits | (flag ? 1 << i : 0), 0) };
  }

  /** Whether a change is one to be reported. */
  changed(type: number, instance: number, last: Monitored, now: Monitored): boolean {
    if (last.flags !== now.flags) return true;
    if (Object.is(last.value, now.value)) return false;
    const increment = this.increments.get(keyOf(type, instance)) ?? 0;
    return !(Math.abs(now.value - last.value) < increment);
  }
}

/** Writes a property, or one item of it, or answers the error. Index 0 is the number of items. */
export function writeProperty(object: ShownObject, id: number, index: number | null, out: Writer): BacnetError | null {
  const property = object.properties.get(id);
  if (property === undefined) return ERROR.unknownProperty;
  if ('one' in property) {
    if (index !== null) return ERROR.notAnArray;
    property.one(out);
    return null;
  }
  if (index === null) for (const item of property.items) item(out);
  else if (index === 0) out.unsigned(property.items.length);
  else {
    const item = property.items[index - 1];
    if (item === undefined) return ERROR.arrayIndex;
    item(out);
  }
  return null;
}

function pointObject(object: BacnetObject, unit: UnitName, shown: Shown): ShownObject {
  const { kind, instance, objectName, description, states } = object;
  const type = OBJECT_KINDS[kind];
  const properties = new Map<number, Property>([
    [PROPERTY.objectIdentifier, one((out) => out.object(type, instance))],
    [PROPERTY.objectName, one((out) => out.text(objectName))],
    [PROPERTY.objectType, one((out) => out.enumerated(type))],
    [PROPERTY.presentValue, one((out) => writeValue(object, shown.value, out))],
    [PROPERTY.statusFlags, one((out) => out.bits(shown.flags))],
    [PROPERTY.eventState, one((out) => out.enumerated(0))],
    [PROPERTY.outOfService, one((out) => out.boolean(shown.fault.outOfService))],
  ]);
  const rest: [number, Property][] = [];
  if (kind.startsWith('analog')) {
    properties.set(
      PROPERTY.units,
      one((out) => out.enumerated(engineeringUnits(unit))),
    );
    rest.push([PROPERTY.covIncrement, one((out) => out.real(object.covIncrement))]);
  }
  if (kind === 'binary-input')
    properties.set(
      PROPERTY.polarity,
      one((out) => out.enumerated(0)),
    );
  if (kind.startsWith('binary')) {
    rest.push([PROPERTY.inactiveText, one((out) => out.text('Off'))]);
    rest.push([PROPERTY.activeText, one((out) => out.text('On'))]);
  }
  if (kind.startsWith('multi-state')) {
    properties.set(
      PROPERTY.numberOfStates,
      one((out) => out.unsigned(states.length)),
    );
    rest.push([PROPERTY.stateText, { items: states.map((text) => (out: Writer) => void out.text(text)) }]);
  }
  const required = [...properties.keys()];
  properties.set(
    PROPERTY.description,
    one((out) => out.text(description)),
  );
  properties.set(
    PROPERTY.reliability,
    one((out) => out.enumerated(shown.fault.reliability)),
  );
  for (const [id, property] of rest) properties.set(id, property);
  return { type, instance, name: objectName, properties, required };
}

/** Also writes what a fault makes the object show: a number that is no state of it. */
export function writeValue(object: { readonly kind: BacnetObject['kind'] }, value: number, out: Writer): void {
  if (object.kind.startsWith('analog')) out.real(value);
  else if (object.kind.startsWith('binary')) out.enumerated(Math.max(0, value));
  else out.unsigned(Math.max(0, value));
}

function deviceObject(device: DeviceOptions, others: readonly ShownObject[]): ShownObject {
  const itself = { type: DEVICE, instance: device.instance };
  const list = [itself, ...others].map(
    ({ type, instance }) =>
      (out: Writer) =>
        void out.object(type, instance),
  );
  const types = new Set([DEVICE, ...Object.values<number>(OBJECT_KINDS)]);
  const bits = (count: number, set: (bit: number) => boolean) => Array.from({ length: count }, (_, bit) => set(bit));
  const properties = new Map<number, Property>([
    [PROPERTY.objectIdentifier, one((out) => out.object(DEVICE, device.instance))],
    [PROPERTY.objectName, one((out) => out.text(device.name))],
    [PROPERTY.objectType, one((out) => out.enumerated(DEVICE))],
    [PROPERTY.systemStatus, one((out) => out.enumerated(0))],
    [PROPERTY.vendorName, one((out) => out.text(device.vendor))],
    [PROPERTY.vendorIdentifier, one((out) => out.unsigned(VENDOR_ID))],
    [PROPERTY.modelName, one((out) => out.text(device.model))],
    [PROPERTY.firmwareRevision, one((out) => out.text('1'))],
    [PROPERTY.applicationSoftwareVersion, one((out) => out.text('1'))],
    [PROPERTY.protocolVersion, one((out) => out.unsigned(1))],
    [PROPERTY.protocolRevision, one((out) => out.unsigned(14))],
    [PROPERTY.protocolServicesSupported, one((out) => out.bits(bits(SERVICE_BITS, (bit) => SERVICES.includes(bit))))],
    [PROPERTY.protocolObjectTypesSupported, one((out) => out.bits(bits(TYPE_BITS, (bit) => types.has(bit))))],
    [PROPERTY.objectList, { items: list }],
    [PROPERTY.maxApduLengthAccepted, one((out) => out.unsigned(MAX_APDU))],
    [PROPERTY.segmentationSupported, one((out) => out.enumerated(SEGMENTED_TRANSMIT))],
    [PROPERTY.apduTimeout, one((out) => out.unsigned(3000))],
    [PROPERTY.numberOfApduRetries, one((out) => out.unsigned(3))],
    [PROPERTY.deviceAddressBinding, { items: [] }],
    [PROPERTY.databaseRevision, one((out) => out.unsigned(1))],
  ]);
  const required = [...properties.keys()];
  properties.set(
    PROPERTY.apduSegmentTimeout,
    one((out) => out.unsigned(2000)),
  );
  properties.set(
    PROPERTY.description,
    one((out) => out.text(device.description)),
  );
  return { ...itself, name: device.name, properties, required };
}

/** I-Am of the device. */
export function writeIAm(device: DeviceOptions, out: Writer): void {
  out.object(DEVICE, device.instance).unsigned(MAX_APDU).enumerated(SEGMENTED_TRANSMIT).unsigned(VENDOR_ID);
}
