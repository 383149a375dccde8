/**
 * The machines of a plant together: sums of what each gives, and ratios of those sums. The machines are taken as
 * independent, so that uncertainties add as the root of the sum of squares; what their sensors share (a barometer, one
 * make of meter) is not counted. A sum that lacks a running machine is no sum: it is missing and says which.
 */
import type { Figure } from '../base/metric.ts';
import { type Quality, worse } from '../base/quality.ts';
import { WATTS_PER_TON } from '../base/units.ts';
import type { EconomizerState } from '../cycle/types.ts';
import type { UnitState } from '../points/running.ts';
import { roundFigure } from './figures.ts';

/** One machine's newest minute. */
export interface MachineMinute {
  readonly chiller: string;
  /** kW */
  readonly rated_capacity: number;
  readonly state: UnitState;
  readonly economizer: EconomizerState;
  /** Catalogue units, k = 2. */
  readonly figures: Readonly<Record<string, Figure>>;
  /** Why this minute does not count as the present one; null where it does. */
  readonly absent: string | null;
}

export interface PlantTotals {
  /** How many are known to run. */
  readonly running: number;
  /** Machines of which nobody knows whether they run. */
  readonly unknown: readonly string[];
  /** By the name that the quantity has at each machine; catalogue units, k = 2. */
  readonly figures: Readonly<Record<string, Figure>>;
}

/** A machine that is not known to stand still runs, or may run. `stopping` is entered after it stopped. */
const STILL: ReadonlySet<UnitState> = new Set(['off', 'standstill', 'stopping']);

/** The plant's figures. Without a running machine none is delivered: they are missing with that reason. */
export function plantTotals(machines: readonly MachineMinute[]): PlantTotals {
  const unknown = machines.filter((machine) => whyUnknown(machine) !== null);
  const running = machines.filter((machine) => whyUnknown(machine) === null && !STILL.has(machine.state));
  const capacity = sum(machines, 'unit.capacity');
  const power = sum(machines, 'unit.power');
  const ratio = powerPerCapacity(machines, { capacity, power });
  const rated = machines.reduce((all, machine) => all + machine.rated_capacity, 0);
  const figures = {
    'unit.capacity': capacity,
    'unit.power': power,
    'unit.load_fraction': scaled(capacity, 1 / rated),
    'unit.kw_per_ton': scaled(ratio, WATTS_PER_TON / 1000),
    'unit.cop': inverse(ratio),
    'economizer.power_saved': saved(machines),
  };
  return {
    running: running.length,
    unknown: unknown.map(({ chiller }) => chiller),
    figures: Object.fromEntries(Object.entries(figures).map(([name, figure]) => [name, roundFigure(figure)])),
  };
}

function whyUnknown({ absent, state }: MachineMinute): string | null {
  return absent ?? (state === 'unknown' ? 'whether it runs is not known' : null);
}

function bad(reason: string): Figure {
  return { value: null, uncertainty: null, quality: 'bad', reason };
}

/** `names: reasons`, so that a reader who has no room can stop at the colon. */
function lacking(gone: readonly (readonly [string, string])[]): Figure {
  const names = gone.map(([chiller]) => chiller).join(', ');
  return bad(`${names} missing: ${[...new Set(gone.map(([, reason]) => reason))].join('; ')}`);
}

/** A machine that stands still adds the power that it takes even so, where that is known, and nothing else. */
function sum(machines: readonly MachineMinute[], name: string): Figure {
  const gone: [string, string][] = [];
  const found: [string, Figure][] = [];
  for (const machine of machines) {
    const why = whyUnknown(machine);
    const figure = machine.figures[name];
    const still = STILL.has(machine.state);
    if (why !== null) gone.push([machine.chiller, why]);
    else if (still && name !== 'unit.power') continue;
    else if (figure !== undefined && figure.value !== null) found.push([machine.chiller, figure]);
    else if (!still) gone.push([machine.chiller, figure?.reason ?? `${name} is not among its figures`]);
  }
  if (gone.length > 0) return lacking(gone);
  if (found.length === 0) return bad('no machine runs');
  return added(found);
}

