/**
 * Goal: `season` and `log` do on a real store, held by a writer, what they say. Method: a few days over the start of
 * summer time in Lisbon (30 March 2025, 01:00 UTC: IANA time zone data base, rule EU), read while the writer has the
 * store open; sums made anew in the test.
 */
import { spawnSync } from 'node:child_process';
import { closeSync, openSync, readdirSync, writeSync } from 'node:fs';
import path from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { PassThrough, Readable } from 'node:stream';
import { afterAll, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import type { Command } from '../../../agent/commands/io.ts';
import { command as log } from '../../../agent/commands/log.ts';
import { command as season } from '../../../agent/commands/season.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { lockFolder } from '../../../agent/history/lock.ts';
import { FILE_NAME } from '../../../agent/history/open.ts';
import type { SeasonFigure } from '../../../agent/season/season.ts';
import { closeTo, KW_PER_TON } from '../../unit/season/helpers.ts';
import { fill, given, type Place, place, QUARTER } from '../../unit/season/stored.ts';

const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;
const FROM = Date.UTC(2025, 2, 29);
const TO = Date.UTC(2025, 3, 1, 12);
let there: Place;

beforeAll(() => {
  there = place();
  fill(there.history, { from: FROM, to: TO });
});
afterAll(() => there.remove());

async function run(command: Command, ...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const [out, err] = [new PassThrough(), new PassThrough()];
  const code = await command.run(args, { in: Readable.from([]), out, err, stop: new AbortController().signal });
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

async function figure(config: string, ...args: string[]): Promise<SeasonFigure> {
  const { code, out, err } = await run(season, '--config', config, '--chiller', 'CH-1', '--json', ...args);
  expect([code, err]).toEqual([0, '']);
  return JSON.parse(out) as SeasonFigure;
}

const DAYS = ['--from', '2025-03-29', '--to', '2025-03-31'];

/** Straight sums over the same quarters of an hour. */
function straight(from: number, to: number) {
  let [kwh, ton_hours, used, standing, saved] = [0, 0, 0, 0, 0];
  for (let time = from + QUARTER; time <= to; time += QUARTER) {
    const it = given(time);
    if (it?.state === 'standstill') standing += 15;
    if (it?.capacity == null || it.power == null) continue;
    used += 15;
    kwh += it.power / 4;
    ton_hours += it.capacity / KW_PER_TON / 4;
    saved += (it.more?.['economizer.power_saved'] ?? 0) / 4;
  }
  return { kwh, ton_hours, used, standing, saved };
}

function expectStraight(found: SeasonFigure, from: number, to: number): void {
  const sums = straight(from, to);
  expect(found.kwh).toBeCloseTo(sums.kwh, 6);
  expect(found.ton_hours).toBeCloseTo(sums.ton_hours, 6);
  expect(found.kw_per_ton).toBeCloseTo(sums.kwh / sums.ton_hours, 9);
  expect(found.economizer.saved.kwh).toBeCloseTo(sums.saved, 6);
  expect([found.minutes_used, found.minutes_standing]).toEqual([sums.used, sums.standing]);
  expect(found.minutes_due).toBe((to - from) / 60_000);
}

describe('season', () => {
  test('three days, one of 23 hours, beside the writer', async () => {
    const found = await figure(there.config, ...DAYS);
    expectStraight(found, FROM, Date.UTC(2025, 2, 31, 23));
    expect(found.days.map(({ name, hours, minutes_due }) => [name, hours, minutes_due])).toEqual([
      ['2025-03-29', 24, 1440],
      ['2025-03-30', 23, 1380],
      ['2025-03-31', 24, 1440],
    ]);
    const [, short] = found.days;
    expect(short?.kwh).toBeCloseTo(straight(Date.UTC(2025, 2, 30), Date.UTC(2025, 2, 30, 23)).kwh, 6);
    expect(found.money?.energy).toBeCloseTo(0.14 * ((found.kwh ?? 0) + (found.kwh_standing ?? 0)), 9);
    expect(found.minutes_lacking).toBe(found.minutes_due - found.minutes_used - found.minutes_standing);
    expect(found.lacking.not_recorded).toBeGreaterThan(0);
  });

  test('instants are taken as they are, and parts of hours are summed by their minutes', async () => {
    const found = await figure(there.config, '--from', '2025-03-29T10:30:00Z', '--to', '2025-03-29T13:45:00Z');
    expectStraight(found, Date.UTC(2025, 2, 29, 10, 30), Date.UTC(2025, 2, 29, 13, 45));
  });

  test('hours kept as sums are those of their minutes: without them the season is the same', async () => {
    const other = place();
    onTestFinished(() => other.remove());
    fill(other.history, { from: FROM, to: TO });
    const before = await figure(other.config, ...DAYS);
    other.history.close();
    const database = new DatabaseSync(path.join(other.folder, FILE_NAME));
    const rows = database.prepare('SELECT count(*) AS n FROM season_hour').get() as { n: number };
    database.exec('DELETE FROM season_hour');
    database.close();
    // 3.5 days of closed hours; the last one is still open.
    expect(rows.n).toBe(83);
    const after = await figure(other.config, ...DAYS);
    expect(closeTo(after, before)).toBe(true);
  });

  test('an hour that a clock set back opens again is summed again', async () => {
    const other = place();
    onTestFinished(() => other.remove());
    fill(other.history, { from: FROM, to: FROM + 8 * QUARTER });
    const again = { chiller: 'CH-1', state: '{}', messages: [], fast: [], alarmEvents: [] };
    const record = (power: number): string =>
      JSON.stringify({ interval_s: 900, state: 'steady', values: { 'unit.power': power, 'unit.capacity': 4000 } });
    // Back into the first hour, then on past its end.
    const period = ['--from', '2025-03-29T00:00:00Z', '--to', '2025-03-29T04:00:00Z'];
    for (const [index, quarters] of [3.2, 8.4, 12.4].entries()) {
      const time = FROM + quarters * QUARTER;
      must(other.history.commitMinute({ ...again, sequence: 100 + index, time, record: record(1000) }));
      const found = await figure(other.config, ...period);
      expect(found.kwh).toBeCloseTo(straight(FROM, FROM + 8 * QUARTER).kwh + (index + 1) * 250, 6);
    }
  });

  test('a zone off the full hour', async () => {
    const other = place((text) => text.replace('Europe/Lisbon', 'Asia/Kolkata'));
    onTestFinished(() => other.remove());
    fill(other.history, { from: FROM, to: TO });
    const found = await figure(other.config, '--from', '2025-03-30', '--to', '2025-03-31');
    // Kolkata is 5:30 ahead of UTC all year.
    const start = Date.UTC(2025, 2, 29, 18, 30);
    expectStraight(found, start, start + 48 * 3_600_000);
  });

  test('as a process, a table for people', () => {
    const args = [MAIN, 'season', '--config', there.config, '--chiller', 'CH-1', ...DAYS];
    const { status, stdout, stderr } = spawnSync(process.execPath, args, { encoding: 'utf8' });
    expect([status, stderr]).toEqual([0, '']);
    expect(stdout).toContain('CH-1, Chiller 1: 2025-03-29 00:00 to 2025-04-01 00:00 (Europe/Lisbon)');
    expect(stdout).toMatch(/energy per cooling +0\.\d+ ± 0\.\d+ +kW\/ton/);
    expect(stdout).toMatch(/cost of both +[\d ]+ ± [\d ]+ +EUR +at 0\.14 EUR\/kWh/);
    expect(stdout).toContain('field value, not a certified rating');
    expect(stdout).toContain('2025-03-30');
  });

  test.each([
    [['--from', '2025-02-30'], '2025-02-30'],
    [['--from', 'yesterday'], 'yesterday'],
    [['--from', '2025-03-29', '--to', '2025-03-01'], 'nothing lies between'],
    [['--from', '2001-01-01'], 'longer than'],
    [['--from', '2025-03-29', '--chiller', 'CH-9'], 'there are CH-1'],
    [['--frm', '2025-03-29'], '--frm'],
  ])('wrong call %j', async (args, words) => {
    const { code, out, err } = await run(season, '--config', there.config, ...args);
    expect([code, out]).toEqual([2, '']);
    expect(err.split('\n')[0]).toContain(words);
  });

  test('no history yet, and nothing is made of it', async () => {
    const other = place((text) => text.replace(/folder: (.*)history/, 'folder: $1elsewhere'));
    onTestFinished(() => other.remove());
    const { code, err } = await run(season, '--config', other.config, ...DAYS);
    expect(code).toBe(1);
    expect(err).toContain('is not there');
    expect(readdirSync(path.dirname(other.config))).not.toContain('elsewhere');
  });

  test('a period without minutes: no figure, and why', async () => {
    const found = await figure(there.config, '--from', '2024-06-01', '--to', '2024-06-30');
    expect([found.kwh, found.ton_hours, found.kw_per_ton, found.minutes_used]).toEqual([null, null, null, 0]);
    expect(found.reasons['kwh']).toBe('no minute is recorded');
    expect(found.lacking.not_recorded).toBe(30 * 1440);
  });
});

test('a damaged store: hours and maintenance log are carried over into the new one', async () => {
  const other = place();
  onTestFinished(() => other.remove());
  fill(other.history, { from: FROM, to: TO });
  const before = await figure(other.config, ...DAYS);
  const work = ['--kind', 'sensor_replaced', '--text', 'flow', '--time', '2025-03-30T09:00:00Z'];
  expect((await run(log, '--config', other.config, '--chiller', 'CH-1', ...work)).code).toBe(0);
  other.history.close();
  const file = path.join(other.folder, FILE_NAME);
  const database = new DatabaseSync(file);
  const leaf = database
    .prepare("SELECT pageno, pgsize FROM dbstat WHERE name = 'block' AND pagetype = 'leaf' LIMIT 1")
    .get() as { pageno: number; pgsize: number };
  database.close();
  const handle = openSync(file, 'r+');
  writeSync(handle, Buffer.alloc(leaf.pgsize, 0xa5), 0, leaf.pgsize, (leaf.pageno - 1) * leaf.pgsize);
  closeSync(handle);
  const again = must(openHistory({ folder: other.folder }));
  onTestFinished(() => again.close());
  expect(again.counters().files_put_aside).toBe(1);
  expect(must(again.maintenance({ chiller: 'CH-1', from: 0, to: Date.now() })).map(({ text }) => text)).toEqual([
    'flow',
  ]);
  const after = await figure(other.config, ...DAYS);
  expect([after.kwh, after.minutes_used]).toEqual([expect.closeTo(before.kwh ?? 0, 6), before.minutes_used]);
});

describe('log', () => {
  const entry = (...args: string[]) => run(log, '--config', there.config, '--chiller', 'CH-1', ...args);

  test('entries are kept in order of the work, beside a running agent, and cannot be changed', async () => {
    const lock = must(lockFolder(there.folder));
    onTestFinished(() => lock.release());
    const done = ['--time', '2025-03-30T09:00:00Z', '--json'];
    const first = await entry('--kind', 'tubes_cleaned', '--text', 'condenser, brushed', ...done);
    const second = await entry(
      '--kind',
      'refrigerant_added',
      '--text',
      'after a gasket',
      '--mass',
      '30 lb',
      '--time',
      '2025-03-29T09:00:00Z',
    );
    expect([first.code, second.code]).toEqual([0, 0]);
    expect(first.err).toBe('');
    expect(second.err).toContain('40 CFR 82.157');
    expect(second.err).toContain('local law');
    const { out } = await run(log, '--config', there.config, '--list', '--json');
    const entries = out
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line) as Record<string, unknown>);
    expect(entries.map(({ kind, time, mass_kg }) => [kind, time, mass_kg])).toEqual([
      // The international pound is 0.45359237 kg.
      ['refrigerant_added', '2025-03-29T09:00:00Z', 13.6077711],
      ['tubes_cleaned', '2025-03-30T09:00:00Z', null],
    ]);
    const found = (await figure(there.config, ...DAYS)) as SeasonFigure & { maintenance: readonly unknown[] };
    expect(found.maintenance).toHaveLength(2);
    const database = new DatabaseSync(path.join(there.folder, FILE_NAME));
    onTestFinished(() => database.close());
    expect(() => database.exec("UPDATE maintenance SET text = 'never'")).toThrow('only grows');
    expect(() => database.exec('DELETE FROM maintenance')).toThrow('only grows');
  });

  test.each([
    [['--kind', 'refrigerant_added', '--text', 'topped up'], '--mass is missing'],
    [['--kind', 'refrigerant_added', '--text', 'x', '--mass', '12'], '--mass 12'],
    [['--kind', 'refrigerant_added', '--text', 'x', '--mass', '-3 kg'], '--mass'],
    [['--kind', 'refrigerant_added', '--text', 'x', '--mass', '90000 kg'], '--mass 90000 kg'],
    [['--kind', 'tubes_cleaned', '--text', 'x', '--mass', '3 kg'], 'refrigerant_added alone'],
    [['--kind', 'painted', '--text', 'x'], 'tubes_cleaned'],
    [['--kind', 'other', '--text', '  '], '--text is empty'],
    [['--kind', 'other', '--text', 'x', '--time', 'noon'], '--time noon'],
    [['--kind', 'other', '--text', 'x', '--time', '9999-01-01T00:00:00Z'], 'still to come'],
    [['--kind', 'other'], '--text is missing'],
  ])('wrong call %j writes nothing', async (args, words) => {
    const before = await run(log, '--config', there.config, '--list');
    const { code, err } = await entry(...args);
    expect(code).toBe(2);
    expect(err.split('\n')[0]).toContain(words);
    expect((await run(log, '--config', there.config, '--list')).out).toBe(before.out);
  });

  test('a store of the version before: read as it is, written once no older agent holds it', async () => {
    const other = place();
    onTestFinished(() => other.remove());
    fill(other.history, { from: FROM, to: FROM + 20 * QUARTER });
    other.history.close();
    const database = new DatabaseSync(path.join(other.folder, FILE_NAME));
    database.exec(
      `DROP TABLE season_hour; DROP TABLE maintenance; DROP INDEX block_time; DROP TABLE command;
       DELETE FROM schema_version WHERE version > 1`,
    );
    database.close();
    expectStraight(
      await figure(other.config, '--from', '2025-03-29T00:00:00Z', '--to', '2025-03-29T05:00:00Z'),
      FROM,
      FROM + 20 * QUARTER,
    );
    const args = ['--config', other.config, '--chiller', 'CH-1', '--kind', 'other', '--text', 'belt'];
    const lock = must(lockFolder(other.folder));
    const held = await run(log, ...args);
    lock.release();
    expect([held.code, held.err]).toEqual([1, expect.stringContaining('start that agent anew')]);
    expect((await run(log, ...args)).code).toBe(0);
    expect(readdirSync(other.folder).some((name) => name.includes('.version-1-'))).toBe(true);
    expect((await run(log, '--config', other.config, '--list')).out).toContain('CH-1  other: belt');
  });
});
