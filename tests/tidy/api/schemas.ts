/**
 * The shapes that leave the agent, written once for AsyncAPI and OpenAPI. `agent/web/types.ts` and the payload makers
 * hold the same shapes as types; the file `schemas.test.ts` compares them at compile time and with real payloads.
 */
import { z } from 'zod';
import { alarmFigure } from './alarm-schemas.ts';

const time = z.iso.datetime().describe('RFC 3339, UTC');
const quality = z.enum(['good', 'uncertain', 'bad']);
const doubt = z
  .strictObject({ quality: z.enum(['uncertain', 'bad']), reason: z.string() })
  .readonly()
  .describe('why a figure is not good');
const values = z
  .record(z.string(), z.number().nullable())
  .readonly()
  .describe('by metric, in the unit of the catalogue; null where there is none, with its reason under quality');
const uncertainty = z
  .record(z.string(), z.number())
  .readonly()
  .describe('expanded (k = 2), by metric that has one, in the unit of the catalogue');
const doubts = z.record(z.string(), doubt).readonly().describe('only what is not good');

/** The three parts in which figures travel, for shapes of other files. */
export { doubts as doubtsShape, uncertainty as uncertaintyShape, values as valuesShape };

const sequence = z.number().int().describe('one more for each published minute of a chiller, across restarts');
const unitState = z.enum([
  'off',
  'starting',
  'pull-down',
  'load change',
  'running',
  'steady',
  'low-load cycling',
  'stopping',
  'standstill',
  'unknown',
]);

export const pointFigure = z
  .strictObject({
    value: z.number().nullable(),
    unit: z.string(),
    uncertainty: z.number().nullable().describe('expanded, k = 2'),
    quality,
    reason: z.string().nullable(),
    age_s: z.number().nullable(),
  })
  .readonly();

export const stateFigure = z
  .strictObject({
    T: z.number().describe('K'),
    p: z.number().describe('Pa, absolute'),
    h: z.number().describe('J/kg'),
    s: z.number().describe('J/(kg K)'),
    q: z.number().nullable().describe('vapour by mass, where two-phase or saturated'),
    m: z.number().nullable().describe('kg/s, where known'),
  })
  .readonly();

export const linkFigure = z
  .strictObject({
    state: z.enum(['connecting', 'connected', 'lost', 'stopped']),
    since: time,
    reason: z.string().nullable(),
  })
  .readonly();

const suspects = z
  .array(z.array(z.string()).readonly())
  .readonly()
  .describe('sensors that contradict the others, in groups of which one is off, the best explanation first');

export const reconciliationFigure = z
  .strictObject({
    chi_square: z
      .strictObject({ value: z.number(), dof: z.number().int(), p: z.number() })
      .readonly()
      .nullable()
      .describe('global test of the balances; null where nothing is redundant'),
    corrections: z
      .record(z.string(), z.number())
      .readonly()
      .describe('standardized correction z of each point and assumption that the balances check'),
    suspects: suspects.describe('named by ten steady minutes and more; one group of one is the sensor itself'),
    since: time.nullable(),
    off: z
      .record(z.string(), z.strictObject({ value: z.number(), uncertainty: z.number(), unit: z.string() }).readonly())
      .readonly()
      .describe('what each suspect would be off by if it alone were; uncertainty expanded, k = 2'),
  })
  .readonly();

export const now = z
  .strictObject({
    chiller: z.string(),
    time: time.nullable().describe('end of the interval; null: no minute solved yet'),
    sequence: sequence.nullable(),
    interval_s: z.number(),
    state: z.string().describe(unitState.options.join(', ')),
    state_since: time.nullable(),
    economizer: z.enum(['on', 'off', 'none', 'unknown']),
    values,
    uncertainty,
    random_share: z
      .record(z.string(), z.number())
      .readonly()
      .describe(
        'of metrics that hours and seasons add up: share of the square of `uncertainty` that is new in each interval; the rest, and where there is none the whole, is the same all through',
      ),
    quality: doubts,
    points: z.record(z.string(), pointFigure).readonly(),
    states: z.record(z.string(), stateFigure).readonly(),
    ghost: z.record(z.string(), stateFigure).readonly().describe('the circuit as it would run the other way'),
    reconciliation: reconciliationFigure.nullable().describe('null: no minute solved yet'),
    link: linkFigure,
    points_read: z.number(),
    points_mapped: z.number(),
    alarms: z.array(alarmFigure).readonly(),
  })
  .readonly();

export const plantFigure = z
  .strictObject({
    time: time.nullable().describe('end of the newest interval; null: no minute solved yet'),
    chillers: z.number(),
    running: z.number().describe('how many are known to run'),
    unknown: z.array(z.string()).readonly().describe('chillers of which nobody knows whether they run'),
    values,
    uncertainty: uncertainty.describe('expanded (k = 2); the machines are taken as independent'),
    quality: doubts,
  })
  .readonly();

const catalogueEntry = z.strictObject({ unit: z.string(), meaning: z.string(), formula: z.string() }).readonly();

const circuitLeg = z
  .strictObject({
    id: z.string(),
    kind: z.enum(['heat-out', 'heat-in', 'throttle1', 'throttle2', 'split', 'work', 'work2']),
    states: z.array(z.string()).readonly(),
  })
  .readonly();

