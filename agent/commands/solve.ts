import { parseArgs } from 'node:util';
import { z } from 'zod';
import { recordIssues } from '../base/record-issues.ts';
import { fail, must, ok, type Result } from '../base/result.ts';
import { parseRfc3339 } from '../base/time.ts';
import { differenceToSi, isUnit, unitOf } from '../base/units.ts';
import { formatIssues, loadSite } from '../config/load.ts';
import { standstill } from '../cycle/inputs.ts';
import { prepare, type Solver } from '../cycle/solve.ts';
import { catalogue } from '../metrics/catalogue.ts';
import { type Atmosphere, convert, readingFromSi, readingToSi } from '../points/convert.ts';
import { isPoint, POINTS, pointDefinition } from '../points/dictionary.ts';
import type { PointSpec, PointValue, Snapshot } from '../points/types.ts';
import { refrigerant } from '../refrigerant/refrigerants.ts';
import { nearest } from '../site/nearest.ts';
import type { ChillerSite } from '../site/site.ts';
import { defaultSpan } from '../site/spans.ts';
import { defaultUncertainty } from '../site/uncertainty.ts';
import type { Command } from './io.ts';
import { answerLines } from './records.ts';

const pointRecord = z.strictObject({
  value: z.number().nullable(),
  unit: z.string(),
  u: z.number().min(0).optional(),
  quality: z.enum(['good', 'uncertain', 'bad']).optional(),
  reason: z.string().optional(),
});
const intervalRecord = z.strictObject({ time: z.string(), points: z.record(z.string(), pointRecord) });
type PointRecord = z.output<typeof pointRecord>;

export const command: Command = {
  summary: "Solves the cycle from a chiller's points",
  usage: `tonhour solve --config FILE --chiller ID

Reads NDJSON on standard input, one interval a line: {"time": RFC 3339, "points": {name: {"value", "unit", "u"}}}, and answers each with
{state, economizer, states, ghost, metrics: {name: {value, unit, uncertainty, quality, reason}}, corrections, suspects, chi_square, unobservable}.
Gauge units count from the site's barometer, or from the standard atmosphere where the site file says sealed_gauge. u is the standard
uncertainty (k = 1) in the unit given; left out: the site file's, else the common default. "quality" and "reason" may be given too.
Uncertainties answered are expanded (k = 2). A bad line answers {"error":{"code","message"}}.
`,
  async run(args, io) {
    const wrong = (message: string): number => {
      io.err.write(`tonhour solve: ${message}\n\n${command.usage}`);
      return 2;
    };
    let flags: { config?: string; chiller?: string; help?: boolean };
    try {
      const options = { config: { type: 'string' }, chiller: { type: 'string' }, help: { type: 'boolean' } } as const;
      flags = parseArgs({ args: [...args], options }).values;
    } catch (error) {
      return wrong(error instanceof Error ? error.message : 'the call is not understood');
    }
    if (flags.help === true) {
      io.out.write(command.usage);
      return 0;
    }
    if (flags.config === undefined) return wrong('--config is missing');
    if (flags.chiller === undefined) return wrong('--chiller is missing');
    const site = await loadSite(flags.config, { env: process.env });
    if (!site.ok) {
      io.err.write(formatIssues(site.fault));
      return 2;
    }
    const { chillers, barometer } = site.value;
    const chiller = chillers.find(({ id }) => id === flags.chiller);
    if (chiller === undefined)
      return wrong(
        `no chiller '${flags.chiller}' in ${flags.config}; there are ${chillers.map(({ id }) => id).join(', ')}`,
      );
    const solver = must(prepare(chiller.machine));
    const failed = await answerLines(io, (record, line) =>
      answer(record, line, { solver, chiller, air: { local: barometer } }),
    );
    return failed === 0 ? 0 : 1;
  },
};

interface Site {
  readonly solver: Solver;
  readonly chiller: ChillerSite;
  readonly air: Atmosphere;
}

