import type { ChillerParameters } from '../parameters.ts';
import { interstage } from './interstage.ts';
import { parallel } from './parallel.ts';
import { simple } from './simple.ts';
import { subcooler } from './subcooler.ts';
import { threeStages } from './three-stages.ts';
import type { Arrangement } from './type.ts';

/** Every arrangement by its name in the site file. A new one is one file and one line here. */
const ARRANGEMENTS: Readonly<Record<ChillerParameters['arrangement'], Arrangement>> = {
  simple,
  parallel,
  interstage,
  subcooler,
};

/** How the machine is built. Three stages have two tanks. */
export function arrangementOf({ arrangement, stages }: Pick<ChillerParameters, 'arrangement' | 'stages'>): Arrangement {
  return arrangement === 'interstage' && stages === 3 ? threeStages : ARRANGEMENTS[arrangement];
}
