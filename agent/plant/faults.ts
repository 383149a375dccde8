/** Faults of the plant: what can be asked for, and applying it by the plant's clock. */
import { fail, ok, type Result } from '../base/result.ts';
import type { Machine, ValveName } from './machine.ts';
import type { PlantPoint } from './point-map.ts';
import type { BusFault, Sensor } from './sensor.ts';

type Target = 'none' | 'point' | 'float_point' | 'valve';

interface FaultKind {
  readonly target: Target;
  readonly severity: string;
  readonly meaning: string;
}

/** Seconds over which a drift grows to its severity. */
const DRIFT_RAMP = 600;

export const FAULTS = {
  economizer_compressor_off: {
    target: 'none',
    severity: '1',
    meaning: 'the economizer compressor is held off',
  },
  sensor_drift: {
    target: 'point',
    severity: "offset in the point's unit",
    meaning: `the sensor reads wrong, growing to the severity over ${DRIFT_RAMP / 60} min; controllers see it too`,
  },
  sticking_valve: {
    target: 'valve',
    severity: 'friction in % of stroke',
    meaning: 'the valve moves only once its command has left it by the severity',
  },
  lost_communication: {
    target: 'none',
    severity: '1 accepts and never answers, 2 refuses',
    meaning: 'the controller is not to be reached',
  },
  frozen_point: { target: 'point', severity: '1', meaning: 'the register keeps its last value' },
  sentinel_value: {
    target: 'point',
    severity: 'raw number to show',
    meaning: "the register holds the controller's mark for 'no measurement'",
  },
  nan_value: { target: 'float_point', severity: '1', meaning: 'the float holds not-a-number' },
} as const satisfies Record<string, FaultKind>;

export type FaultName = keyof typeof FAULTS;

export interface PlantFault {
  readonly name: FaultName;
  /** Point or valve; '' where the fault has none. */
  readonly target: string;
  readonly severity: number;
  /** Seconds after the plant's start; until `end`. */
  readonly start: number;
  readonly end: number;
}

const FORM = /^([a-z_]+)(?:\/([a-z_0-9.]+))?:(-?\d+(?:\.\d+)?)@(\d+(?:\.\d+)?)(?:\.\.(\d+(?:\.\d+)?))?$/;
const VALVES: readonly string[] = ['condenser_valve', 'tank_valve'];

/** Reads `NAME[/TARGET]:SEVERITY@START[..END]`. */
export function readFault(text: string, points: readonly PlantPoint[]): Result<PlantFault> {
  const wrong = (message: string) => fail('usage', `--fault ${text}: ${message}`);
  const parts = FORM.exec(text);
  if (parts === null)
    return wrong('write NAME[/POINT or VALVE]:SEVERITY@START[..END], such as sensor_drift/condenser.level:5@3600');
  const [, name = '', target = '', severity, start, end] = parts;
  if (!Object.hasOwn(FAULTS, name)) return wrong(`no fault '${name}'; there are ${Object.keys(FAULTS).join(', ')}`);
  const kind: FaultKind = FAULTS[name as FaultName];
  const problem = checkTarget(kind, target, points);
  if (problem !== null) return wrong(problem);
  const fault: PlantFault = {
    name: name as FaultName,
    target,
    severity: Number(severity),
    start: Number(start),
    end: end === undefined ? Number.POSITIVE_INFINITY : Number(end),
  };
  if (fault.end <= fault.start) return wrong('it ends before it starts');
  if (name === 'lost_communication' && fault.severity !== 1 && fault.severity !== 2)
    return wrong(`severity is ${kind.severity}`);
  if (name === 'sticking_valve' && !(fault.severity >= 0 && fault.severity <= 100))
    return wrong(`severity is ${kind.severity}, 0 to 100`);
  return ok(fault);
}

function checkTarget(kind: FaultKind, target: string, points: readonly PlantPoint[]): string | null {
  if (kind.target === 'none') return target === '' ? null : `it takes no '/${target}'`;
  if (kind.target === 'valve')
    return VALVES.includes(target) ? null : `name the valve after '/': ${VALVES.join(' or ')}`;
  if (target === '') return "name the point after '/', such as /condenser_water.leaving_temperature";
  const point = points.find((candidate) => candidate.name === target);
  if (point === undefined) return `this machine has no point '${target}'; --points lists them`;
  if (kind.target === 'float_point' && point.type !== 'float32') return `${target} is ${point.type}, not a float`;
  return null;
}

/** How the controller's network side behaves now. */
export type Communication = 'up' | 'silent' | 'refused';

/** Sets everything that faults touch to what holds at `elapsed` seconds after the start. */
export function applyFaults(
  faults: readonly PlantFault[],
  elapsed: number,
  machine: Machine,
  sensors: ReadonlyMap<string, Sensor>,
): Communication {
  let communication: Communication = 'up';
  let locked = false;
  const stick = { condenser_valve: 0, tank_valve: 0 };
  const drift = new Map<string, number>();
  const bus = new Map<string, BusFault | null>();
  for (const { name, target, severity, start, end } of faults) {
    const active = elapsed >= start && elapsed < end;
    if (name === 'sensor_drift') {
      const part = active ? Math.min(1, (elapsed - start) / DRIFT_RAMP) : 0;
      drift.set(target, (drift.get(target) ?? 0) + part * severity);
    }
    if (name === 'frozen_point' || name === 'sentinel_value' || name === 'nan_value') {
      const now = active ? busFault(name, severity) : null;
      bus.set(target, now ?? bus.get(target) ?? null);
    }
    if (!active) continue;
    if (name === 'economizer_compressor_off') locked = severity > 0;
    if (name === 'sticking_valve') stick[target as ValveName] = severity / 100;
    if (name === 'lost_communication') communication = severity === 2 ? 'refused' : 'silent';
  }
  machine.lockEconomizer(locked);
  machine.stick('condenser_valve', stick.condenser_valve);
  machine.stick('tank_valve', stick.tank_valve);
  for (const [point, amount] of drift) sensors.get(point)!.drift = amount;
  for (const [point, fault] of bus) sensors.get(point)!.busFault = fault;
  return communication;
}

function busFault(name: 'frozen_point' | 'sentinel_value' | 'nan_value', severity: number): BusFault {
  if (name === 'frozen_point') return { kind: 'frozen' };
  return name === 'nan_value' ? { kind: 'nan' } : { kind: 'raw', raw: severity };
}