function added(found: readonly (readonly [string, Figure])[]): Figure {
  let value = 0;
  let squares: number | null = 0;
  let quality: Quality = 'good';
  const reasons: string[] = [];
  for (const [chiller, figure] of found) {
    value += figure.value ?? 0;
    quality = worse(quality, figure.quality);
    if (figure.quality !== 'good') reasons.push(`${chiller}: ${figure.reason ?? 'no reason given'}`);
    if (figure.uncertainty === null) {
      quality = worse(quality, 'uncertain');
      reasons.push(`${chiller} gives no uncertainty`);
      squares = null;
    } else if (squares !== null) squares += figure.uncertainty ** 2;
  }
  const uncertainty = squares === null ? null : Math.sqrt(squares);
  return { value, uncertainty, quality, reason: reasons.length === 0 ? null : reasons.join('; ') };
}

/** A machine whose economizer is off or that has none saves nothing, which is known. */
function saved(machines: readonly MachineMinute[]): Figure {
  if (machines.every(({ economizer }) => economizer === 'none')) return bad('no machine has an economizer');
  const able = machines.filter(
    (machine) =>
      whyUnknown(machine) !== null ||
      (!STILL.has(machine.state) && machine.economizer !== 'none' && machine.economizer !== 'off'),
  );
  if (able.length > 0) return sum(able, 'economizer.power_saved');
  const still = machines.every(({ state }) => STILL.has(state));
  return bad(still ? 'no machine runs' : 'no economizer runs');
}

/**
 * Power over capacity, kW/kW, a ratio of the sums. Within a machine both may come from the same meter: its own power
 * per ton knows how far they move together, so the covariance is taken from there (first order).
 */
function powerPerCapacity(
  machines: readonly MachineMinute[],
  { capacity, power }: { readonly capacity: Figure; readonly power: Figure },
): Figure {
  if (capacity.value === null) return capacity;
  if (power.value === null) return power;
  if (capacity.value <= 0 || power.value <= 0) return bad('capacity or power is not above zero');
  const ratio = power.value / capacity.value;
  const parts = machines.map((machine) => spread(machine, ratio));
  const squares = parts.reduce<number>((all, part) => all + part, 0);
  const both = [...new Set([capacity.reason, power.reason].filter((reason) => reason !== null))];
  return {
    value: ratio,
    uncertainty:
      capacity.uncertainty === null || power.uncertainty === null ? null : Math.sqrt(squares) / capacity.value,
    quality: worse(capacity.quality, power.quality),
    reason: both.length === 0 ? null : both.join('; '),
  };
}

/** Square of the uncertainty of `power - ratio capacity` of one machine, kW2. */
function spread({ figures }: MachineMinute, ratio: number): number {
  const power = figures['unit.power'];
  const capacity = figures['unit.capacity'];
  const [uP, uQ] = [power?.uncertainty ?? 0, capacity?.uncertainty ?? 0];
  return Math.max(0, uP ** 2 + (ratio * uQ) ** 2 - 2 * ratio * covariance(figures, uP, uQ));
}

/**
 * Covariance of a machine's power and capacity, kW2, in the square of the uncertainties given (kW): what its own power
 * per ton, of `figures`, leaves no other room for. Without that figure: 0. Of a part of all errors: `uP`, `uQ` and
 * `part` of the uncertainty of power per ton are that part's.
 */
export function covariance(figures: MachineMinute['figures'], uP: number, uQ: number, part = 1): number {
  const Q = figures['unit.capacity']?.value ?? null;
  const own = figures['unit.kw_per_ton'];
  if (Q === null || own === undefined || own.value === null || own.uncertainty === null || own.value <= 0) return 0;
  const k = own.value / (WATTS_PER_TON / 1000);
  const uk = (part * own.uncertainty) / (WATTS_PER_TON / 1000);
  const found = (uP ** 2 + (k * uQ) ** 2 - (Q * uk) ** 2) / (2 * k);
  return Math.min(uP * uQ, Math.max(-uP * uQ, found));
}

function scaled(figure: Figure, factor: number): Figure {
  const { value, uncertainty } = figure;
  return {
    ...figure,
    value: value === null ? null : value * factor,
    uncertainty: uncertainty === null ? null : uncertainty * factor,
  };
}

function inverse(figure: Figure): Figure {
  const { value, uncertainty } = figure;
  if (value === null) return figure;
  return { ...figure, value: 1 / value, uncertainty: uncertainty === null ? null : uncertainty / value ** 2 };
}
