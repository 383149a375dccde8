/**
 * Names of the enumerations of ASHRAE 135 clause 21 that a refusal, a status or a search shows to a person (from
 * memory; a test compares them with the tables of two other stacks).
 */
const ERROR_CLASSES = ['device', 'object', 'property', 'resources', 'security', 'services', 'vt', 'communication'];

export const ERROR_CODES: Readonly<Record<number, string>> = {
  0: 'other',
  2: 'configuration-in-progress',
  3: 'device-busy',
  7: 'inconsistent-parameters',
  9: 'invalid-data-type',
  13: 'invalid-parameter-data-type',
  16: 'missing-required-parameter',
  17: 'no-objects-of-specified-type',
  18: 'no-space-for-object',
  19: 'no-space-to-add-list-element',
  25: 'operational-problem',
  26: 'password-failure',
  27: 'read-access-denied',
  29: 'service-request-denied',
  30: 'timeout',
  31: 'unknown-object',
  32: 'unknown-property',
  36: 'unsupported-object-type',
  37: 'value-out-of-range',
  42: 'invalid-array-index',
  43: 'cov-subscription-failed',
  44: 'not-cov-property',
  45: 'optional-functionality-not-supported',
  46: 'invalid-configuration-data',
  47: 'datatype-not-supported',
  50: 'property-is-not-an-array',
  51: 'abort-buffer-overflow',
  54: 'abort-segmentation-not-supported',
  67: 'reject-unrecognized-service',
  70: 'unknown-device',
  71: 'unknown-route',
  72: 'value-not-initialized',
  77: 'no-property-specified',
  79: 'unknown-subscription',
  82: 'busy',
  83: 'communication-disabled',
  85: 'access-denied',
};

const REJECTS = [
  'other',
  'buffer-overflow',
  'inconsistent-parameters',
  'invalid-parameter-data-type',
  'invalid-tag',
  'missing-required-parameter',
  'parameter-out-of-range',
  'too-many-arguments',
  'undefined-enumeration',
  'unrecognized-service',
];

const ABORTS = [
  'other',
  'buffer-overflow',
  'invalid-apdu-in-this-state',
  'preempted-by-higher-priority-task',
  'segmentation-not-supported',
  'security-error',
  'insufficient-security',
  'window-size-out-of-range',
  'application-exceeded-reply-time',
  'out-of-resources',
  'tsm-timeout',
  'apdu-too-long',
];

const RELIABILITIES = [
  'no-fault-detected',
  'no-sensor',
  'over-range',
  'under-range',
  'open-loop',
  'shorted-loop',
  'no-output',
  'unreliable-other',
  'process-error',
  'multi-state-fault',
  'configuration-error',
  'reserved-11',
  'communication-failure',
  'member-fault',
  'monitored-object-fault',
  'tripped',
];

/** Engineering units a chiller's objects carry. */
export const UNITS: Readonly<Record<number, string>> = {
  3: 'amperes',
  5: 'volts',
  19: 'kilowatt-hours',
  27: 'hertz',
  47: 'watts',
  48: 'kilowatts',
  49: 'megawatts',
  50: 'btus-per-hour',
  52: 'tons-refrigeration',
  53: 'pascals',
  54: 'kilopascals',
  55: 'bars',
  56: 'pounds-force-per-square-inch',
  57: 'centimeters-of-water',
  58: 'inches-of-water',
  59: 'millimeters-of-mercury',
  60: 'centimeters-of-mercury',
  61: 'inches-of-mercury',
  62: 'degrees-celsius',
  63: 'degrees-kelvin',
  64: 'degrees-fahrenheit',
  71: 'hours',
  72: 'minutes',
  73: 'seconds',
  85: 'cubic-meters-per-second',
  87: 'liters-per-second',
  88: 'liters-per-minute',
  89: 'us-gallons-per-minute',
  95: 'no-units',
  98: 'percent',
  104: 'revolutions-per-minute',
  120: 'delta-degrees-fahrenheit',
  121: 'delta-degrees-kelvin',
  135: 'cubic-meters-per-hour',
};

/** Kinds of objects by number, as far as a search names them. */
export const OBJECT_KINDS: Readonly<Record<number, string>> = {
  0: 'analog-input',
  1: 'analog-output',
  2: 'analog-value',
  3: 'binary-input',
  4: 'binary-output',
  5: 'binary-value',
  8: 'device',
  12: 'loop',
  13: 'multi-state-input',
  14: 'multi-state-output',
  15: 'notification-class',
  17: 'schedule',
  19: 'multi-state-value',
  20: 'trend-log',
  23: 'accumulator',
  24: 'pulse-converter',
  45: 'integer-value',
  46: 'large-analog-value',
  48: 'positive-integer-value',
};

const SEGMENTATION = ['both', 'transmit', 'receive', 'none'] as const;
export type Segmentation = (typeof SEGMENTATION)[number];

const named = (names: readonly string[], number: number): string => names[number] ?? `number ${number}`;

export function errorText(errorClass: number, code: number): string {
  return `error ${ERROR_CODES[code] ?? `number ${code}`} (${named(ERROR_CLASSES, errorClass)})`;
}

export function rejectText(reason: number): string {
  return `rejected: ${named(REJECTS, reason)}`;
}

export function abortText(reason: number): string {
  return `aborted: ${named(ABORTS, reason)}`;
}

export function reliabilityText(reliability: number): string {
  return named(RELIABILITIES, reliability);
}

/** What the standard's number says a device can do; a number it does not know counts as 'none'. */
export function segmentationOf(number: number): Segmentation {
  return SEGMENTATION[number] ?? 'none';
}

export function objectText({ type, instance }: { type: number; instance: number }): string {
  return `${OBJECT_KINDS[type] ?? `object-type-${type}`}:${instance}`;
}
