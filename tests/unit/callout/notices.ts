/** Notices of alarms for tests. */
import type { AlarmNotice } from '../../../agent/callout/notice.ts';

export function notice(sequence: number, given: Partial<AlarmNotice> = {}): AlarmNotice {
  const time = new Date(Date.UTC(2026, 6, 1) + sequence * 60_000).toISOString();
  return {
    id: 'condenser-approach',
    chiller: 'CH-1',
    state: 'unacknowledged',
    priority: 3,
    title: 'Condenser approach high',
    since: time,
    metric: 'condenser.approach',
    value: 4.6,
    limit: 4,
    unit: 'K',
    cause: 'Fouled tubes, low water flow, or air in the condenser.',
    consequence: 'More power.',
    action: 'Look at water flow first.',
    evidence: [{ name: 'condenser.approach', found: '4.6 K ± 0.8 K (k = 2)', expected: 'not above 4 K' }],
    change: 'raised',
    sequence,
    time,
    ...given,
  } as AlarmNotice;
}
