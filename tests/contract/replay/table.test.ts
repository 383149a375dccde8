// Goal: a trend export as people have it is read right, and what is wrong with it is told with its line. Method: the
// verb over tables written here. Lisbon put its clocks back on 25 October 2026 at 02:00 summer time, 01:00 UTC, and
// forward on 29 March 2026 at 01:00 (Directive 2000/84/EC: last Sundays of October and March, 01:00 UTC).
// Water at 9.5 degC: 999.74 kg/m3 and 4.1939 kJ/(kg K) (IAPWS-95 at atmospheric pressure, from memory).
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { beforeEach, describe, expect, onTestFinished, test } from 'vitest';
import { command } from '../../../agent/commands/replay.ts';
import { temporaryFolder } from '../agent/harness.ts';
import { replayed, SITE } from './run.ts';

const EXAMPLE = readFileSync(new URL('../../../config/trend-map.yaml', import.meta.url), 'utf8');

let folder: string;
beforeEach(() => {
  const made = temporaryFolder();
  folder = made.folder;
  onTestFinished(made.remove);
});

const HEADER = 'Date;Time;CH1 CHWR Temp (°F);CH1 CHWS Temp (°F);CH1 CHW Flow (GPM);CH1 kW;CH1 Run';
const READINGS = '53,6;44,6;3.000,0;612,4;On';

/** Quarters of an hour on the wall clock of Lisbon, from half past midnight, through the hour that came twice. */
const NIGHT = ['12:30 AM', '12:45 AM', ...quarters('1'), ...quarters('1'), ...quarters('2'), '3:00 AM'];

function quarters(hour: string): string[] {
  return ['00', '15', '30', '45'].map((minute) => `${hour}:${minute} AM`);
}

function night(readings = READINGS): string[] {
  return NIGHT.map((clock) => `10/25/2026;${clock};${readings}`);
}

function table(lines: readonly string[]): string {
  return `${[HEADER, ...lines].join('\r\n')}\r\n`;
}

describe('the example map', () => {
  test('an hour that came twice: every instant once, in order', async () => {
    const { code, err, minutes, summary } = await replayed(folder, { table: table(night()), map: EXAMPLE });
    expect([code, err]).toEqual([0, '']);
    // 00:30 summer time is 23:30 UTC; 03:00 winter time is 03:00 UTC: fifteen quarters.
    expect(summary.export).toMatchObject({
      rows: 15,
      first: '2026-10-24T23:30:00Z',
      last: '2026-10-25T03:00:00Z',
      step_s: 900,
      ordered: true,
      repeated_hour: { lines: 8, taken: 'order' },
    });
    expect(summary.interval_s).toBe(900);
    const expected = Array.from({ length: 15 }, (_, index) => Date.UTC(2026, 9, 24, 23, 30 + 15 * index));
    expect(minutes.map(({ time }) => Date.parse(time))).toEqual(expected);
    expect(minutes.map(({ sequence }) => sequence)).toEqual(expected.map((_, index) => index + 1));
  });

  test('cooling, energy and kW/ton by hand', async () => {
    const { summary } = await replayed(folder, { table: table(night()), map: EXAMPLE });
    // 3000 US gallons a minute (231 cubic inches each), 9 degF of difference.
    const flow = (3000 * 231 * 0.0254 ** 3) / 60;
    const kilowatts = flow * 999.74 * 4.1939 * (9 / 1.8);
    const tons = kilowatts / 3.516853;
    const { season } = summary.chillers['CH-1'] ?? {};
    expect(season?.minutes_used).toBe(15 * 15);
    expect(Math.abs((season?.ton_hours ?? 0) / (tons * 3.75) - 1)).toBeLessThan(2e-3);
    expect(Math.abs((season?.kwh ?? 0) / (612.4 * 3.75) - 1)).toBeLessThan(1e-9);
    expect(Math.abs((season?.kw_per_ton ?? 0) / (612.4 / tons) - 1)).toBeLessThan(2e-3);
  });

  test.each([
    ['earlier', '2026-10-25T00:45:00Z'],
    ['later', '2026-10-25T01:45:00Z'],
  ])('one pass alone of that hour is taken for the %s one where the map says so', async (word, last) => {
    const lines = night().slice(0, 6);
    const map = EXAMPLE.replace('repeated_hour: order', `repeated_hour: ${word}`);
    const { summary } = await replayed(folder, { table: table(lines), map });
    expect(summary.export.last).toBe(last);
  });

  test('left out where the map says so, and told', async () => {
    const map = EXAMPLE.replace('repeated_hour: order', 'repeated_hour: leave_out');
    const { summary } = await replayed(folder, { table: table(night()), map });
    expect(summary.export.rows).toBe(7);
    expect(summary.export.bad_lines).toMatchObject({ count: 8, kinds: [{ lines: [4, 5, 6, 7, 8, 9, 10, 11] }] });
  });

  test('a local time that did not exist is refused with its line', async () => {
    const lines = ['12:45 AM', '1:15 AM', '2:00 AM'].map((clock) => `3/29/2026;${clock};${READINGS}`);
    const { summary, out } = await replayed(folder, { table: table(lines), map: EXAMPLE });
    expect(summary.export.rows).toBe(2);
    expect(summary.export.last).toBe('2026-03-29T01:00:00Z');
    expect(out).toContain('clocks went forward over it (line 3)');
  });
});

