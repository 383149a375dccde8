/** Views for tests of the renderers, from the fixture plant. */
import { LastKnown, pageData } from '../../../agent/web/page-data.ts';
import type { View } from '../../../agent/web/page-types.ts';
import { Fixture } from '../../browser/fixture.ts';
import type { Mode, SecondMode } from '../../browser/fixture-figures.ts';

export interface Wanted {
  readonly mode?: Mode;
  readonly second?: SecondMode;
  readonly chosen?: string;
  readonly system?: 'ip' | 'si';
  /** Seconds after the newest minute. */
  readonly age_s?: number;
  readonly page?: 'now' | 'alarms';
}

export function viewOf({
  mode = 'normal',
  second = 'normal',
  chosen = 'CH-1',
  system = 'ip',
  age_s = 23,
  page = 'now',
}: Wanted = {}): View {
  const plant = new Fixture();
  const last = new LastKnown();
  if (second !== 'lost') plant.second = second;
  if (mode === 'lost' || second === 'lost') {
    for (const chiller of plant.site().chillers) {
      const now = plant.now(chiller.id);
      if (now !== null) last.see(now);
    }
    plant.time += 660_000;
  }
  plant.mode = mode;
  plant.second = second;
  const clock = plant.time + age_s * 1000;
  return {
    ...pageData(plant, last, { chosen, clock, page }, (_metric, error) => {
      throw error;
    }),
    system,
    look: 'auto',
    clock,
    page,
  };
}
