/**
 * One connection to an MQTT broker, from its first byte to its last. The library's own store, queue and reconnection
 * are never used: a client lives for one connection and is thrown away with whatever it still held, because the outbox
 * is the only queue. So a session on the broker would hold nothing of ours, and each connection starts clean.
 */
import { connect, type ErrorWithReasonCode, type IClientOptions, type MqttClient } from 'mqtt';
import type { Fault } from '../base/result.ts';
import { isTlsError } from './authority.ts';
import { connectionCode, isVersionRefusal } from './reasons.ts';
import type { Announcement } from './types.ts';

export interface LinkOptions {
  readonly url: string;
  readonly username?: string | undefined;
  readonly password?: string | undefined;
  /** Certificate authority, PEM; where the broker's certificate is not signed by a public one. */
  readonly ca?: string | undefined;
  readonly clientId: string;
  readonly protocol: 5 | 4;
  readonly keepalive_s: number;
  readonly answer_ms: number;
  /** Published by the broker when this connection ends without a farewell. */
  readonly will: Announcement;
}

/** What the broker allows on this connection. */
export interface Allowed {
  readonly in_flight: number;
  readonly packet_bytes: number;
}

export interface LinkEvents {
  up(allowed: Allowed): void;
  /** Once, whatever the cause; nothing follows it. */
  down(fault: Fault, versionRefused: boolean): void;
}

export interface Outgoing {
  readonly address: string;
  readonly payload: string;
  readonly retain: boolean;
}

export class Link {
  readonly #client: MqttClient;
  readonly #options: LinkOptions;
  readonly #events: LinkEvents;
  #down = false;
  #cause: Fault | null = null;
  #versionRefused = false;

  constructor(options: LinkOptions, events: LinkEvents) {
    this.#options = options;
    this.#events = events;
    this.#client = connect(options.url, clientOptions(options));
    this.#client.on('connect', ({ properties }) => {
      if (properties?.maximumQoS === 0) {
        this.close({
          code: 'mqtt_refused',
          message: `${this.#where} takes no QoS 1: allow it, minutes would get lost`,
        });
        return;
      }
      events.up({
        in_flight: properties?.receiveMaximum ?? 65_535,
        packet_bytes: properties?.maximumPacketSize ?? Number.POSITIVE_INFINITY,
      });
    });
    this.#client.on('error', (error) => {
      this.#cause ??= this.#faultOf(error);
      this.#client.end(true);
    });
    this.#client.on('disconnect', ({ reasonCode }) => {
      const reason = reasonCode ?? 0;
      this.#cause ??= {
        code: connectionCode(reason),
        message: `${this.#where} ended the connection (reason ${reason})`,
      };
    });
    this.#client.on('close', () => this.#gone());
    this.#client.on('end', () => this.#gone());
  }

  /** `answered` gets the broker's reason code; it is not called when the connection ends first. */
  publish({ address, payload, retain }: Outgoing, answered: (reason: number) => void): void {
    if (this.#down) return;
    const properties =
      this.#options.protocol === 5
        ? { properties: { payloadFormatIndicator: true, contentType: 'application/json' } }
        : {};
    this.#client.publish(address, payload, { qos: 1, retain, ...properties }, (error) => {
      if (this.#down) return;
      if (!error) answered(0);
      else if (typeof (error as ErrorWithReasonCode).code === 'number') answered((error as ErrorWithReasonCode).code);
    });
  }

  /** Cuts the connection; `down` follows with this cause. */
  close(cause: Fault): void {
    this.#cause ??= cause;
    this.#client.end(true);
    this.#gone();
  }

  /** Says farewell, so that the broker keeps the will to itself; `down` follows. */
  leave(): void {
    this.#client.end(false, { reasonCode: 0 });
  }

  #gone(): void {
    if (this.#down) return;
    this.#down = true;
    this.#client.end(true);
    const fault = this.#cause ?? { code: 'mqtt_unreachable', message: `${this.#where} closed the connection` };
    this.#events.down(fault, this.#versionRefused);
  }

  get #where(): string {
    return `broker ${withoutUser(this.#options.url)}`;
  }

  #faultOf(error: Error | ErrorWithReasonCode): Fault {
    const { code } = error as { code?: unknown };
    if (isTlsError({ code, message: error.message }))
      return { code: 'mqtt_tls', message: `${this.#where}: no safe connection: ${error.message}` };
    if (typeof code !== 'number')
      return { code: 'mqtt_unreachable', message: `${this.#where}: ${error.message || String(code)}` };
    this.#versionRefused = isVersionRefusal(code);
    return { code: connectionCode(code), message: `${this.#where}: ${error.message} (reason ${code})` };
  }
}

function clientOptions(options: LinkOptions): IClientOptions {
  const { username, password, ca, clientId, protocol, keepalive_s, answer_ms, will } = options;
  return {
    clientId,
    protocolVersion: protocol,
    clean: true,
    reconnectPeriod: 0,
    queueQoSZero: false,
    resubscribe: false,
    keepalive: keepalive_s,
    connectTimeout: answer_ms,
    will: { topic: will.address, payload: Buffer.from(will.payload), qos: 1, retain: true },
    ...(protocol === 5 ? { properties: { sessionExpiryInterval: 0 } } : {}),
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(ca === undefined ? {} : { ca }),
  };
}

/** An address fit for a log. */
function withoutUser(url: string): string {
  const { protocol, host } = new URL(url);
  return `${protocol}//${host}`;
}