describe('order and repetition', () => {
  test('lines from the newest to the oldest give the same minutes', async () => {
    const straight = await replayed(folder, { table: table(night()), map: EXAMPLE });
    const { folder: other, remove } = temporaryFolder();
    onTestFinished(remove);
    const turned = await replayed(other, { table: table(night().reverse()), map: EXAMPLE });
    expect(turned.summary.export.ordered).toBe(false);
    expect(turned.minutes).toEqual(straight.minutes);
  });

  test('a line that comes twice counts once; one that contradicts is told, and the last one counts', async () => {
    const lines = [
      `10/24/2026;1:00 PM;${READINGS}`,
      `10/24/2026;1:00 PM;${READINGS}`,
      '10/24/2026;1:00 PM;53,6;44,6;3000;700;On',
      `10/24/2026;1:15 PM;${READINGS}`,
    ];
    const { summary, minutes } = await replayed(folder, { table: table(lines), map: EXAMPLE });
    expect(summary.export).toMatchObject({ repeated_readings: 9, conflicting_readings: 1 });
    expect(minutes[0]?.values['unit.power']).toBe(700);
  });

  test('a hole is intervals without figures, not intervals that are missing', async () => {
    const lines = ['1:00 PM', '1:15 PM', '2:45 PM'].map((clock) => `10/24/2026;${clock};${READINGS}`);
    const { minutes, summary } = await replayed(folder, { table: table(lines), map: EXAMPLE });
    const powers = minutes.map(({ values }) => values['unit.power']);
    // A reading stands for 900 s: the one of 13:15 is still there at 13:30.
    expect(powers).toEqual([612.4, 612.4, 612.4, null, null, null, null, 612.4]);
    expect(minutes[4]?.quality['unit.power']?.reason).toContain('the export has no reading');
    expect(summary.chillers['CH-1']).toMatchObject({ intervals_due: 8, intervals_recorded: 8 });
    expect(summary.chillers['CH-1']?.alarms).toEqual([]);
  });

  test('weeks without a line are left out, and told', async () => {
    const lines = [`10/1/2026;1:00 PM;${READINGS}`, `10/24/2026;1:00 PM;${READINGS}`];
    const { minutes, summary } = await replayed(folder, { table: table(lines), map: EXAMPLE });
    expect(minutes.map(({ time }) => time)).toEqual(['2026-10-01T12:00:00Z', '2026-10-24T12:00:00Z']);
    expect(summary.intervals_left_out).toBe(23 * 96 - 1);
    expect(summary.chillers['CH-1']?.intervals_due).toBe(23 * 96 + 1);
  });
});

