/**
 * What a site file says of a BACnet/IP controller and of a point's object on it. Pure schemas: the poller and the
 * reader of the site file both take them from here. Names and numbers of objects and properties: ASHRAE 135 clause 21
 * (from memory; a test compares them with the tables of two other stacks).
 */
import { z } from 'zod';
import { LIMITS } from '../../base/limits.ts';

/** UDP port of BACnet/IP unless a site says otherwise: 0xBAC0. */
export const BACNET_PORT = 47_808;
/** Highest instance of an object; 4194303 stands for 'any'. */
export const BACNET_INSTANCE_MAX = 4_194_302;

/** Objects a point can be read from. */
export const BACNET_POINT_OBJECTS = {
  'analog-input': 0,
  'analog-output': 1,
  'analog-value': 2,
  'binary-input': 3,
  'binary-output': 4,
  'binary-value': 5,
  'multi-state-input': 13,
  'multi-state-output': 14,
  'multi-state-value': 19,
  accumulator: 23,
  'integer-value': 45,
  'large-analog-value': 46,
  'positive-integer-value': 48,
} as const;
export type BacnetPointObject = keyof typeof BACNET_POINT_OBJECTS;

/** Properties a point can be read from. `elapsed-active-time` counts seconds, `change-of-state-count` changes. */
export const BACNET_POINT_PROPERTIES = {
  'present-value': 85,
  'change-of-state-count': 15,
  'elapsed-active-time': 33,
  'high-limit': 45,
  'low-limit': 59,
  'max-pres-value': 65,
  'min-pres-value': 69,
  'relinquish-default': 104,
} as const;
export type BacnetPointProperty = keyof typeof BACNET_POINT_PROPERTIES;

const OCTET = '(?:25[0-5]|2[0-4]\\d|1\\d\\d|[1-9]?\\d)';
const IPV4 = new RegExp(`^(?:${OCTET}\\.){3}${OCTET}$`);
const IPV4_PORT = new RegExp(`^(?:${OCTET}\\.){3}${OCTET}(?::[1-9]\\d{0,4})?$`);

const endpoint = z
  .string()
  .regex(IPV4_PORT, 'an IPv4 address, with :port where it is not 47808 (10.0.0.5 or 10.0.0.5:47809)')
  .refine((text) => Number(text.split(':')[1] ?? 1) <= 65_535, 'ports end at 65535');

const foreign = z.strictObject({
  bbmd: endpoint.describe('Broadcast management device (BBMD) that takes the agent as a foreign device.'),
  ttl_s: z
    .int()
    .min(LIMITS.bacnet_foreign_ttl_s_min)
    .max(65_535)
    .default(300)
    .describe('Time to live of the registration, renewed at half of it, s.'),
});

export const bacnetSource = z
  .strictObject({
    device: z
      .int()
      .min(0)
      .max(BACNET_INSTANCE_MAX)
      .describe('Instance number of the controller, unique in its network.'),
    address: endpoint
      .optional()
      .describe('Fixed address of the controller; of the router to it where `network` is given. Without it, Who-Is.'),
    interface: z
      .string()
      .regex(IPV4, 'an IPv4 address of this machine')
      .default('0.0.0.0')
      .describe('Address of this machine to bind; 0.0.0.0 is all of them, which hears broadcasts.'),
    port: z
      .int()
      .min(0)
      .max(65_535)
      .default(BACNET_PORT)
      .describe('UDP port of this machine; 0 takes any free one, enough for a controller at a fixed address.'),
    broadcast: endpoint
      .refine(
        (text) => !text.startsWith('255.255.255.255'),
        'the directed broadcast address of the network, such as 10.0.0.255',
      )
      .optional()
      .describe('Broadcast address of the network that Who-Is goes to, such as 10.0.0.255.'),
    network: z
      .int()
      .min(1)
      .max(65_534)
      .optional()
      .describe('Number of the BACnet network behind a router that the controller is in.'),
    foreign: foreign.optional().describe('Registration as a foreign device, to be heard in another subnet.'),
    timeout_ms: z
      .int()
      .min(LIMITS.bacnet_timeout_ms_min)
      .max(LIMITS.bacnet_timeout_ms_max)
      .default(3000)
      .describe('How long one reply, one segment of it, or the answers to Who-Is may take, ms.'),
    poll_s: z
      .number()
      .min(LIMITS.poll_s_min)
      .max(LIMITS.poll_s_max)
      .default(5)
      .describe('Period of ordinary points, s.'),
    fast_s: z.number().min(LIMITS.poll_s_min).max(LIMITS.poll_s_max).default(2).describe('Period of fast points, s.'),
    max_objects: z
      .int()
      .min(1)
      .max(LIMITS.bacnet_objects_per_request_max)
      .default(25)
      .describe('Most objects asked for in one request; fewer where the controller says it cannot.'),
  })
  .refine((source) => source.fast_s <= source.poll_s, {
    path: ['fast_s'],
    message: 'fast_s must not be longer than poll_s',
  })
  .refine((source) => source.address !== undefined || source.broadcast !== undefined || source.foreign !== undefined, {
    path: ['address'],
    message: 'say where the controller is: its address, the broadcast address of its network, or a BBMD under foreign',
  });
export type BacnetSource = z.output<typeof bacnetSource>;

const OBJECT = new RegExp(`^(${Object.keys(BACNET_POINT_OBJECTS).join('|')}):(0|[1-9]\\d{0,6})$`);
const OBJECT_KINDS = Object.keys(BACNET_POINT_OBJECTS).join(', ');
const POINT_PROPERTIES = Object.keys(BACNET_POINT_PROPERTIES) as [BacnetPointProperty, ...BacnetPointProperty[]];

export const bacnetAddress = z
  .strictObject({
    object: z
      .string()
      .regex(OBJECT, `kind and instance, such as analog-input:3; kinds: ${OBJECT_KINDS}`)
      .refine((text) => Number(text.split(':')[1]) <= BACNET_INSTANCE_MAX, `instances end at ${BACNET_INSTANCE_MAX}`)
      .describe('Object that holds the point: kind and instance, such as analog-input:3.'),
    property: z.enum(POINT_PROPERTIES).default('present-value').describe('Property of the object that is read.'),
    cov: z
      .boolean()
      .default(false)
      .describe('Let the controller report changes of value; it is then polled once a minute only.'),
  })
  .refine((address) => !address.cov || address.property === 'present-value', {
    path: ['cov'],
    message: 'changes are reported of present-value alone',
  });
export type BacnetAddress = z.output<typeof bacnetAddress>;

/** Object type and instance of a checked address. */
export function objectOfAddress(address: Pick<BacnetAddress, 'object'>): { type: number; instance: number } {
  const [kind, instance] = address.object.split(':') as [BacnetPointObject, string];
  return { type: BACNET_POINT_OBJECTS[kind], instance: Number(instance) };
}

/** Host and port of a checked endpoint. */
export function endpointOf(text: string, port: number = BACNET_PORT): { host: string; port: number } {
  const [host = '', given] = text.split(':');
  return { host, port: given === undefined ? port : Number(given) };
}
