// Goal: which alarms stand after an interval, for rules of the site file and for those every machine has.
import { describe, expect, test } from 'vitest';
import { type AlarmStates, evaluateAlarms } from '../../../agent/alarms/evaluate.ts';
import { alarmMessage } from '../../../agent/alarms/payload.ts';
import type { AlarmRule } from '../../../agent/alarms/rules.ts';
import type { AlarmView } from '../../../agent/alarms/view.ts';

const RULE: AlarmRule = {
  id: 'condenser-approach',
  title: 'Condenser approach high',
  watch: 'condenser.approach',
  side: 'above',
  limit: 3,
  deadband: 0.5,
  unit: 'K',
  on_delay_s: 120,
  off_delay_s: 60,
  when: 'running',
  running_for_s: 900,
  priority: 2,
  cause: 'Fouled tubes.',
  consequence: 'More power.',
  action: 'Look at the approach at the same load a month ago.',
  respond_within_s: 3600,
  beyond_uncertainty: false,
  latching: false,
  protected: false,
  out_of_service: null,
};

function view(change: Partial<AlarmView> & { approach?: number | null } = {}): AlarmView {
  const { approach = 2, ...rest } = change;
  return {
    chiller: 'CH-1',
    time: 60_000,
    interval_s: 60,
    running: true,
    steady: true,
    running_for_s: 3600,
    figures: { 'condenser.approach': { value: approach, uncertainty: 0.4, quality: 'good', reason: null } },
    link: { state: 'connected', reason: null },
    implausible: [],
    suspects: [],
    commands: [],
    ...rest,
  };
}

function after(views: readonly AlarmView[], rules: readonly AlarmRule[] = [RULE]) {
  let states: AlarmStates = {};
  let outcome = evaluateAlarms(states, rules, views[0] as AlarmView);
  states = outcome.states;
  for (const next of views.slice(1)) {
    // Through JSON, as the store keeps it between intervals.
    outcome = evaluateAlarms(JSON.parse(JSON.stringify(states)), rules, next);
    states = outcome.states;
  }
  return outcome;
}

