/**
 * Laws of conversion: back and forth is the same figure for every unit; nothing that a register can hold makes a
 * snapshot lie or break.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { UNITS, type UnitName, unitOf } from '../../../agent/base/units.ts';
import { convert, readingFromSi, readingToSi } from '../../../agent/points/convert.ts';
import { sampleTable } from '../../../agent/points/samples.ts';
import { takeSnapshot } from '../../../agent/points/snapshot.ts';
import type { PointSpec, PressureReference } from '../../../agent/points/types.ts';

const RUNS = { numRuns: 300 };
const UNIT_NAMES = Object.keys(UNITS) as UnitName[];
const references = fc.constantFrom<PressureReference>('vented_gauge', 'sealed_gauge');
const barometers = fc.double({ min: 60e3, max: 110e3, noNaN: true });

describe.each(UNIT_NAMES)('%s', (unit) => {
  test('there and back', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1e4, max: 1e4, noNaN: true }),
        references,
        barometers,
        (reading, reference, local) => {
          const spec = { unit, reference };
          const value = readingToSi(reading, spec, { local });
          // The SI figure carries its zero (atmosphere, 273.15 K): rounding scales with it.
          const scale = Math.abs(reading) + Math.abs(value / unitOf(unit).factor) + 1000;
          expect(Math.abs(readingFromSi(value, spec, { local }) - reading)).toBeLessThanOrEqual(1e-12 * scale);
        },
      ),
      RUNS,
    );
  });

  test('the sensor moves as the unit says: one more of it is its factor more in SI, whatever the atmosphere', () => {
    fc.assert(
      fc.property(references, barometers, (reference, local) => {
        const spec = { unit, reference };
        const step = readingToSi(101, spec, { local }) - readingToSi(100, spec, { local });
        expect(step / unitOf(unit).factor).toBeCloseTo(1, 6);
      }),
      RUNS,
    );
  });
});

const anyNumber = fc.oneof(
  fc.double(),
  fc.integer({ min: -32_768, max: 65_535 }),
  fc.constantFrom(Number.NaN, Number.POSITIVE_INFINITY, -0, 1e308, -1e308, 5e-324),
);

const anySpec: fc.Arbitrary<PointSpec> = fc.record({
  name: fc.constant('unit.power'),
  unit: fc.constantFrom(...UNIT_NAMES),
  scale: fc.oneof(fc.double({ noNaN: true, noDefaultInfinity: true }), fc.constantFrom(1, 0.1)),
  offset: fc.oneof(fc.double({ noNaN: true, noDefaultInfinity: true }), fc.constant(0)),
  reference: fc.constantFrom<PressureReference>('absolute', 'vented_gauge', 'sealed_gauge', 'converted'),
  sentinels: fc.array(fc.integer(), { maxLength: 3 }),
  valid: fc.oneof(
    fc.constant<[number, number]>([-1e308, 1e308]),
    fc.constant<[number, number]>([Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]),
    fc.constant<[number, number]>([-100, 4000]),
  ),
  uncertainty: fc.record({
    absolute: fc.double({ min: 0, max: 1e6, noNaN: true }),
    relative: fc.double({ min: 0, max: 1, noNaN: true }),
  }),
  fast: fc.boolean(),
  stale_s: fc.double({ min: 1, max: 1000, noNaN: true }),
  frozen_s: fc.option(fc.double({ min: 1, max: 1000, noNaN: true })),
});

test('a conversion is a finite figure or a reason, never both, never neither', () => {
  fc.assert(
    fc.property(anySpec, anyNumber, barometers, (spec, raw, local) => {
      const { value, quality, reason } = convert({ spec, raw, atmosphere: { local } });
      if (value === null) expect([quality, (reason ?? '').length > 0]).toEqual(['bad', true]);
      else expect([quality, reason, Number.isFinite(value)]).toEqual(['good', null, true]);
    }),
    { numRuns: 3000 },
  );
});

test('a snapshot holds no NaN, no infinity, and a reason wherever it is not good', () => {
  const readings = fc.array(fc.tuple(fc.integer({ min: -30_000, max: 90_000 }), fc.option(anyNumber)), {
    maxLength: 40,
  });
  fc.assert(
    fc.property(anySpec, readings, barometers, (spec, list, local) => {
      const table = sampleTable([spec.name]);
      for (const [time, raw] of list) table.record({ point: spec.name, time, raw });
      const samples = table.interval(0, 60_000);
      const point = takeSnapshot({ specs: [spec], samples, to: 60_000, atmosphere: { local } }).points[spec.name];
      for (const figure of [point?.value, point?.u, point?.age_s, point?.spread]) {
        expect(figure).toBeDefined();
        if (figure !== null) expect(Number.isFinite(figure)).toBe(true);
      }
      expect(point?.value === null).toBe(point?.u === null);
      expect(point?.value === null).toBe(point?.quality === 'bad');
      expect(point?.quality === 'good').toBe(point?.reason === null);
      if (point !== undefined && point.u !== null) expect(point.u).toBeGreaterThanOrEqual(0);
    }),
    { numRuns: 3000 },
  );
});
