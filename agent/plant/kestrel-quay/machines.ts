/** The machines of Kestrel Quay by name. A further machine is one more line here and its own parameters. */
import { InterstageMachine } from '../interstage-machine.ts';
import type { Machine } from '../machine.ts';
import { ParallelMachine } from '../parallel-machine.ts';
import type { PlantPoint } from '../point-map.ts';
import { CH1 } from './ch1.ts';
import { CH2 } from './ch2.ts';

export interface MachineEntry {
  /** What its controller speaks. */
  readonly bus: PlantPoint['bus'];
  build(seed: number): Machine;
}

export const MACHINES: Readonly<Record<string, MachineEntry>> = {
  'CH-1': { bus: 'modbus', build: (seed) => new ParallelMachine(CH1, seed) },
  'CH-2': { bus: 'bacnet', build: (seed) => new InterstageMachine(CH2, seed) },
};
