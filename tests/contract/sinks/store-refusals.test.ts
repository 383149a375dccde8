/**
 * What the sink makes of a store's answers, over real HTTP: what is taken leaves the outbox, what can never be taken is
 * given up and counted, everything else is kept; and the outbox is the only queue.
 */
import { expect, onTestFinished, test, vi } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { InfluxSink } from '../../../agent/sinks/influx.ts';
import type { InfluxOptions } from '../../../agent/sinks/influx-options.ts';
import { minute, open } from '../../unit/history/helpers.ts';
import { storeMinute } from '../../unit/history/store-minutes.ts';
import { type Reply, startStore, type Written } from './scripted-store.ts';

const WAIT = { timeout: 30_000, interval: 10 };
const TAKEN = { status: 204 } as const;
const PARTIAL = { status: 400, body: '{"error":"partial write: field type conflict: x dropped=1"}' } as const;

async function rig(
  script: (write: Written, count: number) => Reply,
  minutes: number,
  options: Partial<InfluxOptions> = {},
) {
  const store = await startStore(script);
  const history = open();
  const commit = (sequence: number, message = storeMinute(sequence)) =>
    must(history.commitMinute(minute(sequence, { messages: [message] })));
  for (let sequence = 1; sequence <= minutes; sequence++) commit(sequence);
  const reports: string[] = [];
  const sink = new InfluxSink({
    outbox: history.outbox,
    url: store.url,
    write: { api: 'v2', bucket: 'plant', organisation: null, token: 'right' },
    site: 'kestrel-quay',
    measurement: 'tonhour',
    report: ({ code, message }) => reports.push(`${code}: ${message}`),
    ...options,
    limits: { backoff_ms_min: 5, backoff_ms_max: 20, ...options.limits },
  });
  must(sink.init());
  onTestFinished(() => sink.stop());
  sink.start();
  const counts = () => history.outbox.counts('influx');
  const drained = () => vi.waitUntil(() => counts().waiting === 0, WAIT);
  const tries = (count: number) => vi.waitUntil(() => store.writes.length >= count, WAIT);
  return { store, history, commit, sink, reports, counts, drained, tries };
}

function count(from: number, to: number): number[] {
  return Array.from({ length: to - from + 1 }, (_, index) => from + index);
}

test('taken in order, in batches of bounded size, one write at a time on one connection, compressed, with its token', async () => {
  const { store, sink, counts, drained } = await rig(() => TAKEN, 100, { limits: { influx_batch_messages_max: 16 } });
  await drained();
  expect(store.writes.flatMap(({ sequences }) => sequences)).toEqual(count(1, 100));
  expect(store.writes.map(({ sequences }) => sequences.length)).toEqual([...Array(6).fill(16), 4]);
  expect([store.unanswered(), store.connections()]).toEqual([1, 1]);
  expect(store.writes.every(({ compressed, authorization }) => compressed && authorization === 'Token right')).toBe(
    true,
  );
  expect(store.writes[0]?.path).toBe('/api/v2/write?precision=ms&org=&bucket=plant');
  expect(counts()).toMatchObject({ accepted: 100, rejected: 0, dropped: 0 });
  expect(sink.status()).toMatchObject({ state: 'connected', reason: null, in_flight: 0 });
});

test('a batch holds no more bytes than it may', async () => {
  const { store, drained } = await rig(() => TAKEN, 12, { limits: { influx_batch_bytes_max: 1000 } });
  await drained();
  expect(store.writes.flatMap(({ sequences }) => sequences)).toEqual(count(1, 12));
  expect(Math.max(...store.writes.map(({ bytes }) => bytes))).toBeLessThanOrEqual(1000);
  expect(store.writes.length).toBeLessThan(12);
});

