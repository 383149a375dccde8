/** Who-Is and the I-Ams that answer it. */
import { LIMITS } from '../../base/limits.ts';
import { type BacnetSource, endpointOf } from '../../site/buses/bacnet.ts';
import type { Timers } from '../timers.ts';
import { APDU_MAX } from './apdu.ts';
import { fail, ok, type Result } from './decoded.ts';
import { type Segmentation, segmentationOf } from './names.ts';
import { addressKey, type DeviceAddress } from './network.ts';
import type { Audience, BacnetPort } from './port.ts';

/** What one reply of a device may be: bytes of an APDU, and whether it sends longer ones in segments. */
export interface Abilities {
  readonly maxApdu: number;
  readonly segmentation: Segmentation;
}

export interface FoundDevice extends Abilities {
  readonly instance: number;
  readonly address: DeviceAddress;
  /** Vendor identifier as registered for the standard. */
  readonly vendor: number;
}

/** The least an APDU of the standard is; a device that claims less is asked for no less. */
const APDU_MIN = 50;

export function abilitiesOf(maxApdu: number, segmentation: number): Abilities {
  const within = Math.max(APDU_MIN, Math.min(maxApdu, APDU_MAX));
  return { maxApdu: within, segmentation: segmentationOf(segmentation) };
}

export type Whereabouts = Pick<BacnetSource, 'address' | 'broadcast' | 'network' | 'foreign' | 'timeout_ms'>;

/** Who is to be asked, by the settings; where a BBMD is needed, once it has taken the registration. */
async function audiences(port: BacnetPort, where: Whereabouts): Promise<Result<Audience[]>> {
  const network = where.network ?? null;
  const found: Audience[] = [];
  if (where.address !== undefined) found.push({ via: 'unicast', to: endpointOf(where.address), network });
  else if (where.broadcast !== undefined) found.push({ via: 'broadcast', to: endpointOf(where.broadcast), network });
  if (where.address === undefined && where.foreign !== undefined) {
    const bbmd = endpointOf(where.foreign.bbmd);
    const why = await port.registered(bbmd, { ttlS: where.foreign.ttl_s, timeoutMs: where.timeout_ms });
    if (why !== null) return fail(why);
    found.push({ via: 'distribute', to: bbmd, network });
  }
  return ok(found);
}

/**
 * Asks for the devices of a range of instances and takes what answers within the time; one that answers from two
 * addresses is in the list twice. A fault says why nobody could be asked.
 */
export async function find(options: {
  port: BacnetPort;
  where: Whereabouts;
  low: number;
  high: number;
  timers: Timers;
  signal: AbortSignal;
}): Promise<Result<FoundDevice[]>> {
  const { port, where, low, high, timers, signal } = options;
  const asked = await Promise.race([audiences(port, where), given(signal)]);
  if (!asked.ok) return asked;
  const found = new Map<string, FoundDevice>();
  const deaf = port.onIAm(({ instance, maxApdu, segmentation, vendor }, address) => {
    if (instance < low || instance > high || found.size >= LIMITS.bacnet_devices_found_max) return;
    const key = `${instance} ${addressKey(address)}`;
    if (!found.has(key)) found.set(key, { instance, address, vendor, ...abilitiesOf(maxApdu, segmentation) });
  });
  try {
    for (const audience of asked.value) {
      const why = await port.whoIs({ low, high, audience });
      if (why !== null) return fail(`Who-Is cannot be sent: ${why}`);
    }
    await pause(where.timeout_ms, timers, signal);
    return ok([...found.values()]);
  } finally {
    deaf();
  }
}

/** Settles when the signal is given up. */
function given(signal: AbortSignal): Promise<Result<never>> {
  return new Promise((resolve) => {
    const end = (): void => resolve(fail('stopped'));
    signal.addEventListener('abort', end, { once: true });
    if (signal.aborted) end();
  });
}

function pause(ms: number, timers: Timers, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const done = (): void => {
      take();
      signal.removeEventListener('abort', done);
      resolve();
    };
    const take = timers.after(ms, done);
    signal.addEventListener('abort', done);
    if (signal.aborted) done();
  });
}