const circuitFigure = z
  .strictObject({
    about: z.string(),
    on: z.array(circuitLeg).readonly(),
    off: z.array(circuitLeg).readonly().describe('with the economizer off'),
    words: z
      .record(
        z.string(),
        z
          .strictObject({ where: z.string(), temperature: z.array(z.string()).readonly(), pressure: z.string() })
          .readonly(),
      )
      .readonly(),
    round: z.array(z.string()).readonly().describe('state numbers round the circuit'),
    hides: z.string().describe('expression of the figures that this machine does not have'),
    middle: z.string().describe("component whose pressure is the economizer's"),
    where: z.string(),
    flash: z.tuple([z.string(), z.string()]).readonly(),
    rows: z.array(z.tuple([z.string(), z.string()]).readonly()).readonly(),
  })
  .readonly();

export const chillerFigure = z
  .strictObject({
    id: z.string(),
    arrangement: z.string(),
    circuit: circuitFigure.nullable().describe('how to draw it; null: as the page knows the arrangement'),
    refrigerant: z.string(),
    rated_capacity_kw: z.number(),
    pressure_window: z.tuple([z.number(), z.number()]).readonly().describe('kPa absolute, of the diagram'),
  })
  .readonly();

export const siteFigure = z
  .strictObject({
    id: z.string(),
    name: z.string(),
    time_zone: z.string(),
    unit_system: z.enum(['ip', 'si']).describe('what people are shown; values here are in the units of the catalogue'),
    barometer_kpa: z.number(),
    interval_s: z.number(),
    version: z.string(),
    demo: z.boolean().describe('the plant is emulated'),
    chillers: z.array(chillerFigure).readonly(),
    catalogue: z.record(z.string(), catalogueEntry).readonly(),
  })
  .readonly();

const row = z.tuple([z.number(), z.number(), z.number()]).readonly();

export const diagramFigure = z
  .strictObject({
    refrigerant: z.string(),
    reference: z.string().describe('state at which enthalpy is fixed'),
    critical: z.strictObject({ T: z.number(), p: z.number(), h: z.number() }).readonly(),
    liquid: z.array(row).readonly().describe('h, p, T'),
    vapour: z.array(row).readonly().describe('h, p, T'),
    isotherms: z
      .array(
        z
          .strictObject({ T: z.number(), line: z.array(z.tuple([z.number(), z.number()]).readonly()).readonly() })
          .readonly(),
      )
      .readonly(),
  })
  .readonly();

export const historyFigure = z
  .strictObject({
    chiller: z.string(),
    metric: z.string(),
    unit: z.string(),
    step_s: z.number(),
    points: z
      .array(
        z
          .strictObject({
            time,
            least: z.number().nullable(),
            greatest: z.number().nullable(),
            mean: z.number().nullable(),
          })
          .readonly(),
      )
      .readonly(),
  })
  .readonly();

/** `<prefix>/<site>/<chiller>/metrics` */
export const metricsPayload = z.strictObject({
  time: time.describe('end of the interval'),
  sequence,
  state: unitState,
  values,
  uncertainty,
  quality: doubts,
  suspects,
});

/** Stands in the place of messages that the bound of the outbox dropped. */
export const gapPayload = z.strictObject({
  gap: z.strictObject({
    from_sequence: z.number().int(),
    to_sequence: z.number().int(),
    count: z.number().int().min(1).describe('messages that will not come'),
  }),
});

/** `<prefix>/<site>/<chiller>/alarms/<id>` */
export const alarmPayload = alarmFigure.unwrap().extend({ sequence });

/** `<prefix>/<site>/status` */
export const statusPayload = z.strictObject({
  status: z.enum(['online', 'offline']),
  time: time.nullable().describe('null in the last will: the broker says it, when the agent cannot'),
  reason: z.string().nullable(),
  version: z.string(),
});

/** `<prefix>/<site>/<chiller>/describe` */
export const describePayload = z.strictObject({
  arrangement: z.string(),
  refrigerant: z.string(),
  metrics: z.record(z.string(), catalogueEntry),
});

/** What the API answers around the shapes above. */
export const alarmsAnswer = z.strictObject({ alarms: z.array(alarmFigure) });
export const diagramAnswer = diagramFigure.unwrap().extend({
  states: z.record(z.string(), stateFigure).describe('the solved circuit of the newest minute'),
});
export const seriesFigure = z
  .strictObject({
    unit: z.string(),
    start: z.number().describe('ms since the epoch that the rows count from'),
    points: z
      .array(z.tuple([z.number(), z.number().nullable(), z.number().nullable()]).readonly())
      .readonly()
      .describe(
        'seconds from `start`, least and greatest of the bucket; for the sparks the mean stands in both places',
      ),
  })
  .readonly();
const series = z.record(z.string(), seriesFigure);
export const seriesAnswer = z.strictObject({
  series: series.describe('by metric or point: the last hour, levels and valves the last half hour'),
  sparks: series.describe('power per ton of each chiller, the last hour'),
});
export const healthAnswer = z.strictObject({ healthy: z.boolean(), trouble: z.string().nullable() });
export const faultAnswer = z.strictObject({ error: z.strictObject({ code: z.string(), message: z.string() }) });
