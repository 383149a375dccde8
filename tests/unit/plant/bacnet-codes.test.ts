/** Numbers of the standard as the plant writes them, against the tables of two other stacks. */
import { createRequire } from 'node:module';
import { expect, test } from 'vitest';
import {
  ABORT,
  CONFIRMED,
  ERROR,
  engineeringUnits,
  PROPERTY,
  REJECT,
  UNCONFIRMED,
} from '../../../agent/plant/bacnet/codes.ts';
import { OBJECT_KINDS } from '../../../agent/plant/point-map.ts';

type Tables = Record<string, Record<string, number>>;
const require = createRequire(import.meta.url);
const STACKS: [string, Tables][] = [
  ['@bacnet-js/client', require('@bacnet-js/client') as Tables],
  ['node-bacnet', (require('node-bacnet') as { enum: Tables }).enum],
];

/** presentValue or present-value to PRESENT_VALUE. */
const upper = (name: string): string =>
  name
    .replace(/([a-z])([A-Z])/g, '$1_$2')
    .replace(/-/g, '_')
    .toUpperCase();

test.each(STACKS)('%s agrees on properties, kinds of objects and services', (_, tables) => {
  for (const [name, id] of Object.entries(PROPERTY)) expect(tables['PropertyIdentifier']![upper(name)], name).toBe(id);
  for (const [name, id] of Object.entries(OBJECT_KINDS)) expect(tables['ObjectType']![upper(name)], name).toBe(id);
  const services = {
    covNotification: 'CONFIRMED_COV_NOTIFICATION',
    subscribeCov: 'SUBSCRIBE_COV',
    readProperty: 'READ_PROPERTY',
    readPropertyMultiple: 'READ_PROPERTY_MULTIPLE',
    writeProperty: 'WRITE_PROPERTY',
    writePropertyMultiple: 'WRITE_PROPERTY_MULTIPLE',
  };
  for (const [name, id] of Object.entries(CONFIRMED))
    expect(tables['ConfirmedServiceChoice']![services[name as keyof typeof services]], name).toBe(id);
  const open = {
    iAm: 'I_AM',
    iHave: 'I_HAVE',
    covNotification: 'UNCONFIRMED_COV_NOTIFICATION',
    whoHas: 'WHO_HAS',
    whoIs: 'WHO_IS',
  };
  for (const [name, id] of Object.entries(UNCONFIRMED))
    expect(tables['UnconfirmedServiceChoice']![open[name as keyof typeof open]], name).toBe(id);
});

test.each(STACKS)('%s agrees on errors, reasons and units', (_, tables) => {
  const errors: Record<keyof typeof ERROR, [string, string]> = {
    unknownObject: ['OBJECT', 'UNKNOWN_OBJECT'],
    unknownProperty: ['PROPERTY', 'UNKNOWN_PROPERTY'],
    notAnArray: ['PROPERTY', 'PROPERTY_IS_NOT_AN_ARRAY'],
    arrayIndex: ['PROPERTY', 'INVALID_ARRAY_INDEX'],
    writeDenied: ['PROPERTY', 'WRITE_ACCESS_DENIED'],
    noRoom: ['RESOURCES', 'NO_SPACE_TO_ADD_LIST_ELEMENT'],
    covNotSupported: ['SERVICES', 'OPTIONAL_FUNCTIONALITY_NOT_SUPPORTED'],
  };
  for (const [name, [errorClass, code]] of Object.entries(errors)) {
    const [ownClass, ownCode] = ERROR[name as keyof typeof ERROR];
    expect(tables['ErrorClass']![errorClass], name).toBe(ownClass);
    expect(tables['ErrorCode']![code], name).toBe(ownCode);
  }
  expect(tables['RejectReason']!['UNRECOGNIZED_SERVICE']).toBe(REJECT.unrecognizedService);
  expect(tables['RejectReason']!['INVALID_TAG']).toBe(REJECT.invalidTag);
  for (const [name, id] of Object.entries(ABORT)) expect(tables['AbortReason']![upper(name)], name).toBe(id);
  const units = { A: 'AMPERES', V: 'VOLTS', kPa: 'KILOPASCALS', degC: 'DEGREES_CELSIUS' } as const;
  for (const [unit, name] of Object.entries(units))
    expect(tables['EngineeringUnits']![name], unit).toBe(engineeringUnits(unit as keyof typeof units));
});