describe('cells and lines', () => {
  const LINES = [
    `10/24/2026;1:00 PM;${READINGS}`,
    '10/24/2026;1:15 PM;No data;44,6;3000;612,4;On',
    '10/24/2026;1:30 PM;-9999;44,6;3000;612,4;On',
    '10/24/2026;1:45 PM;53,6 °F;Comm Fail;3000;612,4;On',
    '10/24/2026;2:00 PM;53,6;44,6',
    'total;;;;;;',
    '',
    `10/24/2026;2:15 PM;${READINGS};`,
  ];

  test('what is not measured, what is no number, and what is no line', async () => {
    const { summary, minutes, out } = await replayed(folder, { table: table(LINES), map: EXAMPLE });
    expect(summary.export).toMatchObject({
      rows: 5,
      missing: 2,
      text: { count: 1, kinds: [{ what: "'Comm Fail' in CH1 CHWS Temp (°F)", lines: [5] }] },
    });
    const kinds = summary.export.bad_lines.kinds.map(({ what, lines }) => [what, lines]);
    expect(kinds).toEqual([
      ['not 7 cells, as there are column names', [6]],
      ['the time is not of the form that the map says', [7]],
    ]);
    expect(minutes[1]?.quality['unit.capacity']?.reason).toContain("the export says 'No data'");
    expect(out).toContain("1 x 'Comm Fail' in CH1 CHWS Temp (°F) (line 5)");
    expect(summary.chillers['CH-1']?.points['chilled_water.entering_temperature']).toMatchObject({
      good: 4,
      missing: 2,
    });
  });

  test.each([
    ['utf-16le', (text: string) => Buffer.from(`\uFEFF${text}`, 'utf16le')],
    ['windows-1252', (text: string) => Buffer.from(text, 'latin1')],
    ['utf-8', (text: string) => Buffer.from(`\uFEFF${text}`)],
  ])('%s', async (encoding, encoded) => {
    const map = EXAMPLE.replace('form: wide', `form: wide\n  encoding: ${encoding}`);
    const plain = await replayed(folder, { table: table(night()), map: EXAMPLE });
    writeFileSync(join(folder, 'other.csv'), encoded(table(night())));
    writeFileSync(join(folder, 'map.yaml'), map);
    const { code, err } = await verb(join(folder, 'other.csv'), join(folder, 'map.yaml'));
    expect([code, err]).toEqual([0, '']);
    const minutes = readFileSync(join(folder, 'out', 'minutes.ndjson'), 'utf8')
      .trimEnd()
      .split('\n');
    expect(minutes.map((line) => JSON.parse(line))).toEqual(plain.minutes);
  });

  test('a line without end is passed over in bounded memory', async () => {
    const lines = [`10/24/2026;1:00 PM;${READINGS}`, 'x'.repeat(3 * 1024 * 1024), `10/24/2026;1:15 PM;${READINGS}`];
    const { summary } = await replayed(folder, { table: table(lines), map: EXAMPLE });
    expect(summary.export.rows).toBe(2);
    expect(summary.export.bad_lines.kinds).toEqual([{ what: 'longer than a line may be', count: 1, lines: [3] }]);
  });
});

