import type { Message } from '../base/delivery.ts';
import type { AlarmEvent, AlarmReport } from './evaluate.ts';

/**
 * The retained message `<prefix>/<site>/<chiller>/alarms/<id>` of an alarm that was raised or cleared, or whose
 * evidence names something else.
 */
export function alarmMessage(
  report: AlarmReport,
  options: { readonly root: string; readonly sequence: number },
): Message {
  return {
    sink: 'mqtt',
    address: `${options.root}/${report.chiller}/alarms/${report.id}`,
    payload: JSON.stringify({ sequence: options.sequence, ...report }),
    retain: true,
    chiller: report.chiller,
    sequence: options.sequence,
  };
}

/** One message an alarm: where it took several steps in one interval, the state after the last. */
export function alarmMessages(
  events: readonly AlarmEvent[],
  options: { readonly root: string; readonly sequence: number },
): Message[] {
  const last = new Map(events.map(({ report }) => [report.id, report]));
  return [...last.values()].map((report) => alarmMessage(report, options));
}
