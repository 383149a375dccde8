/** Callout packets by address: the page that stands alone, and the same as JSON. */
import type { FastifyInstance } from 'fastify';
import type { Assets } from './assets.ts';
import { calloutDocument, calloutStyle } from './callout-document.ts';
import { chillerNamed, choices } from './query.ts';
import { refuse } from './refuse.ts';
import type { WebData } from './types.ts';

type Asked = { Params: { id: string; event: string }; Querystring: Record<string, unknown> };

/** `event`: `<alarm>` for the last time that it was raised, or `<alarm>.<sequence>`. */
export function calloutRoutes(
  app: FastifyInstance,
  { data, assets }: { readonly data: WebData; readonly assets: Assets },
): void {
  const style = calloutStyle((name) => assets.files.get(name)?.body ?? Buffer.alloc(0));
  app.get<Asked>('/callout/:id/:event', async (request, reply) => {
    const found = chillerNamed(data.site(), request.params.id);
    if (!found.ok) return refuse(reply, found.fault);
    const packet = data.callout(found.value.id, request.params.event);
    if (!packet.ok) return refuse(reply, packet.fault);
    const { system } = choices(request.query, data.site());
    const html = calloutDocument(packet.value, { style, diagram: data.diagram(found.value.id), system });
    return reply
      .header('content-security-policy', `${style.policy}; frame-ancestors 'none'`)
      .header('cache-control', 'no-store')
      .type('text/html; charset=utf-8')
      .send(html);
  });
  app.get<Asked>('/api/chillers/:id/callouts/:event', async (request, reply) => {
    const found = chillerNamed(data.site(), request.params.id);
    if (!found.ok) return refuse(reply, found.fault);
    const packet = data.callout(found.value.id, request.params.event);
    if (!packet.ok) return refuse(reply, packet.fault);
    return reply
      .header('cache-control', 'no-store')
      .type('application/json; charset=utf-8')
      .send(JSON.stringify(packet.value));
  });
}