function answer(record: unknown, line: number, site: Site): Result<object> {
  const parsed = intervalRecord.safeParse(record);
  if (!parsed.success) return fail('bad_record', `line ${line}: ${recordIssues(parsed.error)}`);
  const time = parseRfc3339(parsed.data.time);
  if (time === null) return fail('bad_record', `line ${line}: time '${parsed.data.time}' is not RFC 3339`);
  const points: Record<string, PointValue> = {};
  for (const [name, given] of Object.entries(parsed.data.points)) {
    const point = pointValue(name, given, site);
    if (!point.ok) return fail(point.fault.code, `line ${line}: ${name}: ${point.fault.message}`);
    points[name] = point.value;
  }
  const snapshot: Snapshot = { time, points };
  const { economizer, states, ghost, metrics, unobservable } = site.solver.solve(snapshot);
  const units = catalogue();
  return ok({
    time: parsed.data.time,
    state: standstill(snapshot, site.chiller.machine) === null ? 'running' : 'off',
    economizer,
    states,
    ghost,
    metrics: Object.fromEntries(
      Object.entries(metrics).map(([name, { value, ...rest }]) => [
        name,
        { value, unit: units[name]?.unit ?? '1', ...rest },
      ]),
    ),
    corrections: {},
    suspects: [],
    chi_square: null,
    unobservable,
  });
}

function pointValue(name: string, given: PointRecord, { chiller, air }: Site): Result<PointValue> {
  if (!isPoint(name)) {
    const near = nearest(name, Object.keys(POINTS));
    return fail('bad_record', `no such point${near === null ? '' : `; the nearest known is '${near}'`}`);
  }
  const definition = pointDefinition(name);
  const { unit } = given;
  if (!isUnit(unit) || unitOf(unit).dimension !== definition.dimension)
    return fail('bad_record', `'${unit}' does not measure ${definition.dimension.replaceAll('_', ' ')}`);
  const seen = { age_s: 0, spread: null, n: 1 };
  if (given.value === null || given.quality === 'bad')
    return ok({ ...seen, value: null, u: null, quality: 'bad', reason: given.reason ?? 'no value' });
  const mapped = chiller.points.find((point) => point.name === name);
  const gauge = unitOf(unit).gauge === true;
  const reference = gauge ? (mapped?.reference === 'sealed_gauge' ? 'sealed_gauge' : 'vented_gauge') : 'absolute';
  const spec = specOf(name, { unit, reference }, mapped, { chiller, air });
  const converted = convert({ spec, raw: given.value, atmosphere: air });
  if (converted.value === null) return ok({ ...seen, value: null, u: null, quality: 'bad', reason: converted.reason });
  const { absolute, relative } = spec.uncertainty;
  const u = given.u === undefined ? Math.hypot(absolute, relative * converted.value) : differenceToSi(given.u, unit);
  const quality = given.quality ?? 'good';
  const reason = quality === 'good' ? null : (given.reason ?? 'no reason given');
  const { barometer } = spec.uncertainty;
  const shared = barometer === undefined ? {} : { u_barometer: Math.min(barometer, u) };
  return ok({ ...seen, value: converted.value, u, ...shared, quality, reason });
}

/** The site's word on the point where it is mapped, read in the unit of the record; else the dictionary's. */
function specOf(
  name: string,
  read: Pick<PointSpec, 'unit' | 'reference'>,
  mapped: PointSpec | undefined,
  { chiller, air }: Pick<Site, 'chiller' | 'air'>,
): PointSpec {
  const definition = pointDefinition(name);
  const from = mapped ?? { unit: definition.unit, reference: 'absolute', valid: [definition.low, definition.high] };
  const ends = from.valid.map((end) => readingFromSi(readingToSi(end, from as PointSpec, air), read, air));
  const fluid = refrigerant(chiller.machine.refrigerant);
  const span =
    fluid.ok && definition.dimension === 'pressure' ? defaultSpan(name.split('.')[0] as string, fluid.value) : null;
  return {
    name,
    ...read,
    scale: 1,
    offset: 0,
    sentinels: [],
    valid: [Math.min(...ends), Math.max(...ends)],
    uncertainty: mapped?.uncertainty ?? defaultUncertainty(definition, span?.ok === true ? span.value : null),
    fast: false,
    stale_s: 1,
    frozen_s: null,
  };
}
