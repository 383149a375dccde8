/** The shape of a callout packet as it leaves the agent; `agent/callout/packet.ts` holds the same as a type. */
import { z } from 'zod';
import { alarmFigure } from './alarm-schemas.ts';
import { chillerFigure, doubtsShape, pointFigure, stateFigure, uncertaintyShape, valuesShape } from './schemas.ts';

const time = z.iso.datetime().describe('RFC 3339, UTC');
const maybe = z.number().nullable();
const says = z
  .enum(['for', 'against', 'open'])
  .describe('what the figures say to it; open: they do not tell, or people have to look');
const side = z.enum(['above', 'below']);

const site = z
  .strictObject({
    id: z.string(),
    name: z.string(),
    time_zone: z.string(),
    unit_system: z.enum(['ip', 'si']).describe('what people are shown; values here are in the units of the catalogue'),
    barometer_kpa: z.number(),
    interval_s: z.number(),
  })
  .readonly();

const chiller = z
  .strictObject({
    id: z.string(),
    name: z.string(),
    arrangement: z.string(),
    refrigerant: z.string().describe('as in the site file'),
    refrigerant_label: z.string(),
    rated_capacity_kw: z.number(),
    pressure_window: z.tuple([z.number(), z.number()]).readonly().describe('kPa absolute, of the diagram'),
    circuit: chillerFigure.unwrap().shape.circuit,
  })
  .readonly();

const howSure = z
  .strictObject({
    value: maybe,
    limit: maybe,
    unit: z.string().nullable(),
    side: side.describe('of the limit on which the value is wrong'),
    uncertainty: maybe.describe('expanded, k = 2'),
    quality: z.enum(['good', 'uncertain', 'bad']),
    reason: z.string().nullable(),
    distance: maybe.describe('beyond the limit, in standard uncertainties (k = 1)'),
    verdict: z.enum(['beyond measuring error', 'within measuring error', 'no uncertainty known', 'no limit']),
  })
  .readonly();

const sign = z
  .strictObject({
    name: z.string().describe('metric or point'),
    unit: z.string(),
    seen: z.string().describe('what is seen where this is the cause'),
    now: maybe,
    before: maybe.describe('mean of the first third of the trend'),
    says,
  })
  .readonly();

const cause = z
  .strictObject({
    fault: z.string().describe('stable name'),
    title: z.string(),
    says,
    signs: z.array(sign).readonly().describe('what tells it from its rivals'),
    checks: z.array(z.string()).readonly().describe('on site, in order'),
  })
  .readonly();

const machine = z
  .strictObject({
    state: z.string(),
    state_since: time,
    economizer: z.enum(['on', 'off', 'none', 'unknown']),
    values: valuesShape,
    uncertainty: uncertaintyShape,
    quality: doubtsShape,
    points: z.record(z.string(), pointFigure).readonly(),
    states: z.record(z.string(), stateFigure).readonly(),
    ghost: z.record(z.string(), stateFigure).readonly(),
  })
  .readonly();

const trend = z
  .strictObject({
    name: z.string(),
    unit: z.string(),
    step_s: z.number(),
    from: time.describe('what the rows count from'),
    points: z
      .array(z.tuple([z.number(), maybe, maybe]).readonly())
      .readonly()
      .describe('seconds from `from`, least and greatest of the bucket'),
  })
  .readonly();

/** `<prefix>/<site>/<chiller>/callout`, and /api/chillers/<id>/callouts/<event> */
export const calloutPacket = z.strictObject({
  form: z.literal(1).describe('version of this shape'),
  event: z.string().describe('`<alarm>.<sequence>`: names the event within its chiller'),
  made: time.describe('when the packet was made'),
  time: time.describe('end of the interval in which the alarm was raised'),
  sequence: z.number().int().describe('of that interval'),
  version: z.string(),
  site,
  chiller,
  alarm: alarmFigure,
  how_sure: howSure,
  causes: z.array(cause).readonly().describe('most likely first'),
  first_checks: z.array(z.string()).readonly().describe('what to look at first on site, in order'),
  cautions: z.array(z.strictObject({ id: z.string(), text: z.string() }).readonly()).readonly(),
  machine,
  other_alarms: z
    .array(alarmFigure.unwrap().pick({ id: true, title: true, priority: true, state: true, since: true }).readonly())
    .readonly(),
  trends: z.array(trend).readonly(),
  maintenance: z
    .array(z.strictObject({ time, kind: z.string(), text: z.string(), mass_kg: maybe }).readonly())
    .readonly(),
  left_out: z.array(z.string()).readonly().describe('what was left out to keep the packet within its bound'),
});
