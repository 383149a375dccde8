/**
 * What must hold between the points of a machine. For judging how points are mapped, not how the machine does: windows
 * are wide enough for a fouled, badly charged or lightly loaded machine.
 */
import { runningMagnitudes } from './magnitudes.ts';
import type { Facts, Strain } from './strain.ts';
import { anyTimeTemperatures, runningTemperatures } from './temperatures.ts';

/** Every broken relation. */
export function strains(facts: Facts): Strain[] {
  const found = anyTimeTemperatures(facts);
  if (facts.running) found.push(...runningTemperatures(facts), ...runningMagnitudes(facts));
  return found.filter((each) => each !== null);
}
