/** The machines of Kestrel Quay by name. A further machine is one more line here and its own parameters. */
import type { Machine } from '../machine.ts';
import { ParallelMachine } from '../parallel-machine.ts';
import { CH1 } from './ch1.ts';

export const MACHINES: Readonly<Record<string, (seed: number) => Machine>> = {
  'CH-1': (seed) => new ParallelMachine(CH1, seed),
};
