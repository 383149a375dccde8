/**
 * Hears `<prefix>/<site>/command/<verb>` on a connection of its own and hands each command to the agent. A command is
 * acknowledged to the broker (PUBACK) only once it is written down; until then, and for as long as the session lasts
 * while the agent is away, the broker keeps it and sends it again.
 *
 * Nothing here writes anywhere but into the agent: a command never reaches a chiller. Who may publish is the broker's
 * access list to say.
 */
import { connect, type IClientOptions, type IPublishPacket, type MqttClient } from 'mqtt';
import { LIMITS } from '../base/limits.ts';
import type { Fault } from '../base/result.ts';
import { connectionCode, isVersionRefusal } from './reasons.ts';
import { backoffMs, within } from './waiting.ts';

/** `later`: it could not be written down; the broker is to send it again. */
export type Received = 'done' | 'later';

export interface CommandLinkOptions {
  readonly url: string;
  readonly username?: string | undefined;
  readonly password?: string | undefined;
  readonly ca?: string | undefined;
  /** The same over restarts: the broker keeps the session under it. */
  readonly clientId: string;
  /** Topic above the verb: `<prefix>/<site>/command`. */
  readonly address: string;
  readonly receive: (command: {
    readonly verb: string;
    readonly payload: string;
    /** The broker may have sent it before. */
    readonly repeated: boolean;
    /** Kept by the broker for whoever comes: nobody commands it now. */
    readonly retained: boolean;
  }) => Received;
  /** Told where the broker refuses; that it is away is the sink's to tell. */
  readonly report?: (fault: Fault) => void;
  readonly random?: () => number;
  readonly limits?: { readonly backoff_ms_min: number; readonly backoff_ms_max: number };
}

export class CommandLink {
  readonly #options: CommandLinkOptions;
  #client: MqttClient | null = null;
  /** The newer one until a broker refuses it: then that of 3.1.1, whose sessions last as well. */
  #protocol: 5 | 4 = 5;
  #attempts = 0;
  #retry: NodeJS.Timeout | null = null;
  #stopped = false;
  #told: string | null = null;

  constructor(options: CommandLinkOptions) {
    this.#options = options;
  }

  start(): void {
    if (this.#client === null && !this.#stopped) this.#connect();
  }

  /** Idempotent and bounded. The session on the broker stays for the next start. */
  async stop(): Promise<void> {
    this.#stopped = true;
    if (this.#retry !== null) clearTimeout(this.#retry);
    const client = this.#client;
    this.#client = null;
    if (client === null) return;
    await within(LIMITS.mqtt_farewell_ms_max, (done) => client.end(false, {}, done));
    client.end(true);
  }

  #connect(): void {
    this.#retry = null;
    const client = connect(this.#options.url, clientOptions(this.#options, this.#protocol));
    this.#client = client;
    let versionRefused = false;
    client.handleMessage = (packet, answered) => {
      if (this.#received(packet) === 'done') answered();
      else client.end(true);
    };
    client.on('connect', () => this.#subscribe(client));
    client.on('error', (error) => {
      const code = (error as { code?: unknown }).code;
      if (typeof code === 'number') {
        versionRefused = isVersionRefusal(code);
        if (!versionRefused) this.#refused(connectionCode(code), `${error.message} (reason ${code})`);
      }
      client.end(true);
    });
    client.on('close', () => this.#gone(client, versionRefused));
    client.on('end', () => this.#gone(client, versionRefused));
  }

  #subscribe(client: MqttClient): void {
    const topic = `${this.#options.address}/+`;
    // Retained messages are not asked for (rh 2): a command is of now.
    client.subscribe(topic, { qos: 1, rh: 2 }, (error, granted) => {
      const denied = error !== null || granted?.some(({ qos }) => qos >= 0x80) === true;
      if (denied) this.#refused('mqtt_not_authorised', `gives no right to subscribe to ${topic}: no command is heard`);
      else {
        this.#attempts = 0;
        this.#told = null;
      }
    });
  }

  #received({ topic, payload, dup, retain }: IPublishPacket): Received {
    const verb = topic.slice(this.#options.address.length + 1);
    return this.#options.receive({ verb, payload: payload.toString(), repeated: dup, retained: retain });
  }

  #gone(client: MqttClient, versionRefused: boolean): void {
    if (this.#client !== client) return;
    this.#client = null;
    client.end(true);
    if (this.#stopped) return;
    const other = versionRefused && this.#protocol === 5;
    if (other) this.#protocol = 4;
    const pause = other
      ? 0
      : backoffMs(this.#attempts, this.#options.limits ?? LIMITS, this.#options.random ?? Math.random);
    this.#attempts += other ? 0 : 1;
    this.#retry = setTimeout(() => this.#connect(), pause);
  }

  #refused(code: Fault['code'], why: string): void {
    if (this.#told === why) return;
    this.#told = why;
    this.#options.report?.({ code, message: `commands: the broker ${why}` });
  }
}

function clientOptions({ clientId, username, password, ca }: CommandLinkOptions, protocol: 5 | 4): IClientOptions {
  return {
    clientId,
    protocolVersion: protocol,
    clean: false,
    reconnectPeriod: 0,
    resubscribe: false,
    keepalive: 30,
    connectTimeout: LIMITS.mqtt_acknowledge_ms_max,
    ...(protocol === 5
      ? {
          properties: {
            sessionExpiryInterval: LIMITS.command_session_s,
            receiveMaximum: LIMITS.commands_in_flight_max,
          },
        }
      : {}),
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(ca === undefined ? {} : { ca }),
  };
}
