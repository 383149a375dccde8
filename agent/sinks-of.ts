/** The sinks that a site asks for, each draining its own messages of the outbox. */
import type { Logger } from 'pino';
import type { Clock } from './base/clock.ts';
import type { Outbox } from './base/delivery.ts';
import { LIMITS } from './base/limits.ts';
import { ok, type Result } from './base/result.ts';
import { Callouts } from './callouts.ts';
import type { EventReads } from './history/events.ts';
import { composing } from './letters.ts';
import { describePayload } from './metrics/payload.ts';
import { InfluxSink } from './sinks/influx.ts';
import type { InfluxWrite } from './sinks/influx-options.ts';
import { MailSink } from './sinks/mail.ts';
import { MqttSink } from './sinks/mqtt.ts';
import type { Sink } from './sinks/types.ts';
import type { SiteInflux } from './site/influx.ts';
import type { Site } from './site/site.ts';

export interface SinkSurroundings {
  readonly site: Site;
  readonly version: string;
  readonly outbox: Outbox;
  /** What the store knows round an alarm, for mails. */
  readonly events: EventReads;
  readonly clock: Clock;
  /** Uniform in [0, 1). */
  readonly random: () => number;
  readonly log: Logger;
  readonly checkpoint?: (name: 'after_send' | 'after_acknowledge') => void;
}

/** A sink under the name by which messages are addressed to it. */
export interface NamedSink {
  readonly name: string;
  readonly sink: Sink;
}

/** Checked, nothing contacted. */
export function sinksOf(around: SinkSurroundings): Result<readonly NamedSink[]> {
  const sinks = [mqttSink(around), influxSink(around), mailSink(around)].flatMap((each) =>
    each === null ? [] : [each],
  );
  for (const { sink } of sinks) {
    const checked = sink.init();
    if (!checked.ok) return checked;
  }
  return ok(sinks);
}

/** First part of every topic of a site. */
export function rootOf(site: Site): string {
  return `${site.mqtt?.prefix ?? 'tonhour'}/${site.id}`;
}

function common({ outbox, clock, random, log, checkpoint }: SinkSurroundings) {
  return {
    outbox,
    now: () => clock.now(),
    random,
    report: (fault: { readonly code: string; readonly message: string }) =>
      log.warn({ code: fault.code }, fault.message),
    ...(checkpoint === undefined ? {} : { checkpoint }),
  };
}

function mqttSink(around: SinkSurroundings): NamedSink | null {
  const { site, version } = around;
  const { mqtt } = site;
  if (mqtt === null) return null;
  const root = rootOf(site);
  const sink = new MqttSink({
    ...common(around),
    url: mqtt.url,
    username: mqtt.username ?? undefined,
    password: mqtt.password?.reveal(),
    ca: mqtt.ca?.reveal(),
    clientId: mqtt.client_id,
    statusAddress: `${root}/status`,
    announcements: () =>
      site.chillers.slice(0, LIMITS.chillers_max).map((chiller) => ({
        address: `${root}/${chiller.id}/describe`,
        payload: JSON.stringify(describePayload(chiller)),
      })),
    version,
  });
  return { name: 'mqtt', sink };
}

function influxSink(around: SinkSurroundings): NamedSink | null {
  const { influx, id } = around.site;
  if (influx === null) return null;
  const { url, measurement } = influx;
  const sink = new InfluxSink({ ...common(around), url, measurement, site: id, write: writeOf(influx) });
  return { name: 'influx', sink };
}

function mailSink(around: SinkSurroundings): NamedSink | null {
  const { site, version, events, clock } = around;
  const { mail, id, name } = site;
  if (mail === null) return null;
  const { host, port, security, login, ca } = mail;
  const callouts = new Callouts({ site, version, events, now: () => clock.now() });
  const sink = new MailSink({
    ...common(around),
    server: {
      host,
      port,
      security,
      username: login?.username,
      password: login?.password.reveal(),
      ca: ca?.reveal(),
    },
    from: { name: `Tonhour, ${name}`, address: mail.from },
    to: mail.to,
    per_hour: mail.mails_per_hour,
    site: id,
    compose: composing(site, callouts),
  });
  return { name: 'mail', sink };
}

function writeOf(influx: SiteInflux): InfluxWrite {
  if (influx.api === 'v2') return { ...influx, token: influx.token?.reveal() ?? null };
  const { login } = influx;
  return {
    ...influx,
    login: login === null ? null : { username: login.username, password: login.password.reveal() },
  };
}
