/** The page's own addresses: its views and their static parts. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { isVerb } from '../alarms/commands.ts';
import type { Fault } from '../base/result.ts';
import type { Assets } from './assets.ts';
import { type AlarmRequest, commandRoutes, type TakeCommand } from './command-routes.ts';
import { documentOf } from './document.ts';
import { type LastKnown, pageData, type Unread } from './page-data.ts';
import type { PageName, SeasonPage } from './page-types.ts';
import { chillerNamed, choices } from './query.ts';
import { refuse } from './refuse.ts';
import { seasonPage, seasonWho } from './season-page.ts';
import type { WebData } from './types.ts';

export type WithId = { Params: { id: string }; Querystring: Record<string, unknown> };

interface PageRoom {
  readonly data: WebData;
  readonly assets: Assets;
  readonly last: LastKnown;
  readonly clock: () => number;
  readonly unread: Unread;
  /** Null: the page takes no commands. */
  readonly command: TakeCommand | null;
}

/** Which view is asked for, and of what. */
interface Sent {
  readonly page: PageName;
  readonly chosen: string;
  readonly season?: SeasonPage | null;
  readonly alarm?: string | null;
  /** Why the form that was sent is refused. */
  readonly refused?: string;
}

export function pageRoutes(app: FastifyInstance, room: PageRoom): void {
  const { data, assets, last, clock, unread, command } = room;
  const send = (
    request: FastifyRequest,
    reply: FastifyReply,
    { page, chosen, season = null, alarm = null, refused }: Sent,
  ): FastifyReply => {
    const at = clock();
    const { sent } = request.query as Record<string, unknown>;
    const told = { sent: typeof sent === 'string' && isVerb(sent) ? sent : null, refused: refused ?? null };
    const desk = command === null || page !== 'alarms' ? null : told;
    const view = {
      ...pageData(data, last, { chosen, clock: at, page, alarm, desk }, unread),
      ...choices(request.query as Record<string, unknown>, data.site()),
      clock: at,
      page,
      season,
    };
    return reply.header('cache-control', 'no-store').type('text/html; charset=utf-8').send(documentOf(view, assets));
  };
  const first = (): string => data.site().chillers[0]?.id ?? '';
  app.get('/', async (request, reply) => send(request, reply, { page: 'now', chosen: first() }));
  app.get('/alarms', async (request, reply) => send(request, reply, { page: 'alarms', chosen: first() }));
  const alarmPage = (request: AlarmRequest, reply: FastifyReply, fault?: Fault): FastifyReply => {
    const { id, alarm } = request.params;
    const found = chillerNamed(data.site(), id);
    if (!found.ok) return refuse(reply, found.fault);
    const chosen = found.value.id;
    const refused = fault === undefined ? {} : { refused: fault.message };
    return send(request, reply, { page: 'alarms', chosen, alarm: `${chosen.toLowerCase()}/${alarm}`, ...refused });
  };
  app.get<{ Params: { id: string; alarm: string } }>('/alarms/:id/:alarm', async (request, reply) =>
    alarmPage(request, reply),
  );
  if (command !== null) commandRoutes(app, { data, clock, take: command, page: alarmPage });
  app.get<WithId>('/season/:id', async (request, reply) => {
    const who = seasonWho(data.site(), request.params.id);
    if (!who.ok) return refuse(reply, who.fault);
    const season = seasonPage(data, { who: who.value, query: request.query, clock: clock() });
    return send(request, reply, { page: 'season', chosen: who.value ?? first(), season });
  });
  app.get<WithId>('/now/:id', async (request, reply) => {
    const found = chillerNamed(data.site(), request.params.id);
    return found.ok ? send(request, reply, { page: 'now', chosen: found.value.id }) : refuse(reply, found.fault);
  });
  app.get<{ Params: { version: string; name: string } }>('/page/:version/:name', async (request, reply) => {
    const asset = assets.files.get(request.params.name);
    if (asset === undefined)
      return refuse(reply, { code: 'web_not_found', message: `There is no ${request.params.name.slice(0, 60)}.` });
    const current = request.params.version === assets.version;
    reply.header('etag', asset.etag).header('vary', 'accept-encoding').type(asset.type);
    reply.header('cache-control', current ? 'public, max-age=31536000, immutable' : 'no-cache');
    if (request.headers['if-none-match'] === asset.etag) return reply.code(304).send();
    const accepted = String(request.headers['accept-encoding'] ?? '');
    if (asset.brotli !== null && /\bbr\b/.test(accepted))
      return reply.header('content-encoding', 'br').send(asset.brotli);
    if (asset.gzip !== null && /\bgzip\b/.test(accepted))
      return reply.header('content-encoding', 'gzip').send(asset.gzip);
    return reply.send(asset.body);
  });
}
