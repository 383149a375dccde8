/**
 * Numbers of ASHRAE 135 (clauses 12, 20 and 21, Annex J) that the plant's device uses, from memory; tests compare them
 * with other stacks.
 */
import type { UnitName } from '../../base/units.ts';

export const PDU = {
  confirmed: 0,
  unconfirmed: 1,
  simple: 2,
  complex: 3,
  segmentAck: 4,
  error: 5,
  reject: 6,
  abort: 7,
} as const;

export const CONFIRMED = {
  covNotification: 1,
  subscribeCov: 5,
  readProperty: 12,
  readPropertyMultiple: 14,
  writeProperty: 15,
  writePropertyMultiple: 16,
} as const;

export const UNCONFIRMED = { iAm: 0, iHave: 1, covNotification: 2, whoHas: 7, whoIs: 8 } as const;

/** Error class and code. */
export const ERROR = {
  unknownObject: [1, 31],
  unknownProperty: [2, 32],
  notAnArray: [2, 50],
  arrayIndex: [2, 42],
  writeDenied: [2, 40],
  noRoom: [3, 19],
  covNotSupported: [5, 45],
} as const satisfies Record<string, readonly [number, number]>;
export type BacnetError = readonly [errorClass: number, errorCode: number];

export const REJECT = { invalidTag: 4, unrecognizedService: 9 } as const;
export const ABORT = { segmentationNotSupported: 4, outOfResources: 9, apduTooLong: 11 } as const;

export const DEVICE = 8;
/** Stands for 'whichever device this is'. */
export const ANY_INSTANCE = 4_194_303;

export const PROPERTY = {
  activeText: 4,
  all: 8,
  apduSegmentTimeout: 10,
  apduTimeout: 11,
  applicationSoftwareVersion: 12,
  covIncrement: 22,
  description: 28,
  deviceAddressBinding: 30,
  eventState: 36,
  firmwareRevision: 44,
  inactiveText: 46,
  maxApduLengthAccepted: 62,
  modelName: 70,
  numberOfApduRetries: 73,
  numberOfStates: 74,
  objectIdentifier: 75,
  objectList: 76,
  objectName: 77,
  objectType: 79,
  optional: 80,
  outOfService: 81,
  polarity: 84,
  presentValue: 85,
  protocolObjectTypesSupported: 96,
  protocolServicesSupported: 97,
  protocolVersion: 98,
  reliability: 103,
  required: 105,
  segmentationSupported: 107,
  stateText: 110,
  statusFlags: 111,
  systemStatus: 112,
  units: 117,
  vendorIdentifier: 120,
  vendorName: 121,
  protocolRevision: 139,
  databaseRevision: 155,
} as const;

/** Engineering units. Gauge, vacuum and absolute pressures share one number: the description has to tell. */
const ENGINEERING_UNITS: Partial<Record<UnitName, number>> = {
  A: 3,
  V: 5,
  kW: 48,
  kPa: 54,
  psia: 56,
  psig: 56,
  delta_psi: 56,
  inHg_vac: 61,
  degC: 62,
  degF: 64,
  h: 71,
  gpm: 89,
  '%': 98,
  rpm: 104,
};
const NO_UNITS = 95;

export function engineeringUnits(unit: UnitName): number {
  return ENGINEERING_UNITS[unit] ?? NO_UNITS;
}
