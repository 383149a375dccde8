/**
 * Goal: the default uncertainty of a pressure follows from a span that such a transmitter would have. Saturation
 * pressures: published R-134a equation (Tillner-Roth & Baehr 1994) as computed by an independent code: 25 C 665.38
 * kPa, and R-123 91.36 kPa.
 */
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { defaultSpan, nextStandardSpan } from '../../../agent/site/spans.ts';

test.each([
  [665.4e3, 1000e3],
  [1000e3, 1000e3],
  [1000.1e3, 1600e3],
  [1.6e6, 1.6e6],
  [1.61e6, 2.5e6],
  [91.4e3, 100e3],
  [4.1e5, 6e5],
  [6.5e3, 10e3],
])('above %f Pa comes %f Pa', (pressure, span) => {
  expect(nextStandardSpan(pressure)).toBeCloseTo(span, 3);
});

describe('by component', () => {
  test.each([
    ['R134a', 'evaporator', 1000e3],
    ['R134a', 'flash_tank', 1000e3],
    ['R134a', 'condenser', 1600e3],
    ['R123', 'evaporator', 100e3],
    ['R123', 'condenser', 250e3],
  ])('%s %s: %f Pa', (name, component, span) => {
    expect(must(defaultSpan(component, must(refrigerant(name))))).toBeCloseTo(span, 3);
  });
});
