/**
 * What a site file says of a Modbus TCP controller and of a point's address on it. Pure schemas: the poller and the
 * reader of the site file both take them from here. Ranges: MODBUS Application Protocol Specification V1.1b3
 * (registers, quantities), MODBUS over Serial Line V1.02 (units 1 to 247); 255 is the unit that MODBUS Messaging on
 * TCP/IP V1.0b recommends for a device that is addressed by its IP address alone.
 */
import { z } from 'zod';
import { LIMITS } from '../../base/limits.ts';

/**
 * Byte order of a value of more than one byte, written as the order in which its bytes A (most significant) to D stand
 * on the wire.
 */
export const MODBUS_ORDERS = ['ABCD', 'CDAB', 'BADC', 'DCBA'] as const;
export type ModbusOrder = (typeof MODBUS_ORDERS)[number];

/** How registers are read as a number, with the registers (16 bits each) a value takes. */
export const MODBUS_TYPE_REGISTERS = { uint16: 1, int16: 1, uint32: 2, int32: 2, float32: 2, float64: 4 } as const;
export type ModbusType = keyof typeof MODBUS_TYPE_REGISTERS;
const MODBUS_TYPES = Object.keys(MODBUS_TYPE_REGISTERS) as [ModbusType, ...ModbusType[]];

/** Highest address of a register, coil or discrete input, counted from zero. */
const REGISTER_MAX = 0xffff;

const host = z
  .string()
  .min(1)
  .max(253)
  .regex(/^[A-Za-z0-9.:_-]+$/, 'a host name or an IP address alone, without scheme, port or path');

export const modbusSource = z
  .strictObject({
    host: host.describe('Host name or IP address of the controller or of the gateway before it.'),
    port: z.int().min(1).max(65_535).default(502).describe('TCP port.'),
    timeout_ms: z
      .int()
      .min(LIMITS.modbus_timeout_ms_min)
      .max(LIMITS.modbus_timeout_ms_max)
      .default(1000)
      .describe('How long one connection attempt or one reply may take, ms.'),
    poll_s: z
      .number()
      .min(LIMITS.poll_s_min)
      .max(LIMITS.poll_s_max)
      .default(5)
      .describe('Period of ordinary points, s.'),
    fast_s: z.number().min(LIMITS.poll_s_min).max(LIMITS.poll_s_max).default(2).describe('Period of fast points, s.'),
    pause_ms: z
      .int()
      .min(0)
      .max(LIMITS.modbus_pause_ms_max)
      .default(0)
      .describe('Rest between two requests, for slow controllers and gateways, ms.'),
    max_registers: z
      .int()
      .min(4)
      .max(LIMITS.modbus_registers_per_request_max)
      .default(LIMITS.modbus_registers_per_request_max)
      .describe('Most registers the controller answers in one request (16 coils or discrete inputs count as one).'),
  })
  .refine((source) => source.fast_s <= source.poll_s, {
    path: ['fast_s'],
    message: 'fast_s must not be longer than poll_s',
  });
export type ModbusSource = z.output<typeof modbusSource>;

const unit = z
  .int()
  .min(1)
  .max(255)
  .refine((value) => value <= 247 || value === 255, 'units are 1 to 247, or 255 for a device addressed by IP alone')
  .default(1)
  .describe('Unit (slave) number behind the host: 1 to 247, or 255.');
const register = z
  .int()
  .min(0)
  .max(REGISTER_MAX)
  .describe('Address counted from zero: 40001 of a manual is holding register 0.');

const registerAddress = z
  .strictObject({
    unit,
    table: z.enum(['input', 'holding']).describe('Table the register stands in.'),
    register,
    type: z.enum(MODBUS_TYPES).default('uint16').describe('How the registers are read as a number.'),
    order: z.enum(MODBUS_ORDERS).default('ABCD').describe('Byte order on the wire.'),
    bit: z
      .int()
      .min(0)
      .max(15)
      .optional()
      .describe('One bit of the register, 0 the least significant: the value is 0 or 1.'),
  })
  .refine((address) => address.bit === undefined || address.type === 'uint16', {
    path: ['bit'],
    message: 'a bit can be taken from a uint16 register alone',
  })
  .refine((address) => address.register + MODBUS_TYPE_REGISTERS[address.type] - 1 <= REGISTER_MAX, {
    path: ['register'],
    message: 'the value would reach beyond register 65535',
  });

const bitAddress = z.strictObject({
  unit,
  table: z.enum(['coil', 'discrete']).describe('Table the bit stands in.'),
  register,
});

export const modbusAddress = z.discriminatedUnion('table', [registerAddress, bitAddress]);
export type ModbusAddress = z.output<typeof modbusAddress>;
