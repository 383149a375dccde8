/**
 * Goal: ten thousand alarms in a flood leave every step in the journal, one message an alarm and minute, and a store
 * and a state that do not grow with them beyond their bounds. Method: as many rules as a chiller may have, whose
 * figures all cross their limits and come back together, over the real store.
 */
import { expect, test } from 'vitest';
import { type AlarmStates, evaluateAlarms } from '../../../agent/alarms/evaluate.ts';
import { alarmMessages } from '../../../agent/alarms/payload.ts';
import type { AlarmRule } from '../../../agent/alarms/rules.ts';
import { LIMITS } from '../../../agent/base/limits.ts';
import { must } from '../../../agent/base/result.ts';
import type { History } from '../../../agent/history/history.ts';
import { open } from '../../unit/history/helpers.ts';

const RULES = Array.from(
  { length: LIMITS.alarms_per_chiller_max },
  (_, i): AlarmRule => ({
    id: `alarm-${i}`,
    title: `Alarm ${i}`,
    watch: 'x',
    side: 'above',
    limit: 10,
    deadband: 0,
    unit: 'K',
    on_delay_s: 0,
    off_delay_s: 0,
    when: 'always',
    running_for_s: 0,
    priority: 1,
    cause: 'A flood.',
    consequence: 'Nobody reads on.',
    action: 'Look at what they have in common.',
    respond_within_s: 60,
    beyond_uncertainty: false,
    latching: false,
    protected: false,
    out_of_service: null,
  }),
);
/** Raised and over in turn: half of the minutes raise every alarm. */
const MINUTES = (2 * 10_000) / RULES.length;

function flood(history: History): { readonly state_bytes: readonly number[] } {
  let states: AlarmStates = {};
  const state_bytes: number[] = [];
  for (let sequence = 1; sequence <= MINUTES; sequence++) {
    const time = sequence * 60_000;
    const value = sequence % 2 === 1 ? 20 : 0;
    const outcome = evaluateAlarms(states, RULES, {
      chiller: 'CH-1',
      time,
      interval_s: 60,
      running: true,
      steady: true,
      running_for_s: 3600,
      figures: { x: { value, uncertainty: 0.1, quality: 'good', reason: null } },
      link: { state: 'connected', reason: null },
      implausible: [],
      suspects: [],
      commands: [],
    });
    states = outcome.states;
    state_bytes.push(JSON.stringify(states).length);
    must(
      history.commitMinute({
        chiller: 'CH-1',
        sequence,
        time,
        state: JSON.stringify(states),
        record: '{}',
        messages: alarmMessages(outcome.events, { root: 'tonhour/quay', sequence }),
        fast: [],
        alarmEvents: outcome.events.map(({ change, report }) => ({
          id: report.id,
          time,
          state: report.state,
          priority: report.priority,
          detail: JSON.stringify({ change, ...report }),
        })),
      }),
    );
  }
  return { state_bytes };
}

test('every step of ten thousand alarms is in the journal once, and leaves as one message', () => {
  const history = open();
  const { state_bytes } = flood(history);
  const journal = must(history.alarmJournal({ chiller: 'CH-1', from: 0, to: 4e12, count: 100_000 }));
  const raised = journal.filter(({ state }) => state === 'unacknowledged');
  expect(raised).toHaveLength(10_000);
  expect(new Set(raised.map(({ id, sequence }) => `${id} ${sequence}`)).size).toBe(10_000);
  expect(journal).toHaveLength(20_000);
  expect(history.outbox.counts('mqtt').waiting).toBe(20_000);
  expect(must(history.openAlarms())).toHaveLength(RULES.length);
  // The state holds where the alarms stand, not what was.
  expect(state_bytes.at(-1)).toBeLessThan(1.1 * (state_bytes[1] ?? 0));
});

test('at its bound the journal gives up its oldest steps alone, and what stands is kept apart', () => {
  const history = open({ limits: { alarm_journal_rows_max: 3000 } });
  flood(history);
  const journal = must(history.alarmJournal({ chiller: 'CH-1', from: 0, to: 4e12, count: 100_000 }));
  expect(journal).toHaveLength(3000);
  const newest = Array.from({ length: 3000 / RULES.length }, (_, i) => MINUTES - i);
  expect([...new Set(journal.map(({ sequence }) => sequence))]).toEqual(newest);
  expect(must(history.openAlarms())).toHaveLength(RULES.length);
});
