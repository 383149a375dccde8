// Goal: the log is one line of JSON each, and a flood of faults is a bounded number of lines that lose no count.
// Method: the agent's own log into a stream, on a clock of the test; the lines are read back as JSON.
import { PassThrough } from 'node:stream';
import { expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { createLog } from '../../../agent/health/log.ts';

interface Line {
  readonly level: number;
  readonly time: string;
  readonly msg: string;
  readonly code?: string;
  readonly held_back?: number;
}

function logged() {
  const out = new PassThrough();
  const clock = { now: 1000 };
  const { log, flush } = createLog(out, () => clock.now);
  const lines = (): Line[] =>
    String(out.read() ?? '')
      .split('\n')
      .filter((line) => line !== '')
      .map((line) => JSON.parse(line) as Line);
  return { log, flush, clock, lines };
}

const PER_WINDOW = LIMITS.log_lines_per_window_max;

test('ten thousand times the same fault: a few lines, and one with the number of the others', () => {
  const { log, flush, lines } = logged();
  for (let i = 0; i < 10_000; i += 1)
    log.error({ code: 'history_disk_full' }, `CH-1 minute ${i} not stored: ${i} minutes wait`);
  flush();
  const said = lines();
  expect(said.length).toBe(PER_WINDOW + 1);
  const last = said.at(-1);
  expect(last).toMatchObject({ level: 50, code: 'history_disk_full', held_back: 10_000 - PER_WINDOW });
  expect(last?.msg).toMatch(/^\d+ more lines like this were held back: CH-1 minute \d+ not stored/);
  expect(Number.isNaN(Date.parse(last?.time ?? ''))).toBe(false);
});

test('what else is said in a flood is not held back', () => {
  const { log, lines } = logged();
  for (let i = 0; i < 1000; i += 1) log.warn({ code: 'mqtt_refused' }, 'refused');
  log.warn({ code: 'mqtt_unreachable' }, 'refused');
  log.error({ code: 'mqtt_refused' }, 'refused');
  log.info('the broker is there');
  expect(
    lines()
      .slice(PER_WINDOW)
      .map(({ level, code }) => [level, code]),
  ).toEqual([
    [40, 'mqtt_unreachable'],
    [50, 'mqtt_refused'],
    [30, undefined],
  ]);
});

test('a new window says what the last one held back, and lets lines through again', () => {
  const { log, clock, lines } = logged();
  for (let i = 0; i < 25; i += 1) log.warn('slow');
  clock.now += LIMITS.log_window_ms;
  log.warn('slow');
  const said = lines();
  expect(said.map(({ held_back }) => held_back ?? null)).toEqual([
    ...Array(PER_WINDOW).fill(null),
    25 - PER_WINDOW,
    null,
  ]);
});

test('no line is lost from the count, whatever the pace', () => {
  const { log, flush, clock, lines } = logged();
  let total = 0;
  for (let i = 0; i < 5000; i += 1) {
    log.warn({ code: 'x' }, `retry ${i}`);
    total += 1;
    clock.now += (i * 7919) % 400;
  }
  flush();
  const said = lines();
  const counted = said.reduce((sum, { held_back }) => sum + (held_back ?? 1), 0);
  expect(counted).toBe(total);
  expect(said.length).toBeLessThan(total / 4);
});

test('a flood of ever new words is bounded too, and the store of kinds with it', () => {
  const { log, flush, lines } = logged();
  const word = (i: number): string => [...String(i)].map((digit) => 'abcdefghij'[Number(digit)]).join('');
  for (let i = 0; i < 20_000; i += 1) log.warn(`odd ${word(i)}`);
  flush();
  const said = lines();
  expect(said.length).toBeLessThanOrEqual(LIMITS.log_kinds_max + PER_WINDOW + 1);
  expect(said.reduce((sum, { held_back }) => sum + (held_back ?? 1), 0)).toBe(20_000);
});
