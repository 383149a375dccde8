/**
 * Goal: `alarm` lists what stands and writes commands that the next minute takes in, beside a running agent. Method:
 * the verb on a real store, the fold of a real chiller over it.
 */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { command } from '../../../agent/commands/alarm.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import { type FolderLock, lockFolder } from '../../../agent/history/lock.ts';
import type { ChillerSite, Site } from '../../../agent/site/site.ts';
import { ChillerWatch } from '../../../agent/watch.ts';

const EXAMPLE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;
const T0 = 1_795_000_020_000;
const LOST = { state: 'lost', since: T0, reason: 'no reply within 1000 ms', counters: {} } as const;

let folder: string;
let config: string;
let site: Site;
let history: History;
let lock: FolderLock;
let watch: ChillerWatch;
let minutes = 0;

beforeEach(async () => {
  folder = mkdtempSync(path.join(tmpdir(), 'tonhour-alarm-'));
  config = path.join(folder, 'site.yaml');
  cpSync(EXAMPLE, config);
  const store = path.join(folder, 'store');
  writeFileSync(config, readFileSync(config, 'utf8').replace('folder: history', `folder: ${store}`));
  const read = await loadSite(config, { env: {} });
  if (!read.ok) throw new Error(JSON.stringify(read.fault));
  site = read.value;
  lock = must(lockFolder(store));
  history = must(openHistory({ folder: store }));
  const chiller = site.chillers[0] as ChillerSite;
  const clock = { now: () => T0 + minutes * 60_000, monotonic: () => 0 };
  watch = must(ChillerWatch.open({ site, chiller, history, clock, root: 'tonhour/kestrel-quay' }));
  minutes = 0;
});
afterEach(() => {
  history.close();
  lock.release();
  rmSync(folder, { recursive: true, force: true });
});

function minute(): void {
  const from = T0 + minutes * 60_000;
  minutes += 1;
  must(watch.fold({ from, to: from + 60_000, missed: 0 }, LOST));
}

async function alarm(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const [action = '', ...rest] = args;
  const [out, err] = [new PassThrough(), new PassThrough()];
  const io = { in: Readable.from([]), out, err, stop: new AbortController().signal };
  const code = await command.run([action, '--config', config, ...rest], io);
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

const THIS = ['--chiller', 'CH-1', '--alarm', 'controller-lost'];

test('what stands is listed, acknowledged by name, and published so by the next minute', async () => {
  expect(await alarm('list')).toEqual({ code: 0, out: '', err: 'every alarm is normal\n' });
  minute();
  expect((await alarm('list')).out).toMatch(/2 +CH-1 +controller-lost +unacknowledged +2026-11-18 11:08/);
  const done = await alarm('acknowledge', ...THIS, '--by', 'duty engineer');
  expect([done.code, done.err]).toEqual([0, '']);
  minute();
  expect((await alarm('list')).out).toMatch(/acknowledged .* by duty engineer, 2026-11-18 11:09/);
  const messages = history.outbox.oldest('mqtt', 100).filter(({ address }) => address.endsWith('controller-lost'));
  expect(messages.map(({ payload }) => JSON.parse(payload).state)).toEqual(['unacknowledged', 'acknowledged']);
  const journal = must(history.alarmJournal({ chiller: 'CH-1', from: 0, to: 4e12, count: 9 }));
  expect(journal.map(({ state }) => state)).toEqual(['acknowledged', 'unacknowledged']);
});

test('a shelf has an end, a name and a reason', async () => {
  minute();
  const why = ['--by', 'service contractor', '--reason', 'switch being replaced'];
  expect((await alarm('shelve', ...THIS, ...why)).code).toBe(0);
  minute();
  expect((await alarm('list')).out).toMatch(/shelved .* until 2026-11-18 19:09, by service contractor: switch being/);
  expect(JSON.parse((await alarm('list', '--json')).out)).toMatchObject({
    change: 'shelved',
    active: true,
    shelf: { by: 'service contractor', reason: 'switch being replaced', until: '2026-11-18T19:09:00Z' },
  });
  expect((await alarm('unshelve', ...THIS, '--by', 'service contractor')).code).toBe(0);
  minute();
  expect((await alarm('list')).out).toMatch(/unacknowledged/);
});

test.each([
  [[], /say first what to do/],
  [['open'], /say first what to do/],
  [['acknowledge', '--chiller', 'CH-1', '--by', 'x'], /--alarm is missing/],
  [['acknowledge', ...THIS], /--by is missing/],
  [['shelve', ...THIS, '--by', 'x'], /reason: say why/],
  [['shelve', ...THIS, '--by', 'x', '--reason', 'y', '--until', '2020-01-01T00:00:00Z'], /is over already/],
  [['shelve', ...THIS, '--by', 'x', '--reason', 'y', '--until', '2199-01-01T00:00:00Z'], /too far: at most 7 days/],
  [['shelve', ...THIS, '--by', 'x', '--reason', 'y', '--until', 'tomorrow'], /until: /],
  [['acknowledge', '--chiller', 'CH-1', '--alarm', 'nothing', '--by', 'x'], /CH-1 has no alarm 'nothing'/],
  [['acknowledge', '--chiller', 'CH-9', '--alarm', 'nothing', '--by', 'x'], /no chiller 'CH-9'/],
])('a wrong call is told: %j', async (args, message) => {
  const { code, out, err } = await alarm(...args);
  expect([code, out]).toEqual([2, '']);
  expect(err).toMatch(message);
});