describe('alarms of one interval', () => {
  test('a limit crossed for the on-delay raises with evidence: figure, uncertainty and limit', () => {
    const outcome = after([view({ approach: 4 }), view({ approach: 4.2, time: 120_000 })]);
    expect(outcome.events.map((event) => event.change)).toEqual(['raised']);
    expect(outcome.open[0]).toMatchObject({
      id: 'condenser-approach',
      state: 'unacknowledged',
      since: '1970-01-01T00:02:00Z',
      value: 4.2,
      limit: 3,
      unit: 'K',
      evidence: [{ name: 'condenser.approach', found: '4.2 K ± 0.4 K (k = 2)', expected: 'not above 3 K' }],
    });
  });

  test.each([
    [{ running_for_s: 160 }, 'the machine has just started'],
    [{ running: false }, 'the machine does not run'],
  ])('a limit crossed while %j is suppressed by design, with the reason, and ends as normal', (state, reason) => {
    const bad = view({ approach: 9, ...state });
    const outcome = after([bad, bad]);
    expect(outcome.open).toMatchObject([{ state: 'suppressed by design', suppression: reason, active: false }]);
    expect(outcome.events.map(({ change }) => change)).toEqual(['suppressed']);
    expect(after([bad, bad, view({ approach: 2, ...state })]).open).toEqual([]);
    // What explained it is over: it counts anew.
    const on = view({ approach: 9 });
    expect(after([bad, bad, on]).open).toMatchObject([{ state: 'suppressed by design' }]);
    expect(after([bad, bad, on, on]).open).toMatchObject([{ state: 'unacknowledged', suppression: null }]);
  });

  test('a stopped machine without a figure has no alarm at all', () => {
    const stopped = view({ running: false, approach: null });
    expect(after([stopped, stopped, stopped]).open).toEqual([]);
  });

  test('a missing figure holds what stands', () => {
    const raised = [view({ approach: 4 }), view({ approach: 4 })];
    expect(after([...raised, view({ approach: null }), view({ approach: null })]).open).toHaveLength(1);
  });

  test('an unsteady minute pauses a rule for steady operation, a stop returns it to normal, unacknowledged', () => {
    const rules = [{ ...RULE, when: 'steady' as const }];
    const raised = [view({ approach: 4 }), view({ approach: 4 })];
    expect(after([...raised, view({ steady: false }), view({ steady: false })], rules).open).toMatchObject([
      { state: 'unacknowledged', active: true },
    ]);
    const stopped = after([...raised, view({ running: false, approach: null })], rules);
    expect(stopped.open).toMatchObject([{ state: 'returned to normal', active: false }]);
    expect(stopped.events.map(({ change }) => change)).toEqual(['cleared']);
  });

  test('where nobody knows whether the machine runs, what stands stands', () => {
    const raised = [view({ approach: 4 }), view({ approach: 4 })];
    const blind = view({ running: null, approach: null });
    expect(after([...raised, blind, blind]).open).toMatchObject([{ state: 'unacknowledged' }]);
  });

  test('a lost controller raises, its return clears, and a first attempt says nothing', () => {
    const lost = view({ link: { state: 'lost', reason: 'no reply within 1000 ms' } });
    const outcome = after([lost]);
    expect(outcome.open[0]).toMatchObject({ id: 'controller-lost', priority: 2 });
    expect(outcome.open[0]?.evidence[0]?.found).toBe('no reply within 1000 ms');
    expect(after([lost, view()]).open).toMatchObject([{ id: 'controller-lost', state: 'returned to normal' }]);
    expect(after([view({ link: { state: 'connecting', reason: null } })]).open).toEqual([]);
  });

  test('sensors that cannot be right raise after five minutes and name themselves', () => {
    const bad = view({ implausible: [{ name: 'condenser.pressure', reason: 'frozen for 900 s' }] });
    expect(after([bad, bad, bad, bad]).open).toEqual([]);
    const outcome = after([bad, bad, bad, bad, bad]);
    expect(outcome.open[0]).toMatchObject({ id: 'sensor-implausible' });
    expect(outcome.open[0]?.evidence[0]).toMatchObject({ name: 'condenser.pressure', found: 'frozen for 900 s' });
  });

  describe('another sensor that cannot be right while the alarm stands', () => {
    const pressure = { name: 'condenser.pressure', reason: 'frozen for 900 s' };
    const level = { name: 'condenser.level', reason: 'no reply' };
    const bad = view({ implausible: [pressure] });
    const standing = [bad, bad, bad, bad, bad];
    const namesOf = (outcome: ReturnType<typeof after>) =>
      outcome.events.map(({ change, report }) => [change, report.since, report.evidence.map(({ name }) => name)]);

    test('is told once, since the same time, and so is that one of them is right again', () => {
      const both = view({ time: 360_000, implausible: [pressure, level] });
      const since = '1970-01-01T00:01:00Z';
      expect(namesOf(after([...standing, both]))).toEqual([
        ['updated', since, ['condenser.pressure', 'condenser.level']],
      ]);
      expect(after([...standing, both, both]).events).toEqual([]);
      // The same names in another order are the same names.
      const turned = view({ implausible: [level, pressure] });
      expect(after([...standing, both, turned]).events).toEqual([]);
      const one = view({ implausible: [level] });
      expect(namesOf(after([...standing, both, one]))).toEqual([['updated', since, ['condenser.level']]]);
    });

    test('a figure in the reason that moves is not told, though the alarm shows it', () => {
      const longer = view({ implausible: [{ ...pressure, reason: 'frozen for 960 s' }] });
      const outcome = after([...standing, longer]);
      expect(outcome.events).toEqual([]);
      expect(outcome.open[0]?.evidence[0]?.found).toBe('frozen for 960 s');
    });

    test('before it is raised, while nothing is known, and in the minutes before it clears nothing is told', () => {
      const both = view({ implausible: [pressure, level] });
      expect(after([bad, both]).events).toEqual([]);
      const lost = after([...standing, view({ link: { state: 'connecting', reason: null } })]);
      expect([lost.events, lost.open[0]?.evidence[0]?.name]).toEqual([[], 'condenser.pressure']);
      const good = after([...standing, view()]);
      expect([good.events, good.open[0]?.evidence[0]?.name]).toEqual([[], 'condenser.pressure']);
    });
  });

  test('a rule whose figures move stands without a word', () => {
    const raised = [view({ approach: 4 }), view({ approach: 4 })];
    expect(after([...raised, view({ approach: 5 })]).events).toEqual([]);
  });

  test('a rule taken out of the site file while its alarm stood is cleared once, so that nothing retained stands on', () => {
    const raised = after([view({ approach: 4 }), view({ approach: 4 })]);
    expect(raised.open).toHaveLength(1);
    const without = evaluateAlarms(raised.states, [], view({ time: 180_000 }));
    expect(without.open).toEqual([]);
    expect(without.events).toMatchObject([
      { change: 'cleared', report: { id: 'condenser-approach', state: 'normal', since: '1970-01-01T00:03:00Z' } },
    ]);
    expect(evaluateAlarms(without.states, [], view({ time: 240_000 })).events).toEqual([]);
    const quiet = after([view({ approach: 2 })]);
    expect(evaluateAlarms(quiet.states, [], view({ time: 180_000 })).events).toEqual([]);
  });

  test('the most urgent stands first', () => {
    const urgent = { ...RULE, id: 'urgent', priority: 1 as const };
    expect(after([view({ approach: 4 }), view({ approach: 4 })], [RULE, urgent]).open.map((a) => a.id)).toEqual([
      'urgent',
      'condenser-approach',
    ]);
  });

  test('the message is retained under the chiller and carries the sequence', () => {
    const report = after([view({ approach: 4 }), view({ approach: 4 })]).open[0];
    const message = alarmMessage(report as NonNullable<typeof report>, { root: 'tonhour/kestrel-quay', sequence: 7 });
    expect(message).toMatchObject({
      address: 'tonhour/kestrel-quay/CH-1/alarms/condenser-approach',
      retain: true,
      sequence: 7,
    });
    expect(JSON.parse(message.payload)).toMatchObject({ state: 'unacknowledged', priority: 2, limit: 3 });
  });
});
