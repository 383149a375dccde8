/** What the figures of the minute, and their way into it, say for and against each cause. Pure. */
import type { Figure } from '../base/metric.ts';
import { candidates, FAULTS, type FaultId } from './candidates.ts';
import type { Tell, Test } from './fault.ts';
import { type CalloutMinute, figureOf, type TrendColumns } from './minute.ts';

export type Says = 'for' | 'against' | 'open';

/** One sign of a cause; values in catalogue units. */
export interface Sign {
  readonly name: string;
  readonly unit: string;
  /** What is seen where this is the cause. */
  readonly seen: string;
  readonly now: number | null;
  /** Mean over the first third of the trend; null where there is none. */
  readonly before: number | null;
  readonly says: Says;
}

export interface Cause {
  readonly fault: FaultId;
  readonly title: string;
  /** `for`: the signs that can be told speak for it more than against it. */
  readonly says: Says;
  readonly signs: readonly Sign[];
  readonly checks: readonly string[];
}

export interface Weighed {
  readonly alarm: { readonly id: string; readonly watch: string | null; readonly side: 'above' | 'below' };
  readonly minute: CalloutMinute;
  readonly trends: ReadonlyMap<string, TrendColumns>;
  /** Start of the alarm, ms. */
  readonly start: number;
  readonly units: (name: string) => string | null;
}

/** Least buckets with a value from which a beginning is told. */
const BUCKETS_MIN = 5;

/**
 * The causes of an alarm, most likely first: what the signs speak for, then what they leave open in the order of the
 * trade, then what they speak against.
 */
export function weigh(weighed: Weighed): Cause[] {
  const economizer = weighed.minute.economizer !== 'none';
  const found = candidates(weighed.alarm, { economizer }).map((fault, order) => {
    const { title, tells, checks } = FAULTS[fault];
    const signs = fault === 'sensor_drift' ? sensorSigns(weighed) : tells.map((tell) => signOf(tell, weighed));
    const score = signs.reduce((sum, { says }) => sum + (says === 'for' ? 1 : says === 'against' ? -1 : 0), 0);
    const says: Says = score > 0 ? 'for' : score < 0 ? 'against' : 'open';
    return { order, score, cause: { fault, title, says, signs: signs.filter(worthTelling), checks } };
  });
  return sensorEarly(found.sort((a, b) => b.score - a.score || a.order - b.order).map(({ cause }) => cause));
}

/** A sensor is ruled out before anything is opened: it stands second at the latest. */
function sensorEarly(causes: readonly Cause[]): Cause[] {
  const sensor = causes.findIndex(({ fault }) => fault === 'sensor_drift');
  if (sensor < 2) return [...causes];
  const rest = causes.filter(({ fault }) => fault !== 'sensor_drift');
  return [...rest.slice(0, 1), causes[sensor] as Cause, ...rest.slice(1)];
}

/** A sign of a figure that the machine does not have tells nobody anything. */
function worthTelling({ now, before, says }: Sign): boolean {
  return now !== null || before !== null || says !== 'open';
}

function signOf({ of, seen, test }: Tell, { minute, trends, start, units }: Weighed): Sign {
  const figure = figureOf(minute, of);
  const before = beginning(trends.get(of), start);
  return {
    name: of,
    unit: units(of) ?? '',
    seen,
    now: figure?.value ?? null,
    before,
    says: test === null || figure === null || figure.value === null ? 'open' : judge(test, figure, before),
  };
}

function judge(test: Test, figure: Figure, before: number | null): Says {
  const value = figure.value as number;
  const u = figure.uncertainty ?? 0;
  if ('is' in test) {
    const sign = test.is === 'above' ? 1 : -1;
    if (sign * (value - test.limit) > u) return 'for';
    return test.strict === true && sign * (test.limit - value) > u ? 'against' : 'open';
  }
  if (before === null) return 'open';
  if ('still' in test) return Math.abs(value - before) >= test.still ? 'against' : 'open';
  const moved = (test.moved === 'up' ? 1 : -1) * (value - before);
  return moved >= test.by ? 'for' : moved <= -test.by ? 'against' : 'open';
}

