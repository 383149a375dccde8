/**
 * The baseline of one chiller over time. Declared for a period; fitted to its steady hours, each way of the economizer
 * apart. Work on the machine restarts it: from then on the shape of the declared fit stays and its level is found anew
 * from the first steady hours since, for a cleaned machine, another charge or another sensor is another machine or
 * meter. Derived from the store whenever asked: the same hours and the same log give the same baseline.
 */
import { LIMITS } from '../base/limits.ts';
import { rfc3339 } from '../base/time.ts';
import { fitLine, type Line, type Sample } from '../baseline/exchangers.ts';
import { expected } from '../baseline/expect.ts';
import { ACCEPTED, type CleanMachine, type Fit, fewer, fitCleanMachine } from '../baseline/fit.ts';
import { type Clean, SIDES } from '../baseline/metrics.ts';
import { MODELS, type ModelName } from '../baseline/models.ts';
import type { WorkKind } from './log.ts';
import { MODES, type Mode, type SteadyMeans } from './steady.ts';
import type { Span } from './zone.ts';

/** Work after which the machine or its meters are not those of before. */
export const RESTARTING: readonly WorkKind[] = ['tubes_cleaned', 'refrigerant_added', 'sensor_replaced'];

export interface Declared extends Span {
  /** Left out: the better of all. */
  readonly model: ModelName | null;
}

/** An entry of the maintenance log that restarts. */
export interface Restart {
  /** ms since the epoch. */
  readonly time: number;
  readonly kind: string;
}

/** A stretch in which one level holds; `from` excluded, `to` included. */
export interface Epoch extends Span {
  readonly kind: string;
  /** Power over that of the declared machine; null where there is none yet. */
  readonly level: number | null;
  /** Of the level, k = 1. */
  readonly level_deviation: number;
  readonly hours: number;
  /** Why there is no level; null where there is. */
  readonly reason: string | null;
}

type Lines = Pick<Clean, 'evaporator_ua' | 'condenser_ua' | 'subcooling'>;

const NO_LINES: Lines = { evaporator_ua: null, condenser_ua: null, subcooling: null };

export interface Reference {
  readonly declared: Declared;
  readonly fits: Readonly<Partial<Record<Mode, Fit>>>;
  /** Clean heat exchangers of the declared period; null where its hours give none. */
  readonly lines: Lines;
  /** In order; the declared period lies in one of them. */
  readonly epochs: readonly Epoch[];
  /** Why nothing can be compared at all; null where something can. */
  readonly reason: string | null;
}

export interface ReferenceQuery {
  readonly declared: Declared;
  readonly hours: readonly SteadyMeans[];
  readonly restarts: readonly Restart[];
}

export function referenceOf({ declared, hours, restarts }: ReferenceQuery): Reference {
  const within = restarts.find(({ time }) => time > declared.from && time < declared.to);
  if (within !== undefined)
    return {
      declared,
      fits: {},
      lines: NO_LINES,
      epochs: [],
      reason: `work (${within.kind}) of ${rfc3339(within.time)} lies within the declared period: declare one before or after it`,
    };
  const clean = hours.filter(({ time }) => time >= declared.from && time < declared.to);
  const models = MODELS.filter(({ name }) => declared.model === null || name === declared.model);
  const fits: Partial<Record<Mode, Fit>> = {};
  for (const mode of MODES) {
    const own = clean.filter((each) => each.mode === mode);
    if (own.length > 0) fits[mode] = fitCleanMachine(own, { models });
  }
  const some = Object.values(fits).some(({ machine }) => machine !== null);
  const epochs = epochsOf({ declared, hours, restarts }, fits);
  return { declared, fits, lines: linesOf(clean), epochs, reason: some ? null : whyNone(fits) };
}

/** Duty and flow where every hour has the flow and it varies, else the duty alone. */
function linesOf(hours: readonly SteadyMeans[]): Lines {
  const line = (name: string, asked: readonly string[]): Line | null => {
    const samples = hours.flatMap((hour): Sample[] => {
      const value = hour.more[name];
      const of = asked.map((each) => (each === 'unit.capacity' ? hour.capacity : hour.more[each]));
      return value === undefined || of.some((each) => each === undefined) ? [] : [{ value, asked: of as number[] }];
    });
    return fitLine(samples);
  };
  const ua = (side: (typeof SIDES)[number] | undefined): Line | null =>
    side === undefined
      ? null
      : (line(`${side.name}.ua`, side.asked) ?? line(`${side.name}.ua`, side.asked.slice(0, 1)));
  return {
    evaporator_ua: ua(SIDES.find(({ name }) => name === 'evaporator')),
    condenser_ua: ua(SIDES.find(({ name }) => name === 'condenser')),
    subcooling: line('condenser.subcooling', ['unit.capacity']),
  };
}

