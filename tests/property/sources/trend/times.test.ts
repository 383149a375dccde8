/**
 * Law: instants written in local time, in order or against it, come back as they were through changes of the clocks.
 * The local times are those of Intl, the data base of time zones that comes with Node.
 */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { LocalTimes, offsetsOf } from '../../../../agent/sources/trend/times.ts';

const MINUTE = 60_000;
/** Changes of the clocks of 2026 (IANA time zone data base), UTC. */
const CHANGES = [
  ['Europe/Lisbon', Date.UTC(2026, 2, 29, 1)],
  ['Europe/Lisbon', Date.UTC(2026, 9, 25, 1)],
  ['America/Chicago', Date.UTC(2026, 2, 8, 8)],
  ['America/Chicago', Date.UTC(2026, 10, 1, 7)],
  ['America/St_Johns', Date.UTC(2026, 10, 1, 4, 30)],
  ['Australia/Sydney', Date.UTC(2026, 3, 4, 16)],
  ['Asia/Kathmandu', Date.UTC(2026, 5, 1)],
] as const;

function localOf(zone: string): (time: number) => number {
  const format = new Intl.DateTimeFormat('en-GB', {
    timeZone: zone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
  });
  return (time) => {
    const part = Object.fromEntries(format.formatToParts(time).map(({ type, value }) => [type, Number(value)]));
    const { year = 0, month = 1, day = 1, hour = 0, minute = 0 } = part;
    return Date.UTC(year, month - 1, day, hour, minute);
  };
}

test('local times in order, and against it', () => {
  fc.assert(
    fc.property(
      fc.constantFrom(...CHANGES),
      fc.constantFrom(1, 2, 5, 10, 15, 20, 30, 60),
      fc.integer({ min: 1, max: 20 }),
      fc.boolean(),
      ([zone, change], step, before, backwards) => {
        // A step at least is known before the hour that comes twice: two lines of one time may be one line twice.
        const first = change - (60 + (before + 1) * step) * MINUTE;
        const count = Math.ceil((9 * 60) / step) + before;
        // On the grid of the step, as trends are.
        const grid = Math.floor(first / (step * MINUTE)) * step * MINUTE;
        const instants = Array.from({ length: count }, (_, index) => grid + index * step * MINUTE);
        if (backwards) instants.reverse();
        const local = localOf(zone);
        const times = new LocalTimes(offsetsOf(zone) ?? (() => 0), 'order');
        const read = instants.map((time) => times.instant(local(time), ''));
        expect(read.map((each) => (each.ok ? each.time : each.reason))).toEqual(instants);
      },
    ),
    { numRuns: 200 },
  );
});
