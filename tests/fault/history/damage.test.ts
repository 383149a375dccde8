/**
 * Goal: a damaged file is put aside and reported, never a reason to stand still; what can be read of it is carried
 * over; a file of a newer agent is left alone; an older one is copied before it is changed.
 */
import { closeSync, openSync, readdirSync, readFileSync, statSync, writeFileSync, writeSync } from 'node:fs';
import path from 'node:path';
import { expect, test } from 'vitest';
import { type Fault, must } from '../../../agent/base/result.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { migrate, SCHEMA } from '../../../agent/history/schema.ts';
import { Store } from '../../../agent/history/store.ts';
import { minute, open, START, temporaryFolder } from '../../unit/history/helpers.ts';

const FILE = 'history.sqlite';

function filled(folder: string, minutes: number): void {
  const history = open({ folder });
  for (let sequence = 1; sequence <= minutes; sequence++) must(history.commitMinute(minute(sequence)));
  history.close();
}

/** Overwrites a stretch of a file. */
function spoil(file: string, from: number, bytes: number): void {
  const handle = openSync(file, 'r+');
  writeSync(handle, Buffer.alloc(bytes, 0xa5), 0, bytes, from);
  closeSync(handle);
}

function openTelling(folder: string) {
  const reports: Fault[] = [];
  const history = open({ folder, report: (fault) => reports.push(fault) });
  return { history, reports };
}

test.each([
  [
    'a text',
    (file: string) => writeFileSync(file, 'not a database at all, but long enough to be read as one'.repeat(50)),
  ],
  ['an overwritten header', (file: string) => spoil(file, 0, 100)],
  ['a file cut to half a page', (file: string) => writeFileSync(file, readFileSync(file).subarray(0, 2048))],
])('%s in place of the store: put aside whole, reported, and a new one works', (_what, damage) => {
  const folder = temporaryFolder();
  filled(folder, 5);
  damage(path.join(folder, FILE));
  const before = readFileSync(path.join(folder, FILE));
  const { history, reports } = openTelling(folder);
  expect(reports.map(({ code }) => code)).toEqual(['history_corrupt']);
  const aside = readdirSync(folder).find((name) => name.includes('.damaged-') && !/-(wal|shm)$/.test(name)) as string;
  expect(aside).toBe(`${FILE}.damaged-20260701T000000Z`);
  expect(reports[0]?.message).toContain(aside);
  expect(readFileSync(path.join(folder, aside)).equals(before)).toBe(true);
  expect(must(history.commitMinute(minute(6)))).toEqual({ committed: 1, pending: 0 });
  expect(history.counters().files_put_aside).toBe(1);
});

test('damage in old minutes: state, sequence and waiting messages are carried over, and a second one gets its own name', () => {
  const folder = temporaryFolder();
  filled(folder, 400);
  const file = path.join(folder, FILE);
  const store = new Store(file);
  const leaf = store.get("SELECT pageno FROM dbstat WHERE name = 'block' AND pagetype = 'leaf' LIMIT 1");
  store.close();
  expect(leaf).toBeDefined();
  spoil(file, (Number(leaf?.['pageno']) - 1) * 4096, 4096);
  const { history, reports } = openTelling(folder);
  expect(reports[0]?.message).toContain('state carried over: CH-1');
  expect(must(history.loadState('CH-1'))).toMatchObject({ sequence: 400, state: '{"count":400}' });
  expect(history.outbox.counts('mqtt').waiting).toBe(400);
  expect(history.outbox.oldest('mqtt', 500).map(({ sequence }) => sequence)).toEqual(
    Array.from({ length: 400 }, (_, index) => index + 1),
  );
  must(history.commitMinute(minute(401)));
  history.close();
  spoil(file, 0, 100);
  openTelling(folder);
  expect(readdirSync(folder).filter((name) => name.includes('damaged'))).toContain(
    `${FILE}.damaged-20260701T000000Z-2`,
  );
});

