/**
 * Fills a store until the system refuses the write, and tells in JSON what is left. Started under a limit of file size.
 */
import { must } from '../../../agent/base/result.ts';
import { openHistory } from '../../../agent/history/history.ts';

const history = must(openHistory({ folder: process.argv[2] ?? '' }));
const record = JSON.stringify({ values: {}, filling: 'x'.repeat(20_000) });
let code = '';
let sequence = 0;
for (let failures = 0; failures < 3; ) {
  sequence++;
  const messages = [
    { sink: 'mqtt', address: 'a', payload: String(sequence), retain: false, chiller: 'CH-1', sequence },
  ];
  const outcome = history.commitMinute({
    chiller: 'CH-1',
    sequence,
    time: sequence * 60_000,
    state: '{}',
    record,
    messages,
    fast: [],
    alarmEvents: [],
  });
  if (outcome.ok) continue;
  code = outcome.fault.code;
  failures++;
}
process.stdout.write(
  JSON.stringify({
    code,
    stored: must(history.loadState('CH-1'))?.sequence,
    latest: must(history.latestRecord('CH-1'))?.sequence,
    pending: history.counters().pending,
    waiting: history.outbox.counts('mqtt').waiting,
  }),
);
