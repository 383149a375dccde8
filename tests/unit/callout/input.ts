/** What a packet is made of, by hand: an approach above its limit and nothing else. */
import type { AlarmReport } from '../../../agent/alarms/evaluate.ts';
import { watchedUnit } from '../../../agent/alarms/rules.ts';
import type { Figure } from '../../../agent/base/metric.ts';
import type { CalloutInput } from '../../../agent/callout/packet.ts';
import { notice } from './notices.ts';

export const START = Date.UTC(2026, 6, 14, 8);

export function good(value: number, uncertainty: number | null = null): Figure {
  return { value, uncertainty, quality: 'good', reason: null };
}

/** A trend that stands at `before` and, for the last third, at `after`. */
export function trend(name: string, before: number, after: number) {
  const buckets = Array.from({ length: 30 }, (_, i) => {
    const mean = i < 20 ? before : after;
    return { time: START - (29 - i) * 120_000, least: mean, greatest: mean, mean };
  });
  return { name, unit: watchedUnit(name) ?? '', step_s: 120, buckets };
}

export function input(given: Partial<CalloutInput> = {}, figures: Readonly<Record<string, Figure>> = {}): CalloutInput {
  const { change: _change, sequence: _sequence, time: _time, ...report } = notice(159);
  return {
    version: '1.2.3',
    made: START,
    site: {
      id: 'kestrel-quay',
      name: 'Kestrel Quay',
      time_zone: 'Europe/Lisbon',
      unit_system: 'ip',
      barometer_kpa: 101.3,
      interval_s: 60,
    },
    chiller: {
      id: 'CH-1',
      name: 'Chiller 1',
      arrangement: 'parallel',
      refrigerant: 'R134a',
      refrigerant_label: 'R-134a',
      rated_capacity_kw: 5275,
      pressure_window: [240, 1320],
      circuit: null,
    } as CalloutInput['chiller'],
    alarm: report as AlarmReport,
    minute: {
      time: new Date(START).toISOString().replace('.000Z', 'Z'),
      sequence: 159,
      state: 'steady',
      state_since: '2026-07-14T06:00:00Z',
      economizer: 'on',
      figures: { 'condenser.approach': good(4.6, 0.8), ...figures },
      points: {},
      states: {},
      ghost: {},
      standstill: null,
      alarms: [],
    },
    trends: [],
    maintenance: [],
    units: watchedUnit,
    ...given,
  };
}
