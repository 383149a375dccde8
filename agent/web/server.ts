/**
 * The web room: HTTP API, live stream, and the page. Loopback by default, GET only, nothing from outside. Every answer
 * comes from memory or the store; a data call that throws costs its answer (500), never the process.
 */
import { promisify } from 'node:util';
import { brotliCompress, constants, gzip } from 'node:zlib';
import Fastify, { type FastifyInstance, type FastifyReply, type FastifyRequest } from 'fastify';
import type { ErrorCode } from '../base/errors.ts';
import { LIMITS } from '../base/limits.ts';
import { loadAssets } from './assets.ts';
import { calloutRoutes } from './callout-routes.ts';
import type { TakeCommand } from './command-routes.ts';
import { hostFault } from './known-host.ts';
import { LiveStream } from './live-stream.ts';
import { LastKnown, seriesOf, type Unread } from './page-data.ts';
import { pageRoutes, type WithId } from './page-routes.ts';
import { chillerNamed, historyQuery, seasonQuery } from './query.ts';
import { refuse, seasonFault } from './refuse.ts';
import { seasonCsv } from './season-csv.ts';
import type { Now, WebData } from './types.ts';

/** What the room needs of a log; pino's logger fits. */
export interface WebLog {
  info(details: object, message: string): void;
  warn(details: object, message: string): void;
  error(details: object, message: string): void;
}

export interface WebOptions {
  readonly data: WebData;
  /** Default 127.0.0.1. */
  readonly host?: string;
  /** 0 takes a free one. */
  readonly port: number;
  /** Names by which people open it, beside its address and `host`. */
  readonly names?: readonly string[];
  readonly log: WebLog;
  /** Takes commands to alarms from the page's form; left out: the page only reads. */
  readonly command?: TakeCommand;
  /** Wall clock, ms; injected by tests. */
  readonly clock?: () => number;
}

export interface WebServer {
  /** Listens; rejects with a `web_port` message where the port cannot be taken. */
  start(): Promise<{ url: string }>;
  /** Ends streams and connections; safe to call twice. */
  stop(): Promise<void>;
}

const HEADERS: Record<string, string> = {
  'content-security-policy':
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
  'x-content-type-options': 'nosniff',
  'referrer-policy': 'no-referrer',
  'cross-origin-opener-policy': 'same-origin',
  'cross-origin-resource-policy': 'same-origin',
  'permissions-policy': 'camera=(), microphone=(), geolocation=()',
};

const brotliAsync = promisify(brotliCompress);
const gzipAsync = promisify(gzip);

export function webServer(options: WebOptions): WebServer {
  const { data, log } = options;
  const clock = options.clock ?? Date.now;
  const assets = loadAssets();
  const live = new LiveStream();
  const last = new LastKnown();
  const app = Fastify({
    logger: false,
    forceCloseConnections: true,
    frameworkErrors: (error, _request, reply) => {
      reply.headers(HEADERS);
      refuse(reply, { code: 'web_bad_query', message: error.message });
    },
    return503OnClosing: false,
    routerOptions: { maxParamLength: 200 },
  });
  const plant = new AfterMinutes(() => live.listeners > 0 && live.sendPlant(data.plant()), log);
  let unfollow: (() => void) | null = null;
  let stopping: Promise<void> | null = null;

  common(app, log, [...(options.names ?? []), options.host ?? 'localhost']);
  const unread: Unread = (metric, error) =>
    log.warn({ metric, reason: reasonOf(error) }, 'a history could not be read');
  apiRoutes(app, data, clock, unread);
  seasonRoute(app, data);
  liveRoute(app, data, live);
  calloutRoutes(app, { data, assets });
  pageRoutes(app, { data, assets, last, clock, unread, command: options.command ?? null });

  return {
    async start() {
      unfollow = data.follow((now) => {
        last.see(now);
        live.send(now);
        plant.due();
      });
      const host = options.host ?? '127.0.0.1';
      try {
        const url = await app.listen({ host, port: options.port });
        log.info({ url }, 'page listens');
        return { url };
      } catch (error) {
        unfollow();
        const code: ErrorCode = 'web_port';
        throw new Error(`${code}: ${host}:${options.port} cannot be listened on: ${reasonOf(error)}: ${remedy(error)}`);
      }
    },
    stop() {
      stopping ??= (async () => {
        unfollow?.();
        live.close();
        await app.close();
      })();
      return stopping;
    },
  };
}

