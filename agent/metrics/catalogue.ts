/** Every metric of the project by name: what MQTT, API, page and documents say of it. */
import type { MetricDefinition } from '../base/metric.ts';
import { assert } from '../base/result.ts';
import { isUnit, type UnitName } from '../base/units.ts';
import { BASELINE_METRICS } from '../baseline/metrics.ts';
import { LEARNED_METRICS } from '../cycle/learning/metrics.ts';
import { CYCLE_METRICS } from '../cycle/metrics/definitions.ts';
import { RUNNING_METRICS } from '../points/running-metrics.ts';
import { VALVE_METRICS } from '../valves/metrics.ts';

export interface CatalogueEntry {
  readonly unit: UnitName;
  readonly meaning: string;
  readonly formula: string;
}

/** What the catalogue needs of a definition, whatever its context. */
type Described = Pick<MetricDefinition<never>, 'name' | 'unit' | 'meaning' | 'formula' | 'inputs'>;

const NAME = /^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)+$/;

/**
 * The entries in order of name. A name given twice, a badly formed one, or one without words is a programmer's error.
 */
export function gather(rooms: readonly (readonly Described[])[]): Readonly<Record<string, CatalogueEntry>> {
  const entries = new Map<string, CatalogueEntry>();
  for (const { name, unit, meaning, formula } of rooms.flat()) {
    assert(NAME.test(name), `metric ${name} is named component.quantity`);
    assert(!entries.has(name), `metric ${name} is defined once`);
    assert(isUnit(unit), `metric ${name} has a unit of the project`);
    assert(meaning.trim() !== '' && formula.trim() !== '', `metric ${name} says what it means and how it is made`);
    entries.set(name, Object.freeze({ unit, meaning, formula }));
  }
  return Object.freeze(Object.fromEntries([...entries].sort(([a], [b]) => (a < b ? -1 : 1))));
}

/** Rooms whose metrics are published. */
const CATALOGUE = gather([RUNNING_METRICS, CYCLE_METRICS, LEARNED_METRICS, VALVE_METRICS, BASELINE_METRICS]);

export function catalogue(): Readonly<Record<string, CatalogueEntry>> {
  return CATALOGUE;
}
