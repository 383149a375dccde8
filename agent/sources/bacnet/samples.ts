/**
 * From what a device says of an object to the sample of a point: status flags and reliability decide before the
 * value.
 */
import type { PointName } from '../../points/dictionary.ts';
import type { RawSample } from '../../points/types.ts';
import { BACNET_POINT_PROPERTIES, type BacnetAddress, objectOfAddress } from '../../site/buses/bacnet.ts';
import { reliabilityText } from './names.ts';
import type { ObjectAsk } from './questions.ts';
import type { Answer } from './reader.ts';
import { PROPERTY } from './services.ts';
import type { BacnetValue } from './values.ts';

export interface MappedPoint {
  readonly name: PointName;
  readonly address: BacnetAddress;
  readonly fast: boolean;
}

/** A point and what is asked for it: its property, the status flags, the reliability. */
export interface PointAsk extends ObjectAsk {
  readonly point: MappedPoint;
}

export function askOf(point: MappedPoint): PointAsk {
  const own = BACNET_POINT_PROPERTIES[point.address.property];
  return {
    point,
    object: objectOfAddress(point.address),
    properties: [own, PROPERTY.statusFlags, PROPERTY.reliability],
  };
}

/**
 * Bytes of the answers to one point's question: identifier and tags, a double, flags, reliability, with room for an
 * error in place of each.
 */
export const BYTES_PER_POINT = 7 + 13 + 9 + 9;

export type Reading = Pick<RawSample, 'raw' | 'reason' | 'doubt'>;

const IN_ALARM_TO_OUT_OF_SERVICE = 4;
export const OVERRIDDEN = 'overridden at the controller';

export function readingOf([own, flags, reliability]: readonly (Answer | undefined)[]): Reading {
  if (own === undefined) return { raw: null, reason: 'not answered' };
  if (!own.ok) return { raw: null, reason: own.reason };
  const condition = conditionOf(reliability);
  if (condition !== null) return { raw: null, reason: condition };
  const status = statusOf(flags);
  if (status.raw === null) return status;
  const number = numberOf(own.values);
  return number.raw === null || status.doubt === undefined ? number : { ...number, doubt: status.doubt };
}

/** Why the controller itself holds the value for wrong; null where it does not, or says nothing. */
function conditionOf(answer: Answer | undefined): string | null {
  if (answer?.ok !== true) return null;
  const [value] = answer.values;
  if (value?.type !== 'enumerated' || value.value === 0) return null;
  return `fault: ${value.value === null ? 'unknown' : reliabilityText(value.value)}`;
}

function statusOf(answer: Answer | undefined): Reading {
  // an object without flags has nothing to say; one that does not tell them leaves it open
  if (answer === undefined || (!answer.ok && answer.unknownProperty)) return { raw: 0 };
  if (!answer.ok) return { raw: 0, doubt: `status flags not read: ${answer.reason}` };
  const [value] = answer.values;
  if (value?.type !== 'bits' || value.value.length < IN_ALARM_TO_OUT_OF_SERVICE)
    return { raw: 0, doubt: 'status flags are not four bits' };
  const [, fault, overridden, outOfService] = value.value;
  if (fault) return { raw: null, reason: 'fault' };
  if (outOfService) return { raw: null, reason: 'out of service' };
  return overridden ? { raw: 0, doubt: OVERRIDDEN } : { raw: 0 };
}

function numberOf(values: readonly BacnetValue[]): Reading {
  const [value] = values;
  if (value === undefined) return { raw: null, reason: 'no value' };
  if (values.length > 1) return { raw: null, reason: `${values.length} values in place of one` };
  switch (value.type) {
    case 'boolean':
      return { raw: value.value ? 1 : 0 };
    case 'unsigned':
    case 'signed':
    case 'enumerated':
      return value.value === null ? { raw: null, reason: 'a number beyond 2^53' } : { raw: value.value };
    case 'real':
    case 'double':
      return value.value !== null && Number.isFinite(value.value)
        ? { raw: value.value }
        : { raw: null, reason: 'not a number' };
    default:
      return { raw: null, reason: `not a number but of type ${value.type}` };
  }
}