test('damage that shows while the store is open: the minute is not lost, the next one goes into a new file', () => {
  const folder = temporaryFolder();
  let damaged = false;
  const reports: string[] = [];
  const history = open({
    folder,
    report: ({ code }) => reports.push(code),
    checkpoint: (name) => {
      if (name !== 'inside_transaction' || damaged) return;
      damaged = true;
      throw Object.assign(new Error('database disk image is malformed'), { errcode: 11 });
    },
  });
  const outcome = history.commitMinute(minute(1));
  expect(outcome.ok ? null : outcome.fault.code).toBe('history_corrupt');
  expect(reports).toEqual(['history_corrupt']);
  expect(must(history.commitMinute(minute(2)))).toEqual({ committed: 2, pending: 0 });
  expect(history.outbox.oldest('mqtt', 5).map(({ sequence }) => sequence)).toEqual([1, 2]);
});

test('a store of a newer agent is refused by name and not touched', () => {
  const folder = temporaryFolder();
  filled(folder, 2);
  const store = new Store(path.join(folder, FILE));
  store.run('INSERT INTO schema_version VALUES (?, ?)', SCHEMA.length + 1, 'later');
  store.close();
  const before = readFileSync(path.join(folder, FILE));
  const opened = openHistory({ folder });
  expect(opened.ok ? null : opened.fault.code).toBe('history_newer');
  expect(opened.ok ? null : opened.fault.message).toContain(`version ${SCHEMA.length + 1}`);
  expect(readFileSync(path.join(folder, FILE)).equals(before)).toBe(true);
});

test('an older store is copied before it is changed, and a change that fails leaves it as it was', () => {
  const folder = temporaryFolder();
  filled(folder, 3);
  const file = path.join(folder, FILE);
  const store = new Store(file);
  const broken = [...SCHEMA, 'ALTER TABLE minute ADD COLUMN note TEXT; ALTER TABLE no_such ADD COLUMN note TEXT'];
  expect(() => migrate(store, { file, now: START + 1, steps: broken })).toThrow('no_such');
  expect(store.get("SELECT count(*) AS n FROM pragma_table_info('minute') WHERE name = 'note'")?.['n']).toBe(0);
  const steps = [...SCHEMA, 'ALTER TABLE minute ADD COLUMN note TEXT'];
  expect(must(migrate(store, { file, now: START, steps }))).toBe(SCHEMA.length + 1);
  expect(store.get('SELECT max(version) AS version FROM schema_version')?.['version']).toBe(SCHEMA.length + 1);
  store.close();
  const copy = new Store(`${file}.version-${SCHEMA.length}-20260701T000000Z`);
  expect(copy.get('SELECT count(*) AS n FROM minute')?.['n']).toBe(3);
  expect(copy.get('SELECT max(version) AS version FROM schema_version')?.['version']).toBe(SCHEMA.length);
  copy.close();
});

test('a folder that cannot be made is an answer, not a crash', () => {
  const folder = temporaryFolder();
  writeFileSync(path.join(folder, 'a-file'), '');
  const opened = openHistory({ folder: path.join(folder, 'a-file', 'below') });
  expect(opened.ok ? null : opened.fault.code).toBe('history_io');
  expect(opened.ok ? null : opened.fault.message).toContain('a-file');
});

test('a reader beside the running agent is not held up, and holds nobody up', () => {
  const folder = temporaryFolder();
  const history = open({ folder });
  must(history.commitMinute(minute(1)));
  const reader = new Store(path.join(folder, FILE));
  reader.exec('BEGIN');
  expect(reader.get('SELECT count(*) AS n FROM minute')?.['n']).toBe(1);
  expect(must(history.commitMinute(minute(2)))).toEqual({ committed: 1, pending: 0 });
  expect(reader.get('SELECT count(*) AS n FROM minute')?.['n']).toBe(1);
  reader.exec('COMMIT');
  expect(reader.get('SELECT count(*) AS n FROM minute')?.['n']).toBe(2);
  reader.close();
});

test('another writer holds the store: said so, and stored at the next call', () => {
  const folder = temporaryFolder();
  const history = open({ folder });
  const other = new Store(path.join(folder, FILE));
  other.exec('BEGIN IMMEDIATE');
  const outcome = history.commitMinute(minute(1));
  expect(outcome.ok ? null : outcome.fault.code).toBe('history_busy');
  other.exec('COMMIT');
  other.close();
  expect(must(history.commitMinute(minute(2)))).toEqual({ committed: 2, pending: 0 });
  expect(statSync(path.join(folder, FILE)).size).toBeGreaterThan(0);
});
