/** The hours of a story (year.ts) in a store of their own, with a site file that declares a baseline. */
import { must } from '../../../agent/base/result.ts';
import { MINUTE_START } from '../../../agent/minute.ts';
import { stateText } from '../../../agent/state.ts';
import { HOUR } from '../baseline/helpers.ts';
import { type Place, place } from './stored.ts';
import { hourRecord, type Story } from './year.ts';

export function filled(story: Story, baseline: { readonly from: string; readonly to: string }): Place {
  const declared = `    name: Chiller 1\n    baseline: { from: ${baseline.from}, to: ${baseline.to} }\n`;
  const there = place((text) => text.replace('    name: Chiller 1\n', declared));
  let sequence = 0;
  for (let time = story.from + HOUR; time <= story.to; time += HOUR) {
    const found = hourRecord(story, 'CH-1', time);
    if (found === null) continue;
    sequence += 1;
    must(
      there.history.commitMinute({
        chiller: 'CH-1',
        sequence,
        time,
        state: stateText({ ...MINUTE_START, sequence }),
        record: JSON.stringify({ quality: {}, ...found }),
        messages: [],
        fast: [],
        alarmEvents: [],
      }),
    );
  }
  return there;
}
