/** What an alarm is: the rule as the site file gives it, and the same compiled to catalogue units. */
import { z } from 'zod';
import { quantity, readQuantity } from '../base/quantity.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { differenceFromSi, differenceToSi, fromSi, toSi, type UnitName, unitOf } from '../base/units.ts';
import { catalogue } from '../metrics/catalogue.ts';
import { zeroPressure } from '../points/convert.ts';
import { POINTS } from '../points/dictionary.ts';
import type { PressureReference } from '../points/types.ts';

const limit = z.union([z.string(), z.number()]);

/** A whole rule. Exactly one of `above` and `below`. */
export const alarmRule = z.strictObject({
  id: z
    .string()
    .regex(/^[a-z0-9][a-z0-9-]{0,62}$/, 'use lower-case letters, digits and hyphens')
    .describe('unique per chiller; part of the MQTT topic'),
  title: z.string().min(1).max(120).describe('what a person reads first'),
  watch: z.string().describe('the metric or point that is watched'),
  above: limit.optional().describe('raise above this value, such as 3 K'),
  below: limit.optional().describe('raise below this value'),
  deadband: limit.optional().describe('clears only this far on the good side of the limit'),
  on_delay: quantity('time', '10 min').default(300).describe('must be crossed this long to raise'),
  off_delay: quantity('time', '5 min').default(300).describe('must be good this long to clear'),
  when: z.enum(['running', 'steady', 'always']).default('running').describe('judged only in this state of the machine'),
  running_for: quantity('time', '15 min').default(900).describe('and only after it ran this long'),
  priority: z
    .union([z.literal(1), z.literal(2), z.literal(3)])
    .default(3)
    .describe('1 is the most urgent'),
  cause: z.string().default('').describe('likely cause'),
  consequence: z.string().default('').describe('what happens if nobody acts'),
  action: z.string().default('').describe('what to check first'),
  respond_within: quantity('time', '30 min').optional().describe('time to act before the consequence'),
  beyond_uncertainty: z
    .boolean()
    .default(false)
    .describe('crossed only by more than the expanded uncertainty of the figure'),
  latching: z.boolean().default(false).describe('stays until it is acknowledged after it cleared'),
  protected: z.boolean().default(false).describe('may not be shelved: for freeze, oil and refrigerant detectors'),
  out_of_service: z
    .string()
    .min(1)
    .max(500)
    .optional()
    .describe('why this alarm is out of service now; it stays listed with this reason'),
});

export type AlarmRuleInput = z.output<typeof alarmRule>;

/** An entry of the site file: a rule of its own, or what is to be otherwise in a shipped one. */
export const alarmEntry = z.strictObject({
  ...alarmRule.partial().shape,
  id: alarmRule.shape.id,
  enabled: z.boolean().optional().describe('false: this shipped alarm is not wanted here'),
});

/** As it is written. */
export type AlarmEntry = z.input<typeof alarmEntry>;

/** A compiled rule. `limit` and `deadband` in the catalogue unit of `watch`; delays in seconds. */
export interface AlarmRule {
  readonly id: string;
  readonly title: string;
  readonly watch: string;
  readonly side: 'above' | 'below';
  readonly limit: number;
  readonly deadband: number;
  readonly unit: UnitName;
  readonly on_delay_s: number;
  readonly off_delay_s: number;
  readonly when: 'running' | 'steady' | 'always';
  readonly running_for_s: number;
  readonly priority: 1 | 2 | 3;
  readonly cause: string;
  readonly consequence: string;
  readonly action: string;
  readonly respond_within_s: number | null;
  readonly beyond_uncertainty: boolean;
  readonly latching: boolean;
  /** May not be shelved. */
  readonly protected: boolean;
  readonly out_of_service: string | null;
}

/** Catalogue unit of a metric or point; null where there is none of that name. */
export function watchedUnit(name: string): UnitName | null {
  return (catalogue()[name]?.unit as UnitName | undefined) ?? POINTS[name]?.unit ?? null;
}

/** Names a rule may watch, for suggestions. */
export function watchable(): string[] {
  return [...Object.keys(catalogue()), ...Object.keys(POINTS)];
}

export interface RuleSurroundings {
  /** Pa absolute. */
  readonly barometer: number;
  /** How the transmitter of each mapped point counts, by the point's name. */
  readonly references: ReadonlyMap<string, PressureReference>;
}

/**
 * Rule of the site file to catalogue units. Gauge units count from `barometer`; those of a limit on a point with a
 * sealed transmitter count from what that transmitter counts from, so that the limit is what its display shows.
 * Faults: `alarm_rule` with one sentence that names the key.
 */
export function compileRule(rule: AlarmRuleInput, around: RuleSurroundings): Result<AlarmRule> {
  const unit = watchedUnit(rule.watch);
  if (unit === null) return fail('alarm_rule', `watch: there is no metric or point '${rule.watch}'`);
  if ((rule.above === undefined) === (rule.below === undefined)) {
    return fail('alarm_rule', `give exactly one of 'above' and 'below'`);
  }
  const side = rule.above === undefined ? 'below' : 'above';
  const limitValue = toCatalogue((rule.above ?? rule.below) as string | number, unit, zeroOf(rule.watch, around));
  if (!limitValue.ok) return fail('alarm_rule', `${side}: ${limitValue.fault.message}`);
  const deadband = rule.deadband === undefined ? ok(0) : differenceToCatalogue(rule.deadband, unit);
  if (!deadband.ok) return fail('alarm_rule', `deadband: ${deadband.fault.message}`);
  const { on_delay, off_delay, running_for, respond_within, above: _above, below: _below, ...rest } = rule;
  return ok({
    ...rest,
    side,
    unit,
    limit: limitValue.value,
    deadband: deadband.value,
    on_delay_s: on_delay,
    off_delay_s: off_delay,
    running_for_s: running_for,
    respond_within_s: respond_within ?? null,
    out_of_service: rule.out_of_service ?? null,
  });
}

/** A metric, and a point that is absolute, have no zero of their own: the air around the machine is meant there. */
function zeroOf(watch: string, { barometer, references }: RuleSurroundings): number {
  const reference = references.get(watch);
  return reference === 'sealed_gauge' ? zeroPressure(reference, { local: barometer }) : barometer;
}

function toCatalogue(given: string | number, unit: UnitName, zero: number): Result<number> {
  const dimension = unitOf(unit).dimension;
  if (typeof given === 'number' && (dimension === 'count' || dimension === 'state')) return ok(given);
  const read = readQuantity(given, dimension);
  if (typeof read === 'string') return fail('alarm_rule', read);
  return ok(fromSi(toSi(read.value, read.unit, zero), unit, zero));
}

/**
 * A deadband on a temperature is a temperature difference, on a pressure a pressure difference or a plain pressure
 * unit.
 */
function differenceToCatalogue(given: string | number, unit: UnitName): Result<number> {
  const dimension = unitOf(unit).dimension;
  const difference =
    dimension === 'temperature'
      ? 'temperature_difference'
      : dimension === 'pressure'
        ? 'pressure_difference'
        : dimension;
  let read = readQuantity(given, difference);
  if (typeof read === 'string' && difference !== dimension && dimension === 'pressure')
    read = readQuantity(given, dimension);
  if (typeof read === 'string') return fail('alarm_rule', read);
  if (read.value < 0) return fail('alarm_rule', `'${given}' is negative`);
  return ok(differenceFromSi(differenceToSi(read.value, read.unit), unit));
}
