/** How a request is refused: the status of each fault, its code and its words. */
import type { FastifyReply } from 'fastify';
import type { ErrorCode } from '../base/errors.ts';
import type { Fault } from '../base/result.ts';

const STATUS: Partial<Record<ErrorCode, number>> = {
  web_bad_query: 400,
  web_too_many_points: 400,
  web_unknown_chiller: 404,
  web_unknown_metric: 404,
  web_not_found: 404,
  callout_unknown: 404,
  web_method: 405,
  web_foreign_form: 403,
  web_unknown_host: 421,
  web_busy: 503,
  history_io: 503,
  history_corrupt: 503,
};

/** A season that is not answered: the question was wrong, or the store cannot be read. */
export function seasonFault({ code, message }: Fault): Fault {
  return code === 'usage'
    ? { code: 'web_bad_query', message: `A season is not answered: ${message}.` }
    : { code, message };
}

export function refuse(reply: FastifyReply, fault: Fault): FastifyReply {
  return reply
    .code(STATUS[fault.code] ?? 500)
    .type('application/json; charset=utf-8')
    .send(JSON.stringify({ error: { code: fault.code, message: fault.message } }));
}
