import { describe, expect, test } from 'vitest';
import { BASELINE_METRICS } from '../../../agent/baseline/metrics.ts';
import { LEARNED_METRICS } from '../../../agent/cycle/learning/metrics.ts';
import { CYCLE_METRICS } from '../../../agent/cycle/metrics/definitions.ts';
import { catalogue, gather } from '../../../agent/metrics/catalogue.ts';
import { isPoint } from '../../../agent/points/dictionary.ts';
import { RUNNING_METRICS } from '../../../agent/points/running-metrics.ts';
import { VALVE_METRICS } from '../../../agent/valves/metrics.ts';

const ENTRY = { name: 'unit.example', unit: 'kW', meaning: 'an example', formula: 'one', inputs: [] } as const;

test('every metric of the rooms is in the catalogue, sorted, with unit, meaning and formula', () => {
  const names = Object.keys(catalogue());
  expect(names).toEqual(
    [...RUNNING_METRICS, ...CYCLE_METRICS, ...LEARNED_METRICS, ...VALVE_METRICS, ...BASELINE_METRICS]
      .map(({ name }) => name)
      .sort(),
  );
  expect(names.length).toBeGreaterThan(40);
  expect(catalogue()['unit.run_hours']).toMatchObject({ unit: 'h' });
  expect(catalogue()['unit.kw_per_ton']).toMatchObject({ unit: 'kw_per_ton', formula: 'unit.power/unit.capacity' });
});

test('what a metric is made from is a point or a metric', () => {
  for (const { name, inputs } of [...RUNNING_METRICS, ...CYCLE_METRICS, ...LEARNED_METRICS, ...VALVE_METRICS])
    for (const input of inputs)
      expect(isPoint(input) || Object.hasOwn(catalogue(), input), `${name}: ${input}`).toBe(true);
});

describe('planted', () => {
  test.each([
    ['a name twice', [ENTRY, ENTRY], 'defined once'],
    ['a name without component', [{ ...ENTRY, name: 'example' }], 'component.quantity'],
    ['a unit of nowhere', [{ ...ENTRY, unit: 'furlong' as 'kW' }], 'has a unit'],
    ['no meaning', [{ ...ENTRY, meaning: ' ' }], 'says what it means'],
    ['no formula', [{ ...ENTRY, formula: '' }], 'how it is made'],
  ])('%s throws', (_, entries, word) => {
    expect(() => gather([entries])).toThrow(word);
  });
});
