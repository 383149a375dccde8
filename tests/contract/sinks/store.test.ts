/**
 * What every sink owes, of the sink of a time-series store: against an HTTP server that wants a token and takes what it
 * gets. Real stores: tests/interop/stores.
 */
import { must } from '../../../agent/base/result.ts';
import { InfluxSink } from '../../../agent/sinks/influx.ts';
import { minute } from '../../unit/history/helpers.ts';
import { storeMinute } from '../../unit/history/store-minutes.ts';
import { startStore } from './scripted-store.ts';
import { describeEverySink } from './sink-suite.ts';

describeEverySink({
  name: 'time-series store',
  start: async () => {
    const taken: number[] = [];
    const store = await startStore(({ authorization, sequences }) => {
      if (authorization !== 'Token right') return { status: 401, body: '{"message":"unauthorized access"}' };
      taken.push(...sequences);
      return { status: 204 };
    });
    return { port: store.port, arrived: () => taken, stop: async () => {} };
  },
  make: ({ port, history, password, patience_ms, report }) =>
    new InfluxSink({
      outbox: history.outbox,
      url: `http://127.0.0.1:${port}`,
      write: { api: 'v2', bucket: 'plant', organisation: null, token: password },
      site: 'kestrel-quay',
      measurement: 'tonhour',
      report: ({ code }) => report(code),
      limits: { backoff_ms_min: 20, backoff_ms_max: 100, influx_answer_ms_max: patience_ms },
    }),
  commit: (history, sequence) => must(history.commitMinute(minute(sequence, { messages: [storeMinute(sequence)] }))),
  codes: { unreachable: 'influx_unreachable', login: 'influx_not_authorised' },
});
