/** Faults of the plant: what can be asked for, and applying it by the plant's clock. */
import { fail, ok, type Result } from '../base/result.ts';
import type { Machine, ValveName } from './machine.ts';
import type { PlantPoint } from './point-map.ts';
import type { BusFault, ObjectFault, Sensor } from './sensor.ts';

type Target = 'none' | 'point' | 'float_point' | 'bacnet_point' | 'valve';

interface FaultKind {
  readonly target: Target;
  readonly severity: string;
  /** Least and most of it. */
  readonly range: readonly [number, number];
  readonly meaning: string;
}

/** Seconds over which a drift grows to its severity. */
const DRIFT_RAMP = 600;
const ANY = [-1e9, 1e9] as const;
const SWITCH = [0, 1] as const;
const PERCENT = [0, 100] as const;

export const FAULTS = {
  economizer_compressor_off: {
    target: 'none',
    severity: '1',
    range: SWITCH,
    meaning: 'the economizer is held off: its compressor stands, or its vapour line is shut',
  },
  worn_economizer_compressor: {
    target: 'none',
    severity: 'loss of efficiency in %',
    range: [0, 60],
    meaning: 'the economizer compressor takes more power for the same vapour',
  },
  fouled_condenser: {
    target: 'none',
    severity: 'loss of conductance in %',
    range: [0, 80],
    meaning: "scale in the condenser's tubes",
  },
  undercharge: {
    target: 'none',
    severity: 'missing refrigerant in % of the charge',
    range: [0, 25],
    meaning: 'refrigerant leaks out, 2 % of the charge a minute, until so much is missing; filled in again at the end',
  },
  non_condensables: {
    target: 'none',
    severity: 'partial pressure of air at design in kPa',
    range: [0, 100],
    meaning: 'air in the condenser',
  },
  liquid_carry_over: {
    target: 'none',
    severity: 'liquid in % by mass',
    range: [0, 20],
    meaning: 'liquid in the vapour that the tank gives to the economizer compressor or second stage',
  },
  badly_tuned_level_loop: {
    target: 'valve',
    severity: 'excess of gain: 1 doubles it and quarters the integral time',
    range: [0, 20],
    meaning: 'the loop of that valve swings by itself from about 5 on',
  },
  machine_stop: {
    target: 'none',
    severity: '1',
    range: SWITCH,
    meaning: 'an orderly stop at START, an orderly start at END',
  },
  held_load: {
    target: 'none',
    severity: 'load in % of rated capacity',
    range: [1, 105],
    meaning: 'the load is this whatever the day says; under what the machine turns down to it cycles',
  },
  sensor_drift: {
    target: 'point',
    severity: "offset in the point's unit",
    range: ANY,
    meaning: `the sensor reads wrong, growing to the severity over ${DRIFT_RAMP / 60} min; controllers see it too`,
  },
  sticking_valve: {
    target: 'valve',
    severity: 'friction in % of stroke',
    range: PERCENT,
    meaning: 'the valve moves only once its command has left it by the severity',
  },
  lost_communication: {
    target: 'none',
    severity: '1 never answers, 2 is not there (TCP: refuses)',
    range: [1, 2],
    meaning: 'the controller is not to be reached',
  },
  frozen_point: {
    target: 'point',
    severity: '1',
    range: SWITCH,
    meaning: 'the register or object keeps its last value',
  },
  sentinel_value: {
    target: 'point',
    severity: 'raw number to show',
    range: ANY,
    meaning: "the register or object holds the controller's mark for 'no measurement'",
  },
  nan_value: { target: 'float_point', severity: '1', range: SWITCH, meaning: 'the float holds not-a-number' },
  object_fault: {
    target: 'bacnet_point',
    severity: 'reliability to show: 1 no sensor, 4 open loop, 7 unreliable, 12 communication failure ...',
    range: [1, 12],
    meaning: 'the object says by reliability and status flag that its sensor failed; its value stays as it was',
  },
  out_of_service: {
    target: 'bacnet_point',
    severity: '1',
    range: SWITCH,
    meaning: 'the object is taken out of service by hand; its value stays as it was',
  },
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
const VALVES: readonly ValveName[] = ['condenser_valve', 'tank_valve'];

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
  const [least, most] = kind.range;
  const whole = name !== 'lost_communication' && name !== 'object_fault' ? true : Number.isInteger(fault.severity);
  if (!(fault.severity >= least && fault.severity <= most && whole))
    return wrong(`severity is ${kind.severity}, from ${least} to ${most}`);
  if (name === 'worn_economizer_compressor' && !points.some((point) => point.name.startsWith('economizer_compressor.')))
    return wrong('this machine has no economizer compressor; its tank vapour goes to the second stage');
  return ok(fault);
}

