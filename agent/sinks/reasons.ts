/**
 * What an MQTT reason code means for a message or a connection (MQTT 5.0, OASIS Standard 2019-03-07, table 2-6 and
 * 3.4.2.1; below 6: return codes of MQTT 3.1.1, 3.2.2.3).
 *
 * A message is rejected (given up, and its number reported as a gap) only where the broker says that this very message
 * can never be taken. What people mend on the broker - rights, quota, a full disk - keeps it: the outbox is there to
 * wait. A refusal that says nothing of its cause is tried a bounded number of times, so that one message the broker
 * cannot digest does not stand in the way for ever.
 */
import type { ErrorCode } from '../base/errors.ts';
import type { Fault } from '../base/result.ts';

export type Verdict = 'accept' | 'reject' | 'keep' | 'keep for some tries';

export function verdictOf(reason: number): Verdict {
  if (reason < 0x80) return 'accept'; // 0x00 success, 0x10 no matching subscribers
  switch (reason) {
    case 0x90: // topic name invalid
    case 0x99: // payload format invalid
      return 'reject';
    case 0x87: // not authorised
    case 0x97: // quota exceeded
      return 'keep';
    default: // 0x80 unspecified, 0x83 implementation specific, 0x91 packet identifier in use, anything new
      return 'keep for some tries';
  }
}

const RIGHTS: ReadonlySet<number> = new Set([4, 5, 0x86, 0x87, 0x8a, 0x8c]);

export function connectionCode(reason: number): ErrorCode {
  return RIGHTS.has(reason) ? 'mqtt_not_authorised' : 'mqtt_refused';
}

/** Whether the broker refused the version of the protocol: 3.1.1 brokers answer 1, those of 5.0 answer 0x84. */
export function isVersionRefusal(reason: number): boolean {
  return reason === 1 || reason === 0x84;
}

/** What to say of a message that was refused and is kept. */
export function keptFault(address: string, reason: number): Fault {
  const [code, why]: [ErrorCode, string] =
    reason === 0x87
      ? ['mqtt_not_authorised', 'gives no right to publish to']
      : ['mqtt_refused', 'does not take a message for'];
  return { code, message: `the broker ${why} ${address} (reason ${reason}); it is kept and tried again` };
}

/** What to say of a message that was refused and given up. */
export function refusedFault(address: string, reason: number): Fault {
  return { code: 'mqtt_refused', message: `the broker refuses a message for ${address} (reason ${reason})` };
}

/** What to say of a message that is too large to be sent; null where it is not. */
export function sizeFault(address: string, payload: string, most: number): Fault | null {
  const bytes = Buffer.byteLength(payload);
  if (bytes <= most) return null;
  return { code: 'mqtt_refused', message: `message for ${address} given up: ${bytes} bytes, ${most} are allowed` };
}
