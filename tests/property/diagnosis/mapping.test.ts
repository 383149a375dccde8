/**
 * Goal: whatever a controller sends, however wrong, `check` ends with findings a person can read, on points that are
 * there.
 */
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { findMappingMistakes } from '../../../agent/diagnosis/mapping.ts';
import { standstillCheck } from '../../../agent/diagnosis/standstill.ts';
import { POINTS } from '../../../agent/points/dictionary.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { spec } from '../../unit/points/samples-of.ts';

const R134a = must(refrigerant('R134a'));
const NAMES = Object.keys(POINTS);

const anyRaw = fc.oneof(
  fc.constant(null),
  fc.double(),
  fc.double({ min: -100, max: 2000, noNaN: true }),
  fc.constantFrom(0, 32_767, -32_768, 65_535, 1e-41, 1e38, Number.NaN, Number.POSITIVE_INFINITY),
);

const anyPoints = fc.uniqueArray(fc.constantFrom(...NAMES), { minLength: 1, maxLength: NAMES.length });

test('any readings of any points', () => {
  fc.assert(
    fc.property(anyPoints, fc.infiniteStream(anyRaw), fc.option(fc.boolean()), (names, raws, running) => {
      const readings = names.map((name) => {
        const raw = raws.next().value ?? null;
        const definition = POINTS[name];
        const unit = definition?.unit ?? '1';
        return { spec: spec({ name, unit }), raw, reason: raw === null ? 'not a number' : null, otherwise: [] };
      });
      const found = findMappingMistakes({
        readings,
        refrigerant: R134a,
        rated_capacity: 5e6,
        air: { local: 101_325 },
        running,
      });
      for (const { points, message } of found) {
        expect(message.length).toBeGreaterThan(5);
        expect(message).not.toMatch(/undefined|NaN|\[object/);
        for (const point of points) expect(names).toContain(point);
      }
    }),
    { numRuns: 150 },
  );
}, 60_000);

test('any values of a standing machine', () => {
  const value = fc.record({
    value: fc.double({ min: 1, max: 5e6, noNaN: true }),
    u: fc.double({ min: 0, max: 1e5, noNaN: true }),
  });
  fc.assert(
    fc.property(anyPoints, fc.infiniteStream(value), (names, values) => {
      const points = Object.fromEntries(
        names.map((name) => {
          const { value: given, u } = values.next().value as { value: number; u: number };
          return [name, { value: given, u, quality: 'good' as const, reason: null, age_s: 0, spread: null, n: 1 }];
        }),
      );
      const { comparisons, suspects, temperature } = standstillCheck({
        snapshot: { time: 0, points },
        refrigerant: R134a,
      });
      for (const { difference, u } of comparisons) expect(Number.isFinite(difference) && u > 0).toBe(true);
      for (const { offset, u } of suspects) expect(Number.isFinite(offset) && Number.isFinite(u)).toBe(true);
      expect(temperature === null || Number.isFinite(temperature)).toBe(true);
    }),
  );
});
