/** The shape of a season as it leaves the agent; `agent/season` holds the same as types. */
import { z } from 'zod';

const time = z.iso.datetime().describe('RFC 3339, UTC');
const number = z.number();
const maybe = z.number().nullable();

const energyUncertainty = z
  .strictObject({ ton_hours: maybe, kwh: maybe, kw_per_ton: maybe })
  .readonly()
  .describe('expanded, k = 2; what a sensor is wrong by is the same all through and does not average out');

const uncertaintyParts = z
  .strictObject({
    kept: energyUncertainty.unwrap().readonly().describe('lasts: no length of a period makes it smaller'),
    random: energyUncertainty.unwrap().readonly().describe('new in each minute'),
  })
  .readonly()
  .describe('of `uncertainty`, in quadrature; expanded, k = 2');

const energy = {
  minutes: number,
  ton_hours: number,
  kwh: number,
  kw_per_ton: maybe.describe('energy over ton-hours, never a mean of ratios; null where no cooling was made'),
  uncertainty: energyUncertainty,
};

const minutes = {
  minutes_due: number,
  minutes_recorded: number,
  minutes_used: number.describe('with power and capacity'),
  minutes_standing: number,
  minutes_lacking: number.describe('due, and neither used nor standing'),
};

const period = {
  ...minutes,
  from: time,
  to: time,
  ton_hours: maybe,
  kwh: maybe,
  kw_per_ton: energy.kw_per_ton,
  uncertainty: energyUncertainty,
  kwh_saved: maybe.describe('by the economizer'),
  kwh_missed: maybe.describe('while the economizer was off'),
};

const amount = z
  .strictObject({
    kwh: maybe,
    uncertainty: maybe.describe('expanded, k = 2'),
    minutes_lacking: number,
    minutes_uncertain: number,
    reason: z.string().nullable(),
  })
  .readonly();

const money = z
  .strictObject({
    currency: z.string(),
    price_per_kwh: number,
    energy: maybe.describe('of running and of standstill'),
    saved: maybe,
    missed: maybe,
    uncertainty: z
      .strictObject({ energy: maybe, saved: maybe, missed: maybe })
      .readonly()
      .describe('expanded, k = 2, of the energies; the price is taken as exact'),
  })
  .readonly();

const deviation = z
  .strictObject({
    hours: number.describe('steady hours that could be compared'),
    hours_outside: number.describe('beyond the load and water temperatures of the fit'),
    hours_without: number.describe('without a baseline for the way they ran'),
    kwh: number.describe('of the hours compared'),
    kwh_expected: number.describe('of the clean machine at the same load and water temperatures'),
    kw_per_ton: maybe,
    kw_per_ton_expected: maybe,
    deviation: maybe.describe('measured over expected less 1'),
    kwh_more: number.describe('measured less expected'),
    uncertainty: z
      .strictObject({ deviation: maybe, kwh_more: maybe })
      .readonly()
      .describe('expanded, k = 2, of the model; errors that the sensors keep cancel to first order'),
    cost: maybe,
    cost_uncertainty: maybe,
  })
  .readonly();

const step = z
  .strictObject({
    name: z.string().describe('2026-07-01, 2026-07, or the local start of an hour, 2026-07-01 05:00'),
    hours: number,
    ...period,
    against: deviation.nullable(),
    kwh_more_summed: maybe.describe('since the period began or work restarted the baseline'),
  })
  .readonly();

const bin = z
  .strictObject({ from: number, to: number, ...energy })
  .readonly()
  .describe('load: share of rated capacity; lift: refrigerant, K');

const judged = z
  .strictObject({ cv: number, nmbe: number })
  .readonly()
  .describe('of power, on hours left out of the fit, 1');
const model = z.enum(['gordon_ng', 'bi_quadratic']);
const mode = z.enum(['on', 'off', 'none']).describe('how the economizer stood');

const baseline = z
  .strictObject({
    from: time,
    to: time,
    accepted: z.strictObject({ cv: z.literal(0.05), nmbe: z.literal(0.005) }).readonly(),
    guideline_14_hourly: z.strictObject({ cv: z.literal(0.3), nmbe: z.literal(0.1) }).readonly(),
    fits: z
      .array(
        z
          .strictObject({
            mode,
            hours: number,
            days: number,
            model: model.nullable().describe('null: none is accepted'),
            label: z.string().nullable(),
            formula: z.string().nullable(),
            parameters: z.record(z.string(), number).readonly(),
            scatter_kw: maybe.describe('of an hour about the model, k = 1'),
            autocorrelation: maybe,
            candidates: z
              .array(
                z
                  .strictObject({
                    model,
                    judged: judged.nullable(),
                    accepted: z.boolean(),
                    reason: z.string().nullable(),
                  })
                  .readonly(),
              )
              .readonly(),
            reason: z.string().nullable(),
          })
          .readonly(),
      )
      .readonly(),
    levels: z
      .array(
        z
          .strictObject({
            from: time.nullable(),
            kind: z.string(),
            level: maybe.describe('power over that of the declared machine'),
            uncertainty: maybe,
            hours: number,
            reason: z.string().nullable(),
          })
          .readonly(),
      )
      .readonly()
      .describe('work on the machine restarts the baseline at a level of its own'),
    reason: z.string().nullable().describe('why nothing can be compared'),
  })
  .readonly();

