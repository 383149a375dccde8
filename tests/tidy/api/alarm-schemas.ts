/** An alarm as it leaves the agent, for AsyncAPI and OpenAPI. */
import { z } from 'zod';

const time = z.iso.datetime().describe('RFC 3339, UTC');

const alarmState = z
  .enum([
    'normal',
    'unacknowledged',
    'acknowledged',
    'returned to normal',
    'latched',
    'shelved',
    'suppressed by design',
    'out of service',
  ])
  .describe('in the words of ANSI/ISA-18.2');

const deed = { by: z.string(), time, reason: z.string().nullable() };

const alarmCondition = z
  .strictObject({
    side: z.enum(['above', 'below']),
    deadband: z.number().describe('clears only this far on the good side of the limit; unit of the value'),
    on_delay_s: z.number(),
    off_delay_s: z.number(),
    when: z.enum(['running', 'steady', 'always']).describe('state of the machine in which it is judged'),
    running_for_s: z.number(),
    beyond_uncertainty: z.boolean().describe('crossed only by more than the uncertainty of the value'),
  })
  .readonly();

export const alarmFigure = z
  .strictObject({
    id: z.string().describe('the rule; unique within its chiller'),
    chiller: z.string(),
    state: alarmState,
    priority: z.union([z.literal(1), z.literal(2), z.literal(3)]),
    title: z.string(),
    since: time.describe('of the state'),
    active: z.boolean().describe('whether its condition holds, also behind a shelf'),
    raised: time.nullable().describe('when the condition last began'),
    cleared: time.nullable().describe('when it last ended'),
    acknowledged: z.strictObject(deed).readonly().nullable(),
    shelf: z
      .strictObject({ ...deed, until: time })
      .readonly()
      .nullable(),
    suppression: z.string().nullable().describe('what explains it while it is suppressed by design'),
    out_of_service: z.string().nullable().describe('why it is out of service; null: in service'),
    latching: z.boolean().describe('stays until it is acknowledged after it cleared'),
    shelvable: z.boolean().describe('false: shelving is refused'),
    metric: z.string().nullable(),
    value: z.number().nullable(),
    limit: z.number().nullable(),
    unit: z.string().nullable(),
    condition: alarmCondition.nullable().describe('when the limit is judged, and how'),
    cause: z.string(),
    consequence: z.string(),
    action: z.string(),
    respond_within_s: z.number().nullable().describe('time to act before the consequence'),
    evidence: z
      .array(z.strictObject({ name: z.string(), found: z.string(), expected: z.string() }).readonly())
      .readonly(),
  })
  .readonly();