/** What a minute is compared with; null: nothing of a baseline is published. */
export function cleanNow(
  reference: Reference | null,
  { time, economizer }: { readonly time: number; readonly economizer: string },
): Clean | null {
  if (reference === null || reference.reason !== null) return null;
  const mode = MODES.find((each) => each === economizer);
  const found = mode === undefined ? null : holding(reference, { time, mode });
  const epoch = reference.epochs.find(({ from, to }) => time >= from && time < to);
  const none = mode === undefined ? 'how the economizer stands is not known' : `no baseline for ${modeWords(mode)}`;
  return {
    machine: found?.machine ?? null,
    reason: found === null ? (epoch?.reason ?? none) : null,
    level: found?.epoch.level ?? 1,
    level_deviation: found?.epoch.level_deviation ?? 0,
    ...reference.lines,
  };
}

function whyNone(fits: Reference['fits']): string {
  const reasons = MODES.flatMap((mode) => {
    const fit = fits[mode];
    return fit === undefined ? [] : [`${modeWords(mode)}: ${fit.reason}`];
  });
  return reasons.length === 0
    ? `0 of at least ${LIMITS.baseline_hours_min} steady hours so far in the declared period`
    : reasons.join('; ');
}

export function modeWords(mode: Mode): string {
  return mode === 'none' ? 'without economizer' : `economizer ${mode}`;
}

function epochsOf({ declared, hours, restarts }: ReferenceQuery, fits: Reference['fits']): Epoch[] {
  const works = restarts.filter(({ kind }) => RESTARTING.some((each) => each === kind));
  const starts = [{ time: Number.NEGATIVE_INFINITY, kind: 'declared' }, ...[...works].sort((a, b) => a.time - b.time)];
  return starts.map(({ time: from, kind }, index) => {
    const to = starts[index + 1]?.time ?? Number.POSITIVE_INFINITY;
    const span = { from, to, kind };
    if (declared.from >= from && declared.from < to)
      return { ...span, kind: 'declared', level: 1, level_deviation: 0, hours: 0, reason: null };
    if (to <= declared.from)
      return {
        ...span,
        level: null,
        level_deviation: 0,
        hours: 0,
        reason: `before the work of ${rfc3339(to)}: another machine than the declared one`,
      };
    return {
      ...span,
      ...levelOf(
        hours.filter(({ time }) => time >= from && time < to),
        { fits, from },
      ),
    };
  });
}

/** Power over that of the declared machine in the first hours since the work. */
function levelOf(
  hours: readonly SteadyMeans[],
  { fits, from }: { readonly fits: Reference['fits']; readonly from: number },
): Pick<Epoch, 'level' | 'level_deviation' | 'hours' | 'reason'> {
  const wanted = LIMITS.baseline_restart_hours;
  const found = hours
    .flatMap((hour) => {
      const machine = fits[hour.mode]?.machine ?? null;
      const by = machine === null ? null : expected(machine, hour);
      return machine === null || by === null ? [] : [{ measured: hour.power, by: by.power, machine }];
    })
    .slice(0, wanted);
  const none = { level: null, level_deviation: 0, hours: found.length };
  if (found.length < wanted)
    return { ...none, reason: `${found.length} of ${wanted} steady hours since the work of ${rfc3339(from)}` };
  const measured = found.reduce((sum, each) => sum + each.measured, 0);
  const model = found.reduce((sum, each) => sum + each.by, 0);
  const level = measured / model;
  const square = found.reduce((sum, each) => sum + (each.measured - level * each.by) ** 2, 0);
  const variance = square / (found.length - 1);
  if (Math.sqrt(variance) > (ACCEPTED.cv * measured) / found.length)
    return {
      ...none,
      reason: `the machine since the work of ${rfc3339(from)} does not follow the declared one: declare a new period`,
    };
  const together = fewer(Math.max(...found.map(({ machine }) => machine.autocorrelation)));
  return {
    level,
    level_deviation: Math.sqrt(variance * found.length * together) / model,
    hours: found.length,
    reason: null,
  };
}

/** What holds at an instant: the clean machine of the way the economizer stands, and the level of the time. */
export function holding(
  reference: Reference,
  { time, mode }: { readonly time: number; readonly mode: Mode },
): {
  readonly machine: CleanMachine;
  readonly epoch: Epoch & { readonly level: number };
  readonly index: number;
} | null {
  const index = reference.epochs.findIndex(({ from, to }) => time >= from && time < to);
  const epoch = reference.epochs[index];
  const machine = reference.fits[mode]?.machine ?? null;
  if (epoch === undefined || epoch.level === null || machine === null) return null;
  return { machine, epoch: { ...epoch, level: epoch.level }, index };
}