describe('long form', () => {
  const MAP = `version: 1
file: { form: long }
time: { column: When, zone: UTC }
long: { name: Trend, value: Value }
status: { column: Status, good: [ok] }
chillers:
  CH-1:
    points:
      unit.power: { column: kW, unit: kW }
      unit.running: { column: Run }
`;

  test('trends one after the other, as exports group them; a status that is not good counts as missing', async () => {
    const lines = [
      'When,Trend,Value,Status',
      '2026-10-24T13:00:00Z,kW,"1,612.4",ok',
      '2026-10-24T13:01:00Z,kW,"1,700.0",fault',
      '2026-10-24T13:02:00Z,kW,"1,600.0",ok',
      '2026-10-24T13:00:00Z,Run,true,ok',
      '2026-10-24T13:02:00Z,Run,true,ok',
      '2026-10-24T13:02:00Z,Other,7,ok',
    ];
    const { code, summary, minutes } = await replayed(folder, { table: lines.join('\n'), map: MAP });
    expect(code).toBe(0);
    expect(summary.export).toMatchObject({ ordered: false, columns_unused: ['Other'] });
    expect(summary.export.status).toMatchObject({ count: 1, kinds: [{ what: 'fault', lines: [3] }] });
    expect(minutes.map(({ values }) => values['unit.power'])).toEqual([1612.4, null, 1600]);
  });
});

async function verb(file: string, map: string, stop = new AbortController().signal, err = new PassThrough()) {
  const out = new PassThrough();
  const args = [file, '--config', SITE, '--map', map, '--out', join(folder, 'out')];
  const code = await command.run(args, { in: Readable.from([]), out, err, stop });
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

describe('what a person is told', () => {
  test('no export, no data, no line that can be used', async () => {
    writeFileSync(join(folder, 'map.yaml'), EXAMPLE);
    const at = (name: string): string => join(folder, name);
    expect(await verb(at('none.csv'), at('map.yaml'))).toMatchObject({
      code: 1,
      err: expect.stringContaining('no such file'),
    });
    for (const [text, said] of [
      ['', ':1: there are no column names'],
      [`${HEADER}\n`, 'there is no line of data'],
      [`${HEADER}\n2026-10-24;13:00;1;2;3;4;On\n`, ':2: no line can be used: the time is not of the form'],
      ['Date;Clock\n', ":1: no column 'Time'; there are Date, Clock"],
      [`${HEADER};Time\n`, ":1: two columns are named 'Time'"],
    ] as const) {
      writeFileSync(at('bad.csv'), text);
      const { code, err } = await verb(at('bad.csv'), at('map.yaml'));
      expect([code, err]).toEqual([1, expect.stringContaining(said)]);
    }
  });

  test('a replay that is ended keeps nothing, and what was there before stays', async () => {
    const before = await replayed(folder, { table: table(night()), map: EXAMPLE });
    const stop = new AbortController();
    stop.abort();
    const { code, err } = await verb(join(folder, 'trend.csv'), join(folder, 'map.yaml'), stop.signal);
    expect([code, err]).toEqual([1, expect.stringContaining('nothing was kept')]);
    const minutes = readFileSync(join(folder, 'out', 'minutes.ndjson'), 'utf8')
      .trimEnd()
      .split('\n');
    expect(minutes.map((line) => JSON.parse(line))).toEqual(before.minutes);
  });

  test('a bar on a terminal, on standard error; nothing elsewhere', async () => {
    await replayed(folder, { table: table(night()), map: EXAMPLE });
    const terminal = Object.assign(new PassThrough(), { isTTY: true });
    const { code, err } = await verb(join(folder, 'trend.csv'), join(folder, 'map.yaml'), undefined, terminal);
    expect(code).toBe(0);
    expect(err).toMatch(/solving \[[#.]+\] \d+ %/);
  });

  test('the report has no address to fetch from, and what was found in it', async () => {
    const { report } = await replayed(folder, { table: table(night()), map: EXAMPLE });
    expect(report).toMatch(/^<!doctype html>/);
    expect(report).not.toMatch(/(?:src|href)="?(?:https?:)?\/\/|@import|url\((?!data:)/);
    expect(report).toContain('Replay of trend.csv');
    expect(report).toContain('8 lines in an hour that came twice');
    expect(report).toContain('follow local codes');
  });
});
