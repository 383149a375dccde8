/**
 * Commands to alarms from the page's form. They end in the agent: nothing here reaches a controller. A browser is
 * believed only where the form came from this page itself; who may see the page at all is for the login before it.
 */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { LIMITS } from '../base/limits.ts';
import type { Fault, Result } from '../base/result.ts';
import { rfc3339 } from '../base/time.ts';
import { chillerNamed, choices } from './query.ts';
import { refuse } from './refuse.ts';
import type { WebData } from './types.ts';

/** Writes a command down; what is wrong with it otherwise. */
export type TakeCommand = (verb: string, payload: string) => Result<unknown>;

interface CommandRoom {
  readonly data: WebData;
  readonly clock: () => number;
  readonly take: TakeCommand;
  /** The page of the alarm, with why its command was refused. */
  readonly page: (request: AlarmRequest, reply: FastifyReply, fault: Fault) => FastifyReply;
}

export type AlarmRequest = FastifyRequest<{ Params: { id: string; alarm: string } }>;

export function commandRoutes(app: FastifyInstance, { data, clock, take, page }: CommandRoom): void {
  app.addContentTypeParser(
    'application/x-www-form-urlencoded',
    { parseAs: 'string', bodyLimit: 2 * LIMITS.command_bytes_max },
    (_request, body, done) => done(null, body),
  );
  app.post<{ Params: { id: string; alarm: string } }>('/alarms/:id/:alarm', async (request, reply) => {
    const foreign = foreignForm(request);
    if (foreign !== null) return refuse(reply, foreign);
    const found = chillerNamed(data.site(), request.params.id);
    if (!found.ok) return refuse(reply, found.fault);
    const form = new URLSearchParams(typeof request.body === 'string' ? request.body : '');
    const verb = form.get('verb') ?? '';
    const { alarm } = request.params;
    const taken = take(verb, payloadOf(form, { chiller: found.value.id, alarm, now: clock() }));
    if (!taken.ok) return page(request, reply.code(taken.fault.code === 'alarm_command' ? 422 : 503), taken.fault);
    const { system, look } = choices(request.query as Record<string, unknown>, data.site());
    const asked = new URLSearchParams({ units: system, ...(look === 'auto' ? {} : { look }), sent: verb });
    return reply.redirect(`${encodeURI(new URL(request.url, 'http://page').pathname)}?${asked}`, 303);
  });
}

/** Fields of the form as the command's payload; those that do not belong to the verb are left out. */
function payloadOf(
  form: URLSearchParams,
  { chiller, alarm, now }: { readonly chiller: string; readonly alarm: string; readonly now: number },
): string {
  const field = (name: string): string | undefined => {
    const text = form.get(name)?.trim() ?? '';
    return text === '' ? undefined : text;
  };
  const hours = Number(form.get('hours'));
  const until = form.get('verb') === 'shelve' && hours > 0 ? { until: rfc3339(now + hours * 3_600_000) } : {};
  const raised = form.get('verb') === 'acknowledge' ? { raised: field('raised') } : {};
  return JSON.stringify({ chiller, alarm, by: field('by'), reason: field('reason'), ...until, ...raised });
}

/** A form that another site's page sent, as far as browsers say; null: none. */
function foreignForm({ headers }: FastifyRequest): Fault | null {
  const site = headers['sec-fetch-site'];
  const own =
    site === undefined
      ? headers.origin === undefined || URL.parse(headers.origin)?.host === headers.host
      : site === 'same-origin';
  if (own) return null;
  return {
    code: 'web_foreign_form',
    message: 'This form was not sent by the page itself: open the page and use its own.',
  };
}
