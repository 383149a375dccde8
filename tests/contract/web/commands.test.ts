/**
 * Goal: the form of the alarms page hands on what a person says, once and as it is, refuses what another site's page
 * sends, and shows why a command is refused; without a taker the page only reads. Browsers say where a form comes from
 * by Sec-Fetch-Site (W3C Fetch Metadata) and Origin (RFC 6454).
 */
import { afterAll, beforeAll, beforeEach, expect, onTestFinished, test } from 'vitest';
import { fail, ok, type Result } from '../../../agent/base/result.ts';
import { webServer } from '../../../agent/web/server.ts';
import { Fixture } from '../../browser/fixture.ts';

let answer: Result<unknown> = ok('stored');
let taken: [string, unknown][] = [];
const plant = new Fixture();
plant.mode = 'alarm';
const log = { info: () => undefined, warn: () => undefined, error: () => undefined };
const command = (verb: string, payload: string): Result<unknown> => {
  taken.push([verb, JSON.parse(payload)]);
  return answer;
};
const room = { data: plant, port: 0, log, clock: () => plant.time };
const server = webServer({ ...room, command });
let url = '';
beforeAll(async () => {
  ({ url } = await server.start());
});
afterAll(() => server.stop());
beforeEach(() => {
  answer = ok('stored');
  taken = [];
});

function post(
  fields: Record<string, string>,
  headers: Record<string, string> = {},
  path = '/alarms/ch-1/tank_level_low',
): Promise<Response> {
  return fetch(url + path, { method: 'POST', body: new URLSearchParams(fields), headers, redirect: 'manual' });
}

const ACKNOWLEDGE = {
  verb: 'acknowledge',
  by: ' duty engineer ',
  reason: '',
  hours: '8',
  raised: '2026-07-14T08:36:00Z',
};

test('an acknowledgement is handed on and the page of the alarm shown again, units and look as they were', async () => {
  const reply = await post(ACKNOWLEDGE, {}, '/alarms/ch-1/tank_level_low?units=si&look=dark');
  expect(reply.status).toBe(303);
  expect(reply.headers.get('location')).toBe('/alarms/ch-1/tank_level_low?units=si&look=dark&sent=acknowledge');
  const payload = { chiller: 'CH-1', alarm: 'tank_level_low', by: 'duty engineer', raised: '2026-07-14T08:36:00Z' };
  expect(taken).toEqual([['acknowledge', payload]]);
});

test('a shelf ends so many hours from now', async () => {
  await post({ verb: 'shelve', by: 'x', reason: 'leak check booked', hours: '24', raised: '2026-07-14T08:36:00Z' });
  const until = new Date(plant.time + 24 * 3_600_000).toISOString().replace('.000Z', 'Z');
  expect(taken).toEqual([
    ['shelve', { chiller: 'CH-1', alarm: 'tank_level_low', by: 'x', reason: 'leak check booked', until }],
  ]);
});

test.each([
  [{ 'sec-fetch-site': 'cross-site' }],
  [{ 'sec-fetch-site': 'same-site' }],
  [{ 'sec-fetch-site': 'none' }],
  [{ origin: 'http://elsewhere.example' }],
  [{ origin: 'null' }],
])('a form of another page is refused: %j', async (headers) => {
  const reply = await post(ACKNOWLEDGE, headers);
  expect(reply.status).toBe(403);
  expect(((await reply.json()) as { error: { code: string } }).error.code).toBe('web_foreign_form');
  expect(taken).toEqual([]);
});

test('the page’s own form is taken, as either header says', async () => {
  expect((await post(ACKNOWLEDGE, { 'sec-fetch-site': 'same-origin', origin: url })).status).toBe(303);
  expect((await post(ACKNOWLEDGE, { origin: url })).status).toBe(303);
  expect(taken).toHaveLength(2);
});

test('why it is refused stands on the page, as text', async () => {
  answer = fail('alarm_command', 'shelve: reason: <b>say</b> why');
  const reply = await post({ verb: 'shelve', by: 'x' });
  expect(reply.status).toBe(422);
  const html = await reply.text();
  expect(html).toContain('<b>Refused</b> shelve: reason: &lt;b&gt;say&lt;/b&gt; why');
  expect(html).toContain('liquid seal lost in the flash tank');
});

test('where the store takes nothing, that is the status', async () => {
  answer = fail('history_disk_full', 'the disk is full');
  expect((await post(ACKNOWLEDGE)).status).toBe(503);
});

test('what was sent is said, by no other word than a command', async () => {
  const at = `${url}/alarms/ch-1/tank_level_low`;
  expect(await (await fetch(`${at}?sent=shelve`)).text()).toContain('<b>Written down</b> shelve');
  expect(await (await fetch(`${at}?sent=%3Cb%3E`)).text()).not.toContain('Written down');
});

test('a body that is no form, or too long, is told', async () => {
  const json = { method: 'POST', body: '{}', headers: { 'content-type': 'application/json' } };
  const how: RequestInit = { ...json, redirect: 'manual' };
  const empty = await fetch(`${url}/alarms/ch-1/tank_level_low`, how);
  expect(empty.status).toBe(303);
  expect(taken).toEqual([['', { chiller: 'CH-1', alarm: 'tank_level_low' }]]);
  expect((await post({ ...ACKNOWLEDGE, reason: 'x'.repeat(10_000) })).status).toBeGreaterThanOrEqual(400);
  expect((await post(ACKNOWLEDGE, {}, '/alarms/ch-9/tank_level_low')).status).toBe(404);
});

test('without a taker the page only reads, and has no form', async () => {
  const reading = webServer(room);
  const { url: at } = await reading.start();
  onTestFinished(() => reading.stop());
  const body = new URLSearchParams(ACKNOWLEDGE);
  const reply = await fetch(`${at}/alarms/ch-1/tank_level_low`, { method: 'POST', body });
  expect([reply.status, reply.headers.get('allow')]).toEqual([405, 'GET, HEAD']);
  expect(taken).toEqual([]);
  expect(await (await fetch(`${at}/alarms`)).text()).not.toContain('<form class="deeds"');
});
