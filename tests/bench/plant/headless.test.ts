/**
 * Plant seconds per real second, headless, with truth and record taken: what the demand of at least 500 leaves in hand.
 */
import { expect, test } from 'vitest';
import { InterstageMachine } from '../../../agent/plant/interstage-machine.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import { MinuteRecord, MinuteTruth } from '../../../agent/plant/minutes.ts';
import { ParallelMachine } from '../../../agent/plant/parallel-machine.ts';
import { Plant } from '../../../agent/plant/plant.ts';

const SECONDS = 86_400;

const MACHINES = [
  ['CH-1', () => new ParallelMachine(CH1, 1)],
  ['CH-2', () => new InterstageMachine(CH2, 1)],
] as const;

test.each(MACHINES)('headless day of %s', (name, build) => {
  const plant = new Plant({ machine: build(), seed: 1, start: Date.UTC(2026, 6, 1), faults: [] });
  const counts = { bytes: 0, lines: 0 };
  const count = (line: Record<string, unknown>) => {
    counts.lines += 1;
    counts.bytes += JSON.stringify(line).length;
  };
  const began = performance.now();
  plant.advance(SECONDS);
  const bare = SECONDS / ((performance.now() - began) / 1000);
  plant.listeners.push(new MinuteTruth(count), new MinuteRecord(count, { redraw: true }));
  const again = performance.now();
  plant.advance(SECONDS);
  const recorded = SECONDS / ((performance.now() - again) / 1000);
  console.log(
    `${name}: plant seconds per real second: ${bare.toFixed(0)} bare, ${recorded.toFixed(0)} with truth and record (${(counts.bytes / 1e6).toFixed(1)} MB a day)`,
  );
  expect(counts.lines).toBe((2 * SECONDS) / 60);
  expect(recorded / 500).toBeGreaterThan(1);
});
