/**
 * Requests and replies of the four reading functions, without the framing round them: the same on TCP and on a serial
 * line. Source: MODBUS Application Protocol Specification V1.1b3, sections 6.1 to 6.4 and 7. No other function can be
 * written here.
 */
import { LIMITS } from '../../base/limits.ts';

export type ModbusTable = 'coil' | 'discrete' | 'holding' | 'input';

const FUNCTION_OF = { coil: 1, discrete: 2, holding: 3, input: 4 } as const satisfies Record<ModbusTable, number>;

/** Registers or bits (coils, discrete inputs) to read, addresses from zero. */
export interface ReadRequest {
  readonly table: ModbusTable;
  readonly register: number;
  readonly count: number;
}

export const REQUEST_BYTES = 5;
const ADDRESSES = 0x1_0000;

export function encodeRead({ table, register, count }: ReadRequest): Uint8Array {
  return Uint8Array.of(FUNCTION_OF[table], register >> 8, register & 0xff, count >> 8, count & 0xff);
}

/**
 * Why these bytes may not leave, or null where they are a well-formed request of a reading function. Every port asks
 * this of the bytes themselves.
 */
export function refusal(pdu: Uint8Array): string | null {
  const code = pdu[0];
  if (code === undefined || code < 1 || code > 4) return `function code ${code ?? 'none'} is no reading function`;
  if (pdu.length !== REQUEST_BYTES) return `a request of ${pdu.length} bytes is no reading request`;
  const register = ((pdu[1] as number) << 8) | (pdu[2] as number);
  const count = ((pdu[3] as number) << 8) | (pdu[4] as number);
  const most = code <= 2 ? LIMITS.modbus_bits_per_request_max : LIMITS.modbus_registers_per_request_max;
  if (count < 1 || count > most) return `a count of ${count} is outside 1 to ${most}`;
  if (register + count > ADDRESSES) return `${count} addresses from ${register} reach beyond 65535`;
  return null;
}

/** Bytes of data that the reply to this request must carry. */
export function replyBytes(pdu: Uint8Array): number {
  const count = ((pdu[3] as number) << 8) | (pdu[4] as number);
  return (pdu[0] as number) <= 2 ? Math.ceil(count / 8) : 2 * count;
}

const EXCEPTIONS: Readonly<Record<number, string>> = {
  1: 'illegal function',
  2: 'illegal data address',
  3: 'illegal data value',
  4: 'device failure',
  5: 'acknowledge',
  6: 'device busy',
  8: 'memory parity error',
  10: 'gateway path unavailable',
  11: 'gateway target failed to respond',
};

/** An exception code in words, for reasons. */
export function exceptionText(code: number): string {
  return `exception ${code}: ${EXCEPTIONS[code] ?? 'not in the standard'}`;
}

/** What came of a request. `failed` means that the connection is not to be trusted any more. */
export type ExchangeOutcome =
  | { readonly kind: 'reply'; readonly data: Uint8Array }
  | { readonly kind: 'exception'; readonly code: number }
  | { readonly kind: 'refused'; readonly reason: string }
  | { readonly kind: 'failed'; readonly cause: 'silent' | 'closed' | 'malformed'; readonly reason: string };