const worth = z
  .strictObject({
    hours_before: number,
    hours_after: number,
    before: maybe.describe('against the declared machine, 1'),
    after: maybe,
    kwh_avoided: maybe.describe('more that the hours since would have taken as before the work'),
    uncertainty: maybe.describe('expanded, k = 2, kWh'),
    reason: z.string().nullable(),
    money: maybe,
    money_uncertainty: maybe,
  })
  .readonly();

const work = z
  .strictObject({
    id: number,
    time,
    kind: z.string(),
    text: z.string(),
    mass_kg: maybe,
    worth: worth.nullable(),
  })
  .readonly();

const compressors = z.strictObject({ main_compressor: amount, economizer_compressor: amount }).readonly();
const economizer = z
  .strictObject({ minutes_on: number, minutes_off: number, saved: amount, missed: amount })
  .readonly();

const notes = z
  .strictObject({
    scope: z.literal('the chiller alone, without pumps and tower'),
    kw_per_ton: z.literal('energy over ton-hours of the minutes used, never a mean of ratios'),
    uncertainty: z.literal(
      'expanded (k = 2); what a sensor is wrong by lasts and does not average out, the scatter of its readings does',
    ),
    minutes_used: z.literal(
      'minutes lacking are left out, nothing is put in their place: sums are of the minutes used',
    ),
  })
  .readonly();

const chillerSeason = z
  .strictObject({
    chiller: z.string(),
    name: z.string(),
    time_zone: z.string(),
    ...period,
    reasons: z.record(z.string(), z.string()).readonly().describe('why a figure is null, by its name'),
    uncertainty_parts: uncertaintyParts,
    lacking: z
      .strictObject({
        not_recorded: number,
        without_power: number,
        without_capacity: number,
        state_unknown: number,
      })
      .readonly(),
    minutes_uncertain: number,
    kwh_standing: maybe,
    compressors,
    economizer,
    bins: z.strictObject({ load: z.array(bin).readonly(), lift: z.array(bin).readonly() }).readonly(),
    part_load: z
      .strictObject({
        kw_per_ton: maybe,
        uncertainty: maybe,
        note: z.literal('field value, not a certified rating'),
        reason: z.string().nullable(),
        bands: z.array(z.strictObject({ load: number, mean_load: maybe, ...energy }).readonly()).readonly(),
      })
      .readonly(),
    money: money.nullable(),
    notes,
    steps: z.array(step).readonly(),
    months: z.array(step).readonly(),
    baseline: baseline.nullable().describe('null: none is declared'),
    against: deviation.nullable(),
    load_lift: z
      .array(
        z
          .strictObject({
            load: number.describe('number of the bin: edges at 0.45, 0.6, 0.75, 0.9 of rated capacity'),
            lift: number.describe('number of the bin: edges at 12, 16, 20, 24 K of water lift'),
            hours: number,
            kw_per_ton: number,
            deviation: maybe,
            uncertainty: maybe,
          })
          .readonly(),
      )
      .readonly()
      .describe('steady hours; lift: entering condenser water less leaving chilled water'),
    maintenance: z.array(work).readonly(),
  })
  .readonly();

export const seasonAnswer = z
  .strictObject({
    from: time,
    to: time,
    time_zone: z.string(),
    step: z.enum(['hour', 'day', 'month']),
    plant: z
      .strictObject({
        ...period,
        chillers: z.array(z.string()).readonly(),
        lacking: z.record(z.string(), z.string()).readonly().describe('machines with nothing to sum, and why'),
        uncertainty_common: energyUncertainty
          .unwrap()
          .readonly()
          .describe('as `uncertainty`, had all machines their errors in common; there they are apart'),
        uncertainty_parts: uncertaintyParts,
        kwh_standing: maybe,
        compressors,
        economizer,
        money: money.nullable(),
        against: deviation.nullable(),
        steps: z.array(step).readonly(),
        months: z.array(step).readonly(),
      })
      .readonly()
      .nullable()
      .describe('the machines together; null where one alone was asked for'),
    chillers: z.array(chillerSeason).readonly(),
    notes,
  })
  .readonly();