test.each([
  ['401', { status: 401, body: '{"error":"authorization failed"}' }, 'influx_not_authorised', 'authorization failed'],
  ['404', { status: 404, body: '{"message":"bucket not found"}' }, 'influx_refused', 'bucket not found'],
  ['400 without lines', { status: 400, body: 'unsupported path requested' }, 'influx_refused', 'unsupported path'],
  ['500', { status: 500, body: '{"error":"retention policy not found: x"}' }, 'influx_refused', 'retention policy'],
  ['503', { status: 503 }, 'influx_unreachable', 'answers 503'],
  ['302', { status: 302, headers: { location: 'http://127.0.0.1:9/' } }, 'influx_refused', 'answers 302'],
  ['200 with a page', { status: 200, body: '<html>log in</html>' }, 'influx_refused', 'is this its address'],
  ['a reset', 'cut', 'influx_unreachable', 'cannot be reached'],
] as const)(
  '%s: kept however often, told once, and delivered in order when it ends',
  async (_name, reply, code, words) => {
    let ill = true;
    const rigged = await rig(() => (ill ? reply : TAKEN), 3);
    const { store, sink, reports, counts, drained, tries } = rigged;
    await tries(8);
    expect(counts()).toMatchObject({ waiting: 3, rejected: 0, accepted: 0 });
    expect(sink.status()).toMatchObject({ state: 'lost', code });
    expect(reports).toHaveLength(1);
    expect(reports[0]).toMatch(new RegExp(`^${code}: the store ${store.url}, bucket plant, `));
    expect(reports[0]).toContain(words);
    expect(reports[0]).not.toContain('right');
    ill = false;
    await drained();
    expect(store.writes.at(-1)?.sequences.at(-1)).toBe(3);
    expect(counts()).toMatchObject({ accepted: 3, rejected: 0 });
    expect(sink.status()).toMatchObject({ state: 'connected', reason: null, code: null });
  },
);

test('partial write: the rest is taken once more, the one minute is given up, and its gap is told in its place', async () => {
  const script = ({ sequences }: Written) => (sequences.includes(3) ? PARTIAL : TAKEN);
  const { store, reports, counts, drained } = await rig(script, 5);
  await drained();
  expect(store.writes.map(({ sequences }) => sequences)).toEqual([count(1, 5), [1], [2], [3], [4], [5], []]);
  expect(store.writes.at(-1)?.lines[0]).toMatch(
    /^tonhour_gap,chiller=CH-1,site=kestrel-quay count=1i,from_sequence=3i,to_sequence=3i \d{13}$/,
  );
  expect(counts()).toMatchObject({ accepted: 5, rejected: 1 });
  expect(reports).toEqual([expect.stringContaining('minute 3 of CH-1')]);
  expect(reports[0]).toContain('field type conflict');
});

test('one minute alone that the store stores in part does not stand in the way', async () => {
  const { counts, drained } = await rig(({ sequences }) => (sequences.length > 0 ? PARTIAL : TAKEN), 1);
  await drained();
  expect(counts()).toMatchObject({ accepted: 1, rejected: 1 });
});

test('trouble that ends while minutes are tried one by one costs none of them', async () => {
  let writes = 0;
  const { store, counts, drained } = await rig(() => (++writes <= 2 ? { status: 400, body: 'no' } : TAKEN), 3);
  await drained();
  expect(store.writes.map(({ sequences }) => sequences)).toEqual([count(1, 3), [1], [2], [3], [1]]);
  expect(counts()).toMatchObject({ accepted: 3, rejected: 0 });
});

test('a refusal without a reason (400): given up only once the store has taken another', async () => {
  const script = ({ sequences }: Written) => (sequences.includes(1) ? { status: 400, body: 'no' } : TAKEN);
  const { sink, commit, counts, drained, tries } = await rig(script, 1);
  await tries(5);
  expect(counts()).toMatchObject({ waiting: 1, rejected: 0 });
  commit(2);
  sink.wake();
  await drained();
  expect(counts()).toMatchObject({ rejected: 1, accepted: 2 });
});

