/** The last samples of one loop, bounded in time and number. */
import { z } from 'zod';
import { LIMITS } from '../../agent/base/limits.ts';
import { recordIssues } from '../../agent/base/record-issues.ts';
import { fail, ok, type Result } from '../../agent/base/result.ts';
import { parseRfc3339, rfc3339 } from '../../agent/base/time.ts';
import type { FastColumns } from '../../agent/points/fast-window.ts';
import type { Recording } from '../../agent/valves/recording.ts';

const reading = z.number().nullable();
const sampleRecord = z.strictObject({
  time: z.union([z.string(), z.number()]).optional(),
  measured: reading,
  output: reading,
  setpoint: reading.optional(),
  position: reading.optional(),
});
type SampleRecord = z.output<typeof sampleRecord>;

/** ms since the epoch. */
interface Sample extends Omit<SampleRecord, 'time'> {
  readonly time: number;
}

/**
 * Reads what a message brings, one sample or a list of them: `time` in ms since the epoch or RFC 3339, left out: `now`
 * (of one sample alone). A reading that is missing is null. Faults: `bad_record`, naming the sample.
 */
export function readSamples(payload: unknown, { now }: { readonly now: number }): Result<readonly Sample[]> {
  const list = Array.isArray(payload) ? payload : [payload];
  if (list.length > LIMITS.fast_window_samples_max)
    return fail('bad_record', `${list.length} samples at once: at most ${LIMITS.fast_window_samples_max}`);
  const samples: Sample[] = [];
  for (const [index, given] of list.entries()) {
    const where = Array.isArray(payload) ? `sample ${index}: ` : '';
    const parsed = sampleRecord.safeParse(given);
    if (!parsed.success) return fail('bad_record', `${where}${recordIssues(parsed.error)}`);
    const { time: said, ...rest } = parsed.data;
    if (said === undefined && Array.isArray(payload))
      return fail('bad_record', `${where}each of a list needs its time`);
    const time = typeof said === 'string' ? parseRfc3339(said) : (said ?? now);
    if (time === null) return fail('bad_record', `${where}time '${said}' is neither RFC 3339 nor ms since the epoch`);
    samples.push({ time, ...rest });
  }
  return ok(samples);
}

export class LoopSamples {
  readonly #window_ms: number;
  #samples: Sample[] = [];

  constructor(window_s: number) {
    this.#window_ms = 1000 * window_s;
  }

  get count(): number {
    return this.#samples.length;
  }

  /** ms since the epoch; null before the first sample. */
  get newest(): number | null {
    return this.#samples.at(-1)?.time ?? null;
  }

  clear(): void {
    this.#samples = [];
  }

  /** All of them or, where one does not come after the one before, none. */
  append(samples: readonly Sample[]): Result<void> {
    let newest = this.newest ?? Number.NEGATIVE_INFINITY;
    for (const { time } of samples) {
      if (time <= newest) {
        const after = `time ${rfc3339(time)} is not after ${rfc3339(newest)} of the sample before`;
        return fail('bad_record', `${after}; where the clock was set back, send msg.reset = true to begin anew`);
      }
      newest = time;
    }
    this.#samples.push(...samples);
    const oldest = newest - this.#window_ms;
    const late = this.#samples.findIndex(({ time }) => time >= oldest);
    const surplus = Math.max(late, this.#samples.length - LIMITS.fast_window_samples_max);
    if (surplus > 0) this.#samples.splice(0, surplus);
    return ok(undefined);
  }

  recording(): Recording {
    return {
      measured: this.#column('measured'),
      output: this.#column('output'),
      setpoint: this.#optional('setpoint'),
      position: this.#optional('position'),
    };
  }

  #optional(role: 'setpoint' | 'position'): FastColumns | null {
    const column = this.#column(role);
    return column.times.length === 0 ? null : column;
  }

  #column(role: 'measured' | 'output' | 'setpoint' | 'position'): FastColumns {
    const there = this.#samples.filter((sample) => typeof sample[role] === 'number');
    return {
      times: Float64Array.from(there, ({ time }) => time),
      values: Float64Array.from(there, (sample) => sample[role] as number),
    };
  }
}
