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
  web_method: 405,
  web_busy: 503,
};

export function refuse(reply: FastifyReply, fault: Fault): FastifyReply {
  return reply
    .code(STATUS[fault.code] ?? 500)
    .type('application/json; charset=utf-8')
    .send(JSON.stringify({ error: { code: fault.code, message: fault.message } }));
}
