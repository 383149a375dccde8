/**
 * What each fault of the emulated plant does to the agent's figures: to the figures themselves (did the metric move?)
 * and to their error (does the agent still tell the truth about the faulty machine?). Same three processes as
 * `accuracy.ts`, once clean and once a fault, same seed, so that weather and load are the same.
 *
 *     node agent/launch.cjs --node tests/proof/faults.ts [--chiller CH-1] [--minutes 720] [--seed 1]
 *
 * Prints for each fault the metrics whose true value moved by more than two of the agent's standard uncertainties, and
 * those whose mean z moved by more than 0.3: there the solver's assumptions no longer hold.
 */
import { parseArgs } from 'node:util';
import { type Accuracy, accuracy, summary } from './accuracy.ts';

const SITE = new URL('../../config/kestrel-quay.yaml', import.meta.url).pathname;

const FAULTS: Readonly<Record<string, readonly string[]>> = {
  'CH-1': [
    'economizer_compressor_off:1@0',
    'fouled_condenser:30@0',
    'undercharge:15@0',
    'non_condensables:20@0',
    'worn_economizer_compressor:20@0',
    'liquid_carry_over:3@0',
    'badly_tuned_level_loop/tank_valve:8@0',
    'sticking_valve/tank_valve:4@0',
    'sensor_drift/condenser_water.leaving_temperature:1@0',
    'sensor_drift/chilled_water.leaving_temperature:-1@0',
    'sensor_drift/condenser.liquid_temperature:3@0',
  ],
  'CH-2': [
    'fouled_condenser:30@0',
    'undercharge:15@0',
    'non_condensables:5@0',
    'liquid_carry_over:3@0',
    'badly_tuned_level_loop/tank_valve:8@0',
    'sticking_valve/tank_valve:4@0',
  ],
};

interface Moved {
  readonly metric: string;
  /** Means of the true values, catalogue unit. */
  readonly from: number;
  readonly to: number;
  readonly in_u: number;
  readonly z_from: number;
  readonly z_to: number;
  readonly unit: string;
}

function moved(clean: Accuracy, faulty: Accuracy): Moved[] {
  const before = new Map(clean.rows.map((row) => [row.metric, summary(row)]));
  return faulty.rows.map(summary).flatMap((after) => {
    const base = before.get(after.metric);
    if (base === undefined) return [];
    const in_u = (after.mean_true - base.mean_true) / (base.median_U / 2);
    const [z_from, z_to] = [base.mean_z, after.mean_z];
    return [{ metric: after.metric, from: base.mean_true, to: after.mean_true, in_u, z_from, z_to, unit: after.unit }];
  });
}

function line(each: Moved): string {
  const figures = `${each.from.toPrecision(4)} -> ${each.to.toPrecision(4)} ${each.unit}`;
  const z = `mean z ${each.z_from.toFixed(2)} -> ${each.z_to.toFixed(2)}`;
  return `  ${each.metric.padEnd(46)} ${figures.padEnd(36)} ${each.in_u.toFixed(1).padStart(7)} u   ${z}`;
}

const { values } = parseArgs({
  options: {
    chiller: { type: 'string', default: 'CH-1' },
    minutes: { type: 'string', default: '720' },
    seed: { type: 'string', default: '1' },
  },
});
const common = {
  chiller: values.chiller,
  minutes: Number(values.minutes),
  seed: Number(values.seed),
  fixed: false,
  stored: 0,
  config: SITE,
};
const clean = await accuracy({ ...common, faults: [] });
for (const fault of FAULTS[values.chiller] ?? []) {
  const faulty = await accuracy({ ...common, faults: [fault] });
  const all = moved(clean, faulty).sort((a, b) => Math.abs(b.in_u) - Math.abs(a.in_u));
  const value = all.filter(({ in_u }) => Math.abs(in_u) > 2);
  const error = all.filter(({ z_from, z_to }) => Math.abs(z_to - z_from) > 0.3);
  process.stdout.write(`\n${fault}  (${faulty.steady} steady of ${faulty.minutes} minutes)\n`);
  process.stdout.write(
    ` the machine moved:\n${value.map(line).join('\n') || '  nothing beyond 2 standard uncertainties'}\n`,
  );
  process.stdout.write(` the agent's error moved:\n${error.map(line).join('\n') || '  nothing beyond 0.3'}\n`);
}