/** Mean of the first third of what the trend has before the start. */
function beginning(trend: TrendColumns | undefined, start: number): number | null {
  const known = (trend?.buckets ?? []).filter(({ time, mean }) => mean !== null && time <= start);
  if (known.length < BUCKETS_MIN) return null;
  const first = known.slice(0, Math.max(2, Math.floor(known.length / 3)));
  return first.reduce((sum, { mean }) => sum + (mean as number), 0) / first.length;
}

/**
 * Sensors that spoke up: doubtful or missing points of what the alarm is about, and what the last standstill found. A
 * doubt of the watched figure itself may have other reasons, and decides nothing.
 */
function sensorSigns({ alarm, minute, units }: Weighed): Sign[] {
  const sign = (name: string, seen: string, now: number | null, says: Says = 'for'): Sign => ({
    name,
    unit: units(name) ?? '',
    seen,
    now,
    before: null,
    says,
  });
  const near = nearTo(alarm, minute);
  const doubtful = Object.entries(minute.points).flatMap(([name, { quality, reason, value }]) =>
    quality === 'good' || !near(name) ? [] : [sign(name, `${quality}: ${reason ?? 'no reason given'}`, value)],
  );
  const still = (minute.standstill?.suspects ?? [])
    .filter(({ point }) => near(point))
    .map(({ point }) =>
      sign(point, 'stood apart from the other sensors at the last standstill', minute.points[point]?.value ?? null),
    );
  const accused = [...new Set((minute.reconciliation?.suspects ?? []).flat())]
    .filter((name) => near(name))
    .map((name) =>
      sign(name, 'contradicts the other sensors by the balances of the circuit', figureOf(minute, name)?.value ?? null),
    );
  const watched = alarm.watch === null ? null : figureOf(minute, alarm.watch);
  const own =
    alarm.watch !== null && watched !== null && watched.quality !== 'good' && minute.points[alarm.watch] === undefined
      ? [sign(alarm.watch, `${watched.quality}: ${watched.reason ?? 'no reason given'}`, watched.value, 'open')]
      : [];
  return [...own, ...doubtful, ...accused, ...still].slice(0, SIGNS_MAX);
}

/** Whether a point belongs to what the alarm watches: its component, the water of it, or a sign of its causes. */
function nearTo({ id, watch, side }: Weighed['alarm'], { economizer }: CalloutMinute): (name: string) => boolean {
  if (watch === null) return () => true;
  const component = watch.split('.')[0] ?? '';
  const near = new Set([component, WATERS[component] ?? component]);
  const told = new Set(trendNames({ id, watch, side }, { economizer: economizer !== 'none' }));
  return (name) => told.has(name) || near.has(name.split('.')[0] ?? '');
}

const WATERS: Readonly<Record<string, string>> = {
  condenser: 'condenser_water',
  condenser_water: 'condenser',
  evaporator: 'chilled_water',
  chilled_water: 'evaporator',
};

const SIGNS_MAX = 6;

/** Figures whose trends are wanted: the watched one, then those of the causes in their order, then the duty. */
export function trendNames(alarm: Weighed['alarm'], { economizer }: { readonly economizer: boolean }): string[] {
  const told = candidates(alarm, { economizer }).flatMap((fault) => FAULTS[fault].tells.map(({ of }) => of));
  const names = [...(alarm.watch === null ? [] : [alarm.watch]), ...DUTY.slice(0, 2), ...told, ...DUTY];
  return [...new Set(names)];
}

const DUTY = [
  'unit.capacity',
  'unit.power',
  'chilled_water.leaving_temperature',
  'condenser_water.entering_temperature',
] as const;
