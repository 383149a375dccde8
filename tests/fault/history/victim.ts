/**
 * A small agent that dies: the real store and the real sink around a fold that only counts. Told by its environment:
 * FOLDER, BROKER (port), MINUTES to reach, BOOT (number of this life, goes into every payload), DIE_AT checkpoint and
 * DIE_ON its how-manieth passing; AUTOCOMMIT=1 takes the transaction out. Ends with code 0 once all minutes are
 * computed and acknowledged.
 */
import { setImmediate } from 'node:timers/promises';
import { must } from '../../../agent/base/result.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { MqttSink } from '../../../agent/sinks/mqtt.ts';

const { FOLDER = '', BROKER = '', MINUTES = '0', BOOT = '0', DIE_AT = '', DIE_ON = '1', AUTOCOMMIT = '' } = process.env;
const CHILLER = 'CH-1';

let passed = 0;
function checkpoint(name: string): void {
  if (name !== DIE_AT || ++passed < Number(DIE_ON)) return;
  process.kill(process.pid, 'SIGKILL');
}

const history = must(
  openHistory({
    folder: FOLDER,
    checkpoint,
    ...(AUTOCOMMIT === '1' ? { transaction: (_database: unknown, work: () => void) => work() } : {}),
  }),
);
const sink = new MqttSink({
  outbox: history.outbox,
  url: `mqtt://127.0.0.1:${BROKER}`,
  clientId: 'victim',
  statusAddress: 'tonhour/kestrel-quay/status',
  version: '0',
  checkpoint,
  limits: { backoff_ms_min: 10, backoff_ms_max: 50 },
});
must(sink.init());
sink.start();

let { count } = JSON.parse(must(history.loadState(CHILLER))?.state ?? '{"count":0}') as { count: number };
while (count < Number(MINUTES)) {
  count++;
  const common = { sink: 'mqtt', retain: false, chiller: CHILLER, sequence: count };
  const payload = JSON.stringify({ sequence: count, count, boot: Number(BOOT) });
  must(
    history.commitMinute({
      chiller: CHILLER,
      sequence: count,
      time: count * 60_000,
      state: JSON.stringify({ count }),
      record: JSON.stringify({ sequence: count, values: { count } }),
      messages: [
        { ...common, address: `tonhour/kestrel-quay/${CHILLER}/metrics`, payload },
        { ...common, address: `tonhour/kestrel-quay/${CHILLER}/valves`, payload },
      ],
      fast: [],
      alarmEvents: [],
    }),
  );
  sink.wake();
  // Every third minute the broker keeps up; between, a backlog grows.
  while (count % 3 === 0 && history.outbox.counts('mqtt').waiting > 0) await setImmediate();
}
while (history.outbox.counts('mqtt').waiting > 0) await setImmediate();
await sink.stop();
history.close();
