/** A rule of alarms for tests: above 10 K, deadband 5 K, a minute of delay each way. */
import type { AlarmRule } from '../../../agent/alarms/rules.ts';

export function rule(id: string, traits: Partial<AlarmRule>): AlarmRule {
  return {
    id,
    title: id,
    watch: id,
    side: 'above',
    limit: 10,
    deadband: 5,
    unit: 'K',
    on_delay_s: 60,
    off_delay_s: 60,
    when: 'running',
    running_for_s: 0,
    priority: 2,
    cause: '',
    consequence: '',
    action: '',
    respond_within_s: null,
    beyond_uncertainty: false,
    latching: false,
    protected: false,
    out_of_service: null,
    ...traits,
  };
}