/**
 * The minutes of one interval come one after another within one turn of the loop: what they give together is told
 * once, after the last.
 */
class AfterMinutes {
  readonly #tell: () => void;
  readonly #log: WebLog;
  #waiting = false;

  constructor(tell: () => void, log: WebLog) {
    this.#tell = tell;
    this.#log = log;
  }

  due(): void {
    if (this.#waiting) return;
    this.#waiting = true;
    setImmediate(() => {
      this.#waiting = false;
      try {
        this.#tell();
      } catch (error) {
        this.#log.error({ reason: reasonOf(error) }, 'the figures of the plant could not be told');
      }
    });
  }
}

/** What to do about a port that cannot be had. */
function remedy(error: unknown): string {
  const code = (error as NodeJS.ErrnoException).code;
  if (code === 'EADDRINUSE') return 'stop what uses it, or set web.port in the site file';
  if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND')
    return 'set web.host in the site file to an address of this machine';
  return 'set web.host and web.port in the site file to what this account may use';
}

function reasonOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

/** Headers, errors and compression for every answer; none to who asks by a foreign name. */
function common(app: FastifyInstance, log: WebLog, names: readonly string[]): void {
  app.addHook('onRequest', async (request, reply) => {
    reply.headers(HEADERS);
    const foreign = hostFault(request.headers.host ?? null, names);
    return foreign === null ? undefined : refuse(reply, foreign);
  });
  app.setNotFoundHandler((request, reply) => {
    if (request.method !== 'GET' && request.method !== 'HEAD') {
      reply.header('allow', 'GET, HEAD');
      return refuse(reply, {
        code: 'web_method',
        message: `${request.method} is not served here: this page only reads.`,
      });
    }
    return refuse(reply, { code: 'web_not_found', message: `There is nothing at ${request.url.slice(0, 200)}.` });
  });
  app.setErrorHandler((error: Error & { statusCode?: number }, request, reply) => {
    const status = error.statusCode ?? 500;
    if (status >= 400 && status < 500) return refuse(reply, { code: 'web_bad_query', message: error.message });
    log.error({ url: request.url, reason: error.message }, 'an answer failed');
    return refuse(reply, { code: 'internal', message: 'The agent could not answer; its log says why.' });
  });
  app.addHook('onSend', async (request, reply, payload: unknown) => {
    if (typeof payload !== 'string' || payload.length < 1024 || reply.hasHeader('content-encoding')) return payload;
    reply.header('vary', 'accept-encoding');
    const accepted = String(request.headers['accept-encoding'] ?? '');
    if (/\bbr\b/.test(accepted)) {
      reply.header('content-encoding', 'br').removeHeader('content-length');
      return brotliAsync(payload, { params: { [constants.BROTLI_PARAM_QUALITY]: 6 } });
    }
    if (/\bgzip\b/.test(accepted)) {
      reply.header('content-encoding', 'gzip').removeHeader('content-length');
      return gzipAsync(payload);
    }
    return payload;
  });
}

function json(reply: FastifyReply, value: unknown): FastifyReply {
  return reply.header('cache-control', 'no-store').type('application/json; charset=utf-8').send(JSON.stringify(value));
}

function apiRoutes(app: FastifyInstance, data: WebData, clock: () => number, unread: Unread): void {
  const chiller = (request: FastifyRequest<WithId>): ReturnType<typeof chillerNamed> =>
    chillerNamed(data.site(), request.params.id);
  app.get('/api/site', async (_request, reply) => json(reply, data.site()));
  app.get('/api/site/now', async (_request, reply) => json(reply, data.plant()));
  app.get('/api/alarms', async (_request, reply) => json(reply, { alarms: data.alarms() }));
  app.get<WithId>('/api/chillers/:id/now', async (request, reply) => {
    const found = chiller(request);
    if (!found.ok) return refuse(reply, found.fault);
    const now = data.now(found.value.id);
    if (now === null)
      return refuse(reply, { code: 'web_unknown_chiller', message: `Nothing is known of ${found.value.id} yet.` });
    return json(reply, now);
  });
  app.get<WithId>('/api/chillers/:id/diagram', async (request, reply) => {
    const found = chiller(request);
    if (!found.ok) return refuse(reply, found.fault);
    const diagram = data.diagram(found.value.id);
    if (diagram === null)
      return refuse(reply, { code: 'web_not_found', message: `There is no diagram for ${found.value.refrigerant}.` });
    return json(reply, { ...diagram, states: data.now(found.value.id)?.states ?? {} });
  });
  app.get<WithId>('/api/chillers/:id/series', async (request, reply) => {
    const found = chiller(request);
    if (!found.ok) return refuse(reply, found.fault);
    const site = data.site();
    const time = data.now(found.value.id)?.time ?? null;
    return json(reply, seriesOf(data, site, found.value.id, time === null ? clock() : Date.parse(time), unread));
  });
  app.get<WithId>('/api/chillers/:id/history', async (request, reply) => {
    const found = chiller(request);
    if (!found.ok) return refuse(reply, found.fault);
    const query = historyQuery(request.query, data.site().interval_s);
    if (!query.ok) return refuse(reply, query.fault);
    const { metric, from, to, step_s } = query.value;
    const history = data.history(found.value.id, metric, from, to, step_s);
    if (history === null)
      return refuse(reply, {
        code: 'web_unknown_metric',
        message: `${found.value.id} has no metric or point '${metric}'.`,
      });
    if (history.points.length > LIMITS.history_points_max)
      return refuse(reply, {
        code: 'web_too_many_points',
        message: `'${metric}' is stored finer: ${history.points.length} points, at most ${LIMITS.history_points_max} are answered; give a step.`,
      });
    return json(reply, history);
  });
  app.get('/healthz', async (_request, reply) => {
    const trouble = data.trouble();
    return json(reply.code(trouble === null ? 200 : 503), { healthy: trouble === null, trouble });
  });
  app.get('/metrics', async (_request, reply) =>
    reply
      .header('cache-control', 'no-store')
      .type('application/openmetrics-text; version=1.0.0; charset=utf-8')
      .send(data.openMetrics()),
  );
}

function seasonRoute(app: FastifyInstance, data: WebData): void {
  app.get<{ Querystring: Record<string, unknown> }>('/api/season', async (request, reply) => {
    const question = seasonQuery(request.query, data.site());
    if (!question.ok) return refuse(reply, question.fault);
    const found = data.season(question.value);
    if (!found.ok) return refuse(reply, seasonFault(found.fault));
    if (request.query['format'] !== 'csv') return json(reply, found.value);
    const name = `season-${data.site().id}-${found.value.from.slice(0, 10)}-${found.value.step}.csv`;
    return reply
      .header('cache-control', 'no-store')
      .header('content-disposition', `attachment; filename="${name}"`)
      .type('text/csv; charset=utf-8; header=present')
      .send(seasonCsv(found.value));
  });
}

function liveRoute(app: FastifyInstance, data: WebData, live: LiveStream): void {
  app.get('/api/live', { exposeHeadRoute: false }, async (request, reply) => {
    if (live.full)
      return refuse(reply, {
        code: 'web_busy',
        message: `${LIMITS.live_listeners_max} pages listen already; close one.`,
      });
    const first = data
      .site()
      .chillers.map((chiller) => data.now(chiller.id))
      .filter((now): now is Now => now !== null && now.time !== null);
    const plant = data.plant();
    reply.hijack();
    live.add(request.raw, reply.raw, HEADERS, first, plant.time === null ? null : plant);
    return reply;
  });
}
