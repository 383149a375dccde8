import type { ChillerParameters } from '../parameters.ts';
import { interstage } from './interstage.ts';
import { parallel } from './parallel.ts';
import { simple } from './simple.ts';
import type { Arrangement } from './type.ts';

/** Every arrangement by its name in the site file. A new one is one file and one line here. */
export const ARRANGEMENTS: Readonly<Record<ChillerParameters['arrangement'], Arrangement>> = {
  simple,
  parallel,
  interstage,
};