function checkTarget(kind: FaultKind, target: string, points: readonly PlantPoint[]): string | null {
  if (kind.target === 'none') return target === '' ? null : `it takes no '/${target}'`;
  if (kind.target === 'valve')
    return VALVES.some((valve) => valve === target) ? null : `name the valve after '/': ${VALVES.join(' or ')}`;
  if (target === '') return "name the point after '/', such as /condenser_water.leaving_temperature";
  const point = points.find((candidate) => candidate.name === target);
  if (point === undefined) return `this machine has no point '${target}'; --points lists them`;
  if (kind.target === 'bacnet_point' && point.bus !== 'bacnet')
    return `${target} is a register; only an object of a BACnet controller can say this`;
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
  const active = faults.filter(({ start, end }) => elapsed >= start && elapsed < end);
  ailMachine(active, machine);
  ailSensors(faults, elapsed, sensors);
  const lost = active.findLast(({ name }) => name === 'lost_communication');
  if (lost === undefined) return 'up';
  return lost.severity === 2 ? 'refused' : 'silent';
}

function ailMachine(active: readonly PlantFault[], machine: Machine): void {
  const worst = (name: FaultName, target = ''): number =>
    active.reduce(
      (most, fault) => (fault.name === name && fault.target === target ? Math.max(most, fault.severity) : most),
      0,
    );
  machine.lockEconomizer(worst('economizer_compressor_off') > 0);
  machine.wearEconomizer(worst('worn_economizer_compressor') / 100);
  machine.foul(worst('fouled_condenser') / 100);
  machine.undercharge(worst('undercharge') / 100);
  machine.admitAir(worst('non_condensables') * 1e3);
  machine.carryOver(worst('liquid_carry_over') / 100);
  machine.halt(worst('machine_stop') > 0);
  const load = worst('held_load');
  machine.holdLoad(load > 0 ? load / 100 : null);
  for (const valve of VALVES) {
    machine.stick(valve, worst('sticking_valve', valve) / 100);
    machine.detune(valve, worst('badly_tuned_level_loop', valve));
  }
}

function ailSensors(faults: readonly PlantFault[], elapsed: number, sensors: ReadonlyMap<string, Sensor>): void {
  const drift = new Map<string, number>();
  const bus = new Map<string, BusFault | null>();
  const object = new Map<string, ObjectFault>();
  for (const { name, target, severity, start, end } of faults) {
    const active = elapsed >= start && elapsed < end;
    if (name === 'sensor_drift') {
      const part = active ? Math.min(1, (elapsed - start) / DRIFT_RAMP) : 0;
      drift.set(target, (drift.get(target) ?? 0) + part * severity);
    }
    const now = active ? busFault(name, severity) : null;
    if (busFault(name, severity) !== null) bus.set(target, now ?? bus.get(target) ?? null);
    if (name === 'object_fault' || name === 'out_of_service') {
      const shown = object.get(target) ?? { reliability: 0, outOfService: false };
      object.set(target, {
        reliability: active && name === 'object_fault' ? severity : shown.reliability,
        outOfService: shown.outOfService || (active && name === 'out_of_service' && severity > 0),
      });
    }
  }
  for (const [point, amount] of drift) sensors.get(point)!.drift = amount;
  for (const [point, fault] of bus) sensors.get(point)!.busFault = fault;
  for (const [point, fault] of object) sensors.get(point)!.objectFault = fault;
}

/** What a fault does to the value on the bus; null: nothing. */
function busFault(name: FaultName, severity: number): BusFault | null {
  if (name === 'nan_value') return { kind: 'nan' };
  if (name === 'sentinel_value') return { kind: 'raw', raw: severity };
  const frozen = name === 'frozen_point' || name === 'object_fault' || (name === 'out_of_service' && severity > 0);
  return frozen ? { kind: 'frozen' } : null;
}
