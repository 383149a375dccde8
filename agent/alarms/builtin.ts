/**
 * Alarms that every machine has, whatever the site file says: a controller that does not answer, and sensors that
 * cannot be right.
 */
import type { AlarmRule } from './rules.ts';

type Builtin = Omit<AlarmRule, 'watch' | 'side' | 'limit' | 'unit'>;

/** Judged whatever the machine does, and not against a limit. */
const WITHOUT_LIMIT = {
  deadband: 0,
  when: 'always',
  running_for_s: 0,
  beyond_uncertainty: false,
  latching: false,
  protected: false,
  out_of_service: null,
} as const;

export const CONTROLLER_LOST: Builtin = {
  ...WITHOUT_LIMIT,
  id: 'controller-lost',
  title: 'Controller does not answer',
  on_delay_s: 60,
  off_delay_s: 60,
  priority: 2,
  cause: 'The controller is off, the network is down, or its address or unit id changed.',
  consequence: 'Nothing of this machine is watched while it lasts; every figure is missing, none is guessed.',
  action: 'See whether the controller runs and its panel is alive; then cable, switch, address and unit id.',
  respond_within_s: 3600,
};

export const SENSOR_IMPLAUSIBLE: Builtin = {
  ...WITHOUT_LIMIT,
  id: 'sensor-implausible',
  title: 'Sensor implausible',
  on_delay_s: 300,
  off_delay_s: 300,
  priority: 3,
  cause: 'An open or shorted sensor, a wrong scale or register in the site file, or a frozen value in the controller.',
  consequence: 'What is computed from it is missing or doubtful, and named so.',
  action: 'Compare the reading on the controller panel with a calibrated instrument, then wiring and the site file.',
  respond_within_s: 7 * 86_400,
};

export const SENSOR_SUSPECT: Builtin = {
  ...WITHOUT_LIMIT,
  id: 'sensor-suspect',
  title: 'Sensor does not fit the others',
  // ten steady minutes have pointed at it before it is told at all
  on_delay_s: 60,
  off_delay_s: 60,
  priority: 3,
  cause:
    'One of the sensors named drifts, or something that the balances leave out: liquid in a suction, a by-pass, air in the water.',
  consequence: 'Figures that lean on it are marked uncertain; a sensor named alone gets no weight in them.',
  action:
    'Compare the first of them with a calibrated instrument at the machine, then the next. Tell nothing by the figures marked.',
  respond_within_s: 7 * 86_400,
};

export const BUILTIN: readonly Builtin[] = [CONTROLLER_LOST, SENSOR_IMPLAUSIBLE, SENSOR_SUSPECT];

/** The alarm of an id among those that every machine has and the rules of one; null where there is none. */
export function alarmNamed(
  rules: readonly AlarmRule[],
  id: string,
): Pick<AlarmRule, 'id' | 'protected' | 'title'> | null {
  return [...BUILTIN, ...rules].find((alarm) => alarm.id === id) ?? null;
}
