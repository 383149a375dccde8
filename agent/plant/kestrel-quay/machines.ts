/** The machines of Kestrel Quay by name. A further machine is one more line here and its own parameters. */
import { fromSi } from '../../base/units.ts';
import type { DeviceOptions, ExtraObject } from '../bacnet/objects.ts';
import { InterstageMachine } from '../interstage-machine.ts';
import type { Machine } from '../machine.ts';
import { ParallelMachine } from '../parallel-machine.ts';
import { CH1 } from './ch1.ts';
import { CH2 } from './ch2.ts';
import { CH2_DEVICE, CH2_UNMAPPED } from './ch2-points.ts';

export interface MachineEntry {
  readonly build: (seed: number) => Machine;
  /** Where it serves unless told otherwise. */
  readonly host: string;
  /** Its BACnet device; null: its controller speaks Modbus. */
  readonly bacnet: { readonly device: DeviceOptions; readonly extras: (machine: Machine) => ExtraObject[] } | null;
}

function unmapped(machine: Machine): ExtraObject[] {
  return CH2_UNMAPPED.map(({ object, unit, reading }) => {
    const si = machine.readings[reading] as () => number;
    return { object, unit, value: () => fromSi(si(), unit) };
  });
}

export const MACHINES: Readonly<Record<string, MachineEntry>> = {
  'CH-1': { build: (seed) => new ParallelMachine(CH1, seed), host: '127.0.0.1', bacnet: null },
  'CH-2': {
    build: (seed) => new InterstageMachine(CH2, seed),
    // An address of its own: BACnet/IP peers take what comes from their own address and port for themselves.
    host: '127.0.0.2',
    bacnet: { device: CH2_DEVICE, extras: unmapped },
  },
};
