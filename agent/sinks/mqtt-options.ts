/** What the MQTT sink is told, and the check of it that needs no network. */
import type { Outbox } from '../base/delivery.ts';
import { type Fault, fail, ok, type Result } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import { authorityFault } from './authority.ts';
import type { LinkOptions } from './link.ts';
import type { Announcement } from './types.ts';

/** Bounds a test may lower; each defaults to its namesake in LIMITS. */
export interface MqttLimits {
  readonly backoff_ms_min: number;
  readonly backoff_ms_max: number;
  readonly mqtt_acknowledge_ms_max: number;
  readonly mqtt_in_flight_max: number;
  readonly mqtt_payload_bytes_max: number;
  readonly mqtt_refusals_max: number;
}

export interface MqttOptions {
  readonly outbox: Outbox;
  /** `mqtt://`, `mqtts://`, `ws://` or `wss://`, without user and password. */
  readonly url: string;
  readonly username?: string | undefined;
  readonly password?: string | undefined;
  readonly ca?: string | undefined;
  /** The same over restarts, another for each agent: a broker ends the older of two connections with one client id. */
  readonly clientId: string;
  readonly protocol?: 'auto' | 5 | 4;
  readonly keepalive_s?: number;
  /** Where the retained status goes: `<prefix>/<site>/status`. */
  readonly statusAddress: string;
  /** Further retained messages at each connection, such as the descriptions of the chillers. */
  readonly announcements?: () => readonly Announcement[];
  readonly version: string;
  readonly now?: () => number;
  /** 0 to 1; spreads reconnections of many gateways. */
  readonly random?: () => number;
  readonly report?: (fault: Fault) => void;
  readonly checkpoint?: (name: 'after_send' | 'after_acknowledge') => void;
  readonly limits?: Partial<MqttLimits>;
}

export function checkOptions(options: MqttOptions): Result<void> {
  const { url, clientId, statusAddress } = options;
  const address = URL.canParse(url) ? new URL(url) : null;
  if (address === null || !['mqtt:', 'mqtts:', 'ws:', 'wss:'].includes(address.protocol) || address.hostname === '')
    return fail('mqtt_options', `broker address '${url}': write mqtt://host:port, or mqtts://host:port with TLS`);
  if (address.username !== '' || address.password !== '')
    return fail('mqtt_options', 'broker address: give user and password by their own keys, not within the address');
  const authority = options.ca === undefined ? null : authorityFault(options.ca);
  if (authority !== null) return fail('mqtt_options', `mqtt.ca ${authority}`);
  if (clientId === '' || clientId.length > 128)
    return fail('mqtt_options', 'client id of the broker: 1 to 128 characters');
  if (statusAddress === '' || /[#+\0]/.test(statusAddress))
    return fail('mqtt_options', `topic '${statusAddress}': must not be empty nor contain # or +`);
  return ok(undefined);
}

/** What one connection is told of all this. */
export function linkOptions(
  { url, username, password, ca, clientId, keepalive_s = 30 }: MqttOptions,
  rest: Pick<LinkOptions, 'protocol' | 'answer_ms' | 'will'>,
): LinkOptions {
  return { url, username, password, ca, clientId, keepalive_s, ...rest };
}

/**
 * The retained word on whether this agent is there. `time` in ms since the epoch; the broker's will cannot know its
 * own.
 */
export function statusOf(
  { statusAddress, version }: MqttOptions,
  status: 'online' | 'offline',
  { time, reason }: { time: number | null; reason: string | null },
): Announcement {
  const payload = JSON.stringify({ status, time: time === null ? null : rfc3339(time), reason, version });
  return { address: statusAddress, payload };
}
