/** Trends of the plant for looking at the page: a strip of the data, stretched over the time asked for. */
import type { HistoryFigure, Now } from '../../agent/web/types.ts';
import { DATA, METRICS, n } from './fixture-figures.ts';
import { SECOND } from './fixture-second.ts';

interface Machine {
  readonly chiller: string;
  /** The two-stage one. */
  readonly second: boolean;
  /** Nothing recorded yet. */
  readonly waiting: boolean;
}

/** Times in ms, step in s. */
interface Asked {
  readonly metric: string;
  readonly from: number;
  readonly to: number;
  readonly step: number;
}

export function historyOf(
  now: Now | null,
  { chiller, second, waiting }: Machine,
  { metric, from, to, step }: Asked,
): HistoryFigure | null {
  const strip = {
    'condenser.level': 'condenser_level',
    'flash_tank.level': 'tank_level',
    'condenser_valve.position': 'condenser_valve',
    'tank_valve.position': 'tank_valve',
  }[metric];
  const unit = METRICS[metric] ?? now?.points[metric]?.unit ?? (strip === undefined ? undefined : '1');
  if (unit === undefined) return null;
  const count = Math.floor((to - from) / 1000 / step);
  const ends = DATA.on;
  const { strips, spark } = second ? SECOND : DATA;
  const middle = {
    'unit.capacity': now?.values['unit.capacity'] ?? n(ends, 'Q') / 1e3,
    'unit.cop': 6.64,
    'main_compressor.lift': n(ends, 'Tc') - n(ends, 'Te'),
    'flash_tank.flash_fraction': n(ends, 'x4'),
    'chilled_water.leaving_temperature': 6.75,
  }[metric];
  const series =
    strip !== undefined
      ? (strips[strip] ?? []).map((v) => v / 100)
      : spark.map((v) =>
          middle === undefined
            ? v
            : middle * (1 + (v - (second ? 0.519 : n(ends, 'kwpt'))) * (metric === 'unit.capacity' ? 0.8 : 0.6)),
        );
  const points = Array.from({ length: count }, (_, i) => {
    const time = new Date(to - (count - 1 - i) * step * 1000).toISOString();
    const a = Math.floor((i / count) * series.length);
    const part = series.slice(a, Math.max(a + 1, Math.floor(((i + 1) / count) * series.length)));
    if (waiting || part.length === 0) return { time, least: null, greatest: null, mean: null };
    return {
      time,
      least: Math.min(...part),
      greatest: Math.max(...part),
      mean: part.reduce((x, y) => x + y, 0) / part.length,
    };
  });
  return { chiller, metric, unit, step_s: step, points };
}