test('500 for one minute of a batch, again and again: found, given up, and the rest delivered', async () => {
  const script = ({ sequences }: Written) => (sequences.includes(2) ? { status: 500, body: 'panic' } : TAKEN);
  const { store, counts, drained } = await rig(script, 4, { limits: { influx_refusals_max: 3 } });
  await drained();
  expect(store.writes.slice(0, 3).map(({ sequences }) => sequences)).toEqual(Array(3).fill(count(1, 4)));
  expect(counts()).toMatchObject({ rejected: 1, accepted: 4 });
});

test('413: halved until it fits; what does not fit alone is given up', async () => {
  const script = ({ sequences }: Written) => (sequences.length > 2 || sequences.includes(7) ? { status: 413 } : TAKEN);
  const { store, counts, drained } = await rig(script, 9);
  await drained();
  const taken = store.writes.filter(({ sequences }) => sequences.length <= 2 && !sequences.includes(7));
  expect(taken.flatMap(({ sequences }) => sequences)).toEqual([1, 2, 3, 4, 5, 6, 8, 9]);
  expect(counts()).toMatchObject({ rejected: 1, accepted: 9 });
});

test.each([429, 503])('%d: no sooner than the store asks for, in seconds', async (status) => {
  const script = (_write: Written, n: number) =>
    n === 1 ? { status, headers: { 'retry-after': '1' }, body: 'slow down' } : TAKEN;
  const { store, counts, drained } = await rig(script, 2);
  await drained();
  expect(store.writes).toHaveLength(2);
  const [first, second] = store.writes as [Written, Written];
  expect(second.at - first.at).toBeGreaterThan(990);
  expect(counts()).toMatchObject({ accepted: 2, rejected: 0 });
});

test('a pause that a store asks for is bounded', async () => {
  const script = (_write: Written, n: number) =>
    n === 1 ? { status: 429, headers: { 'retry-after': '99999999' } } : TAKEN;
  const { drained } = await rig(script, 1, { limits: { influx_pause_ms_max: 50 } });
  await drained();
});

test.each(['silent', 'half'] as const)('%s: the connection is given up in time and the minutes kept', async (reply) => {
  let ill = true;
  const limits = { influx_answer_ms_max: 80 };
  const { store, sink, reports, counts, drained } = await rig(() => (ill ? reply : TAKEN), 2, { limits });
  await vi.waitUntil(() => store.connections() >= 3, WAIT);
  expect(sink.status().reason).toContain('no answer within 80 ms');
  expect(reports).toHaveLength(1);
  expect(counts()).toMatchObject({ waiting: 2, rejected: 0 });
  ill = false;
  await drained();
  expect(counts()).toMatchObject({ accepted: 2 });
});

test('minutes that come while a write is under way go in the next one, none twice', async () => {
  const late: (() => void)[] = [];
  const { store, sink, commit, drained } = await rig((_write, n) => {
    if (n === 1) for (const each of late) each();
    return TAKEN;
  }, 2);
  late.push(() => {
    for (let sequence = 3; sequence <= 6; sequence++) {
      commit(sequence);
      sink.wake();
    }
  });
  await drained();
  expect(store.writes.flatMap(({ sequences }) => sequences)).toEqual(count(1, 6));
});

test('a message that this version cannot read is given up, told, and does not stand in the way', async () => {
  const { sink, commit, counts, reports, drained } = await rig(() => TAKEN, 1);
  commit(2, { ...storeMinute(2), payload: '{"of":"another version"}' });
  commit(3);
  sink.wake();
  await drained();
  expect(counts()).toMatchObject({ accepted: 3, rejected: 1 });
  expect(reports.join()).toContain('minute 2 of CH-1');
});

test('stop is bounded where the store answers nothing any more, and keeps what was under way', async () => {
  const { sink, counts, tries } = await rig(() => 'silent', 3, { limits: { influx_farewell_ms_max: 50 } });
  await tries(1);
  await sink.stop();
  await sink.stop();
  expect(sink.status()).toMatchObject({ state: 'stopped', in_flight: 0 });
  expect(counts()).toMatchObject({ waiting: 3, rejected: 0 });
});
