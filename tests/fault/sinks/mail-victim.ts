/**
 * A small agent that dies: the real store and the real mail sink. Told by its environment: FOLDER, PORT of the mail
 * server, CA (PEM), COMMIT (numbers to commit first, comma between), DIE_AT
 * `after_acknowledge` or nothing, EARLY=1 settles whatever the sink only looks at. Ends with
 * code 0 once all is settled.
 */
import { setImmediate } from 'node:timers/promises';
import type { Outbox } from '../../../agent/base/delivery.ts';
import { must } from '../../../agent/base/result.ts';
import { noticeMessage } from '../../../agent/callout/notice.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { MailSink } from '../../../agent/sinks/mail.ts';
import { notice } from '../../unit/callout/notices.ts';

const { FOLDER = '', PORT = '0', CA = '', COMMIT = '', DIE_AT = '', EARLY = '' } = process.env;

const history = must(openHistory({ folder: FOLDER }));
for (const number of COMMIT.split(',')
  .filter((each) => each !== '')
  .map(Number))
  must(
    history.commitMinute({
      chiller: 'CH-1',
      sequence: number,
      time: number * 60_000,
      state: '{}',
      record: '{}',
      messages: [noticeMessage(notice(number))],
      fast: [],
      alarmEvents: [],
    }),
  );
const { outbox } = history;
const early: Outbox = {
  oldest: (name, count) => {
    const found = outbox.oldest(name, count);
    outbox.settleAll(
      found.map(({ id }) => id),
      'accept',
    );
    return found;
  },
  settle: () => {},
  settleAll: () => {},
  counts: (name) => outbox.counts(name),
};
const sink = new MailSink({
  outbox: EARLY === '1' ? early : outbox,
  server: { host: '127.0.0.1', port: Number(PORT), security: 'starttls', username: 'agent', password: 'right', ca: CA },
  from: { name: 'Tonhour', address: 'tonhour@quay.example' },
  to: [{ address: 'team@quay.example', priorities: [1, 2, 3] }],
  per_hour: 600,
  site: 'kestrel-quay',
  compose: ({ notices }) => {
    const numbers = notices.map(({ sequence }) => sequence).join(' ');
    // Large enough that its data is under way for many packets.
    return {
      subject: numbers,
      text: `numbers: ${numbers};\n${'x'.repeat(70)}\n`.repeat(2000),
      html: '',
      attachments: [],
    };
  },
  limits: { mail_backoff_ms_min: 20, mail_backoff_ms_max: 100 },
  checkpoint: (name) => {
    if (name === DIE_AT) process.kill(process.pid, 'SIGKILL');
  },
});
must(sink.init());
sink.start();
while (history.outbox.counts('mail').waiting > 0) await setImmediate();
await sink.stop();
history.close();
