import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { ERRORS } from '../../../agent/base/errors.ts';
import { LIMITS } from '../../../agent/base/limits.ts';
import { webServer } from '../../../agent/web/server.ts';
import type { HistoryFigure, Now, PlantFigure, SiteFigure } from '../../../agent/web/types.ts';
import { type Served, serve } from './served.ts';

let room: Served;
beforeEach(async () => {
  room = await serve();
});
afterEach(() => room.stop());

const get = (path: string, init?: RequestInit): Promise<Response> => fetch(room.url + path, init);
const fault = async (response: Response): Promise<{ code: keyof typeof ERRORS; message: string }> =>
  ((await response.json()) as { error: { code: keyof typeof ERRORS; message: string } }).error;

describe('answers', () => {
  it('stand on loopback', () => {
    expect(room.url).toMatch(/^http:\/\/127\.0\.0\.1:\d+$/);
  });
  it('/api/site, now, diagram, alarms are the data handed in', async () => {
    expect((await (await get('/api/site')).json()) as SiteFigure).toEqual(room.plant.site());
    const now = (await (await get('/api/chillers/CH-1/now')).json()) as Now;
    expect(now).toEqual(JSON.parse(JSON.stringify(room.plant.now('CH-1'))));
    expect(await (await get('/api/chillers/ch-1/now')).json()).toEqual(now);
    const diagram = (await (await get('/api/chillers/CH-1/diagram')).json()) as { liquid: unknown[]; states: unknown };
    expect(diagram).toMatchObject({ refrigerant: 'R-134a', states: now.states });
    expect(diagram.liquid.length).toBeGreaterThan(20);
    expect(await (await get('/api/alarms')).json()).toEqual({ alarms: room.plant.alarms() });
    const plant = (await (await get('/api/site/now')).json()) as PlantFigure;
    expect(plant).toEqual(JSON.parse(JSON.stringify(room.plant.plant())));
    expect(plant).toMatchObject({ chillers: 2, running: 2, unknown: [], time: now.time });
    expect(plant.values['unit.capacity']).toBeCloseTo(4170.988 + 2152.314, 1);
  });
  it('history in buckets', async () => {
    const path =
      '/api/chillers/CH-1/history?metric=unit.capacity&from=2026-07-14T07:42:00Z&to=2026-07-14T08:42:00Z&step=300';
    const history = (await (await get(path)).json()) as HistoryFigure;
    expect(history).toMatchObject({ chiller: 'CH-1', metric: 'unit.capacity', unit: 'kW', step_s: 300 });
    expect(history.points).toHaveLength(12);
    for (const point of history.points) expect(point.least).toBeLessThanOrEqual(point.greatest as number);
    const zoned = path.replace('07:42:00Z', '09:42:00%2B02:00');
    expect(await (await get(zoned)).json()).toEqual(history);
  });
  it('/healthz follows the agent, /metrics is OpenMetrics', async () => {
    expect((await get('/healthz')).status).toBe(200);
    room.plant.trouble_ = 'no minute for 300 s';
    const ill = await get('/healthz');
    expect([ill.status, await ill.json()]).toEqual([503, { healthy: false, trouble: 'no minute for 300 s' }]);
    const metrics = await get('/metrics');
    expect(metrics.headers.get('content-type')).toBe('application/openmetrics-text; version=1.0.0; charset=utf-8');
    expect(await metrics.text()).toMatch(/# EOF\n$/);
  });
  it('carry the security headers, everywhere', async () => {
    for (const path of ['/', '/alarms', '/api/site', '/api/nothing', '/metrics']) {
      const { headers } = await get(path);
      const policy = headers.get('content-security-policy') ?? '';
      expect(policy, path).toContain("default-src 'self'");
      expect(policy).not.toMatch(/unsafe|https?:|\*/);
      expect(headers.get('x-content-type-options')).toBe('nosniff');
      expect(headers.get('referrer-policy')).toBe('no-referrer');
    }
  });
});

describe('bad input', () => {
  const range = 'from=2026-07-14T08:00:00Z&to=2026-07-14T08:42:00Z';
  it.each([
    ['/api/chillers/CH-9/now', 404, 'web_unknown_chiller', /CH-9.*CH-1, CH-2/],
    ['/now/ch-9', 404, 'web_unknown_chiller', /CH-9|ch-9/],
    ['/api/nothing', 404, 'web_not_found', /\/api\/nothing/],
    ['/page/x/..%2Fserver.ts', 404, 'web_not_found', /server/],
    [`/api/chillers/CH-1/history?${range}`, 400, 'web_bad_query', /'metric' is missing/],
    [
      `/api/chillers/CH-1/history?metric=a.b&metric=c.d&${range}`,
      400,
      'web_bad_query',
      /'metric' is given more than once/,
    ],
    [`/api/chillers/CH-1/history?metric=..%2Fetc&${range}`, 400, 'web_bad_query', /'metric'/],
    [`/api/chillers/CH-1/history?metric=unit.nothing&${range}`, 404, 'web_unknown_metric', /unit\.nothing/],
    [
      '/api/chillers/CH-1/history?metric=unit.power&from=yesterday&to=2026-07-14T08:42:00Z',
      400,
      'web_bad_query',
      /'from' is 'yesterday'/,
    ],
    [
      '/api/chillers/CH-1/history?metric=unit.power&from=2026-13-45T08:00:00Z&to=2026-07-14T08:42:00Z',
      400,
      'web_bad_query',
      /'from'/,
    ],
    [
      '/api/chillers/CH-1/history?metric=unit.power&from=2026-07-14T08:42:00Z&to=2026-07-14T08:00:00Z',
      400,
      'web_bad_query',
      /earlier/,
    ],
    [`/api/chillers/CH-1/history?metric=unit.power&${range}&step=-5`, 400, 'web_bad_query', /'step'/],
    [`/api/chillers/CH-1/history?metric=unit.power&${range}&step=1.5`, 400, 'web_bad_query', /'step'/],
    [
      '/api/chillers/CH-1/history?metric=unit.power&from=2026-01-01T00:00:00Z&to=2026-07-14T08:42:00Z&step=1',
      400,
      'web_too_many_points',
      /step of at least \d+ s/,
    ],
    [
      '/api/chillers/CH-1/history?metric=unit.power&from=2026-01-01T00:00:00Z&to=2026-07-14T08:42:00Z',
      400,
      'web_too_many_points',
      /at most 4000/,
    ],
    ['/%E0%A4%A', 400, 'web_bad_query', /./],
  ] as const)('%s: %d %s', async (path, status, code, message) => {
    const response = await get(path);
    expect(response.status).toBe(status);
    expect(response.headers.get('content-type')).toContain('application/json');
    const said = await fault(response);
    expect(said.code).toBe(code);
    expect(said.message).toMatch(message);
    expect(ERRORS[said.code].action).not.toBe('');
  });
  it('the step that the message names is answered', async () => {
    const from = 'from=2026-01-01T00:00:00Z&to=2026-07-14T08:42:00Z&metric=unit.power';
    const said = await fault(await get(`/api/chillers/CH-1/history?${from}&step=1`));
    const step = /at least (\d+) s/.exec(said.message)?.[1];
    const answer = await get(`/api/chillers/CH-1/history?${from}&step=${step}`);
    expect(answer.status).toBe(200);
    expect(((await answer.json()) as HistoryFigure).points.length).toBeLessThanOrEqual(LIMITS.history_points_max);
  });
  it('only reads: every other method is 405', async () => {
    for (const method of ['POST', 'PUT', 'DELETE', 'PATCH']) {
      const response = await get('/api/chillers/CH-1/now', {
        method,
        body: '{}',
        headers: { 'content-type': 'application/json' },
      });
      expect(response.status, method).toBe(405);
      expect(response.headers.get('allow')).toBe('GET, HEAD');
      expect((await fault(response)).code).toBe('web_method');
    }
  });
  it('units and look that nobody knows leave the page as the site has it', async () => {
    const html = await (await get('/?units=furlong&look=%3Cscript%3E')).text();
    expect(html).toContain('value="ip" checked');
    expect(html).not.toContain('furlong');
  });
});

describe('a data call that throws', () => {
  it.each(['site', 'now', 'plant', 'diagram', 'history', 'alarms'] as const)(
    '%s: 500 and the room lives on',
    async (what) => {
      const paths = {
        site: '/api/site',
        now: '/api/chillers/CH-1/now',
        plant: '/api/site/now',
        diagram: '/api/chillers/CH-1/diagram',
        alarms: '/api/alarms',
        history: '/api/chillers/CH-1/history?metric=unit.power&from=2026-07-14T08:00:00Z&to=2026-07-14T08:42:00Z',
      };
      room.plant.fail = what;
      const response = await get(paths[what]);
      expect(response.status).toBe(500);
      const said = await fault(response);
      expect(said.code).toBe('internal');
      expect(said.message).not.toContain('planted');
      expect(room.said.some((line) => line.includes(`planted failure of ${what}`))).toBe(true);
      room.plant.fail = null;
      expect((await get(paths[what])).status).toBe(200);
    },
  );
  it('history alone does not cost the page', async () => {
    room.plant.fail = 'history';
    const response = await get('/');
    expect(response.status).toBe(200);
    expect(await response.text()).toContain('data-metric="unit.capacity"');
  });
});

describe('the port', () => {
  it('that is taken is named, with the code', async () => {
    const port = Number(new URL(room.url).port);
    const log = { info: () => undefined, warn: () => undefined, error: () => undefined };
    const second = webServer({ data: room.plant, port, log });
    await expect(second.start()).rejects.toThrow(
      new RegExp(
        `^web_port: 127\\.0\\.0\\.1:${port} .*EADDRINUSE.*: stop what uses it, or set web\\.port in the site file$`,
      ),
    );
    await second.stop();
    await second.stop();
  });
  it('at an address of another machine: says to set the host', async () => {
    const log = { info: () => undefined, warn: () => undefined, error: () => undefined };
    // TEST-NET-1 of RFC 5737: no machine has it
    const server = webServer({ data: room.plant, host: '192.0.2.1', port: 0, log });
    await expect(server.start()).rejects.toThrow(/^web_port: 192\.0\.2\.1:0 .*set web\.host in the site file/);
    await server.stop();
  });
});
