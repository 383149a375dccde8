/** Goal: a value that the controller itself doubts stays a value, with its reason, and is never a good one. */
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { sampleTable } from '../../../agent/points/samples.ts';
import { takeSnapshot } from '../../../agent/points/snapshot.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import { spec, T0 } from './samples-of.ts';

const P = 'evaporator.pressure';

function taken(samples: readonly { raw: number; doubt?: string; s: number }[], from: number, to: number): PointValue {
  const table = sampleTable([P]);
  for (const { s, ...sample } of samples) table.record({ point: P, time: T0 + 1000 * s, ...sample });
  const interval = { samples: table.interval(T0 + 1000 * from, T0 + 1000 * to), to: T0 + 1000 * to };
  return takeSnapshot({ specs: [spec()], ...interval, atmosphere: { local: 101_325 } }).points[P] as PointValue;
}

const OVERRIDDEN = 'overridden at the controller';

describe('a value the controller doubts', () => {
  test('is uncertain, with the value and the reason kept', () => {
    expect(taken([{ raw: 350, doubt: OVERRIDDEN, s: 5 }], 0, 60)).toMatchObject({
      value: 350_000,
      quality: 'uncertain',
      reason: OVERRIDDEN,
    });
  });

  test('casts doubt on the whole interval it lies in, and on no other', () => {
    const samples = [{ raw: 350, doubt: OVERRIDDEN, s: 5 }, ...[10, 65, 70].map((s) => ({ raw: 350 + s, s }))];
    expect(taken(samples, 0, 60)).toMatchObject({ quality: 'uncertain', reason: OVERRIDDEN });
    expect(taken(samples, 60, 120)).toMatchObject({ quality: 'good', reason: null });
  });

  test('a doubtful reading after the interval does not hide the one in it, nor reach back', () => {
    const doubtful = (s: number) => ({ raw: 350 + s, doubt: `doubt of ${s}`, s });
    expect(taken([doubtful(5), { raw: 1, s: 61 }, doubtful(62)], 0, 60).reason).toBe('doubt of 5');
    expect(taken([{ raw: 350, s: 5 }, doubtful(62)], 0, 60).quality).toBe('good');
  });

  test('stays doubtful for as long as it is the latest there is', () => {
    expect(taken([{ raw: 350, doubt: OVERRIDDEN, s: 5 }], 60, 90)).toMatchObject({ quality: 'uncertain', n: 0 });
  });

  test('is still known when the ring has grown and turned', () => {
    const count = LIMITS.samples_per_interval_max + 40;
    const samples = Array.from({ length: count }, (_, s) => ({ raw: 350 + (s % 7), s }));
    expect(taken([...samples, { raw: 350, doubt: OVERRIDDEN, s: count }], 0, count + 5).reason).toBe(OVERRIDDEN);
    expect(taken([...samples, { raw: 350, s: count }], 0, count + 5).quality).toBe('good');
    const early = samples.slice(0, 40).map((sample) => (sample.s === 3 ? { ...sample, doubt: OVERRIDDEN } : sample));
    expect(taken(early, 0, 60).reason).toBe(OVERRIDDEN);
  });

  test('does not make a value of what cannot be believed', () => {
    expect(taken([{ raw: 99_999, doubt: OVERRIDDEN, s: 5 }], 0, 60)).toMatchObject({ value: null, quality: 'bad' });
  });
});
