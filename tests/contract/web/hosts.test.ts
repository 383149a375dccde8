/**
 * Goal: a page of another site whose name resolves to the agent ("DNS rebinding") reads nothing and commands nothing,
 * and people who open the page by its address or by a name of the site are not kept out. To a browser such a page is
 * of the same origin: Sec-Fetch-Site and Origin agree with Host, which alone tells it (WHATWG Fetch; RFC 9110, 7.2).
 * Reserved names: RFC 6761, 6762, 8375. Requests go over a real socket with the header as written here.
 */
import { connect } from 'node:net';
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { ok } from '../../../agent/base/result.ts';
import { webServer } from '../../../agent/web/server.ts';
import { Fixture } from '../../browser/fixture.ts';

const plant = new Fixture();
plant.mode = 'alarm';
const log = { info: () => undefined, warn: () => undefined, error: () => undefined };
let taken: string[] = [];
const server = webServer({
  data: plant,
  port: 0,
  names: ['Plant-Room.kestrel-quay.example'],
  log,
  clock: () => plant.time,
  command: (verb) => {
    taken.push(verb);
    return ok('stored');
  },
});
let port = 0;
beforeAll(async () => {
  port = Number(new URL((await server.start()).url).port);
});
afterAll(() => server.stop());
beforeEach(() => {
  taken = [];
});

/** Status line and body of one HTTP request, written and read as text. */
function asked(lines: readonly string[], body = ''): Promise<{ status: number; text: string }> {
  return new Promise((resolve, reject) => {
    const socket = connect(port, '127.0.0.1');
    let text = '';
    socket.setEncoding('utf8').on('data', (part: string) => {
      text += part;
    });
    socket.on('error', reject).on('end', () => {
      const status = Number(/^HTTP\/1\.1 (\d{3})/.exec(text)?.[1]);
      resolve({ status, text: text.slice(text.indexOf('\r\n\r\n') + 4) });
      socket.destroy();
    });
    socket.write(`${[...lines, 'Connection: close'].join('\r\n')}\r\n\r\n${body}`);
  });
}

const get = (host: string, path = '/') => asked([`GET ${path} HTTP/1.1`, `Host: ${host}`]);

/** As a browser sends it whose page came from `host` itself. */
function post(host: string) {
  const body = 'verb=acknowledge&by=x';
  const lines = [
    'POST /alarms/ch-1/tank_level_low HTTP/1.1',
    `Host: ${host}`,
    `Origin: http://${host}`,
    'Sec-Fetch-Site: same-origin',
    'Content-Type: application/x-www-form-urlencoded',
    `Content-Length: ${body.length}`,
  ];
  return asked(lines, body);
}

const FOREIGN = [
  'elsewhere.example',
  '127.0.0.1.elsewhere.example',
  'localhost.elsewhere.example',
  'notlocal.example',
  'plant-room.kestrel-quay.example.elsewhere.example',
  'elsewhere.xlocal',
  '10.0.0.5.example',
];

test.each(FOREIGN)('by the name %s nothing is read and nothing commanded', async (name) => {
  const host = `${name}:${port}`;
  for (const path of ['/', '/alarms', '/api/site', '/api/live', '/metrics', '/nothing']) {
    const { status, text } = await get(host, path);
    expect(status, path).toBe(421);
    const { error } = JSON.parse(text) as { error: { code: string; message: string } };
    expect(error.code).toBe('web_unknown_host');
    expect(error.message).toContain(`not known as '${host}'`);
    expect(error.message).toContain('web.names');
  }
  expect((await post(host)).status).toBe(421);
  expect(taken).toEqual([]);
});

test.each([
  '127.0.0.1',
  '10.20.0.7',
  '[::1]',
  '[fd00::7]',
  'localhost',
  'LOCALHOST',
  'localhost.',
  'app.localhost',
  'gateway',
  'gateway.local',
  'gateway.plant.internal',
  'gateway.home.arpa',
  'plant-room.kestrel-quay.example',
  'plant-room.kestrel-quay.example.',
])('by %s the page opens and takes its own form', async (name) => {
  const host = `${name}:${port}`;
  expect((await get(host)).status).toBe(200);
  expect((await get(name)).status).toBe(200);
  expect((await post(host)).status).toBe(303);
  expect(taken).toEqual(['acknowledge']);
});

test('a header that is no name is refused; without one, as HTTP/1.0 may, there is no browser', async () => {
  expect((await get('a b')).status).toBe(421);
  expect((await get('')).status).toBe(421);
  expect((await asked(['GET /healthz HTTP/1.0'])).status).toBe(200);
  expect((await asked(['GET /healthz HTTP/1.1'])).status).toBe(400);
});
