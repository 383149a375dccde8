/**
 * Goal: kill -9 at any moment between compute, commit, send and acknowledge loses no minute, and a store keyed by
 * (chiller, sequence) holds nothing twice. Method: a child process with the real store and the real sink kills itself
 * at a named checkpoint and is started again until all minutes are done; a subscriber of a real broker in this process
 * keeps what arrives. The same with the transaction taken out must break, or the test would prove nothing.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { connectAsync } from 'mqtt';
import { expect, onTestFinished, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { startBroker } from '../../../agent/sinks/broker.ts';
import { temporaryFolder } from '../../unit/history/helpers.ts';

const VICTIM = fileURLToPath(new URL('victim.ts', import.meta.url));
const MINUTES = 30;

type Death = readonly [checkpoint: string, passing: number];

interface Outcome {
  readonly deaths: number;
  /** Exit code of the last life. */
  readonly code: number | null;
  readonly errors: string;
  /** By topic and number: the contents that arrived under it. */
  readonly arrived: ReadonlyMap<string, ReadonlySet<string>>;
  readonly deliveries: number;
  readonly folder: string;
}

/** `killAfter`: the child is killed from outside once that many messages have arrived in all. */
async function live(
  deaths: readonly Death[],
  { autocommit = false, killAfter = [] as readonly number[] } = {},
): Promise<Outcome> {
  const broker = await startBroker();
  onTestFinished(() => broker.stop());
  const subscriber = await connectAsync(broker.url, { reconnectPeriod: 0 });
  onTestFinished(() => subscriber.endAsync(true));
  const arrived = new Map<string, Set<string>>();
  let deliveries = 0;
  let child: ChildProcess | null = null;
  const moments = [...killAfter];
  subscriber.on('message', (topic, payload) => {
    if (topic.endsWith('/status')) return;
    const key = `${topic} ${JSON.parse(payload.toString()).sequence}`;
    arrived.set(key, (arrived.get(key) ?? new Set()).add(payload.toString()));
    deliveries++;
    if (deliveries >= (moments[0] ?? Number.POSITIVE_INFINITY)) {
      moments.shift();
      child?.kill('SIGKILL');
    }
  });
  await subscriber.subscribeAsync('tonhour/#', { qos: 1 });

  const folder = temporaryFolder();
  let died = 0;
  let errors = '';
  for (let boot = 1; ; boot++) {
    const [checkpoint = '', passing = 0] = deaths[boot - 1] ?? [];
    child = spawn(process.execPath, [VICTIM], {
      stdio: ['ignore', 'ignore', 'pipe'],
      env: {
        ...process.env,
        FOLDER: folder,
        BROKER: String(broker.port),
        MINUTES: String(MINUTES),
        BOOT: String(boot),
        DIE_AT: checkpoint,
        DIE_ON: String(passing),
        AUTOCOMMIT: autocommit ? '1' : '0',
      },
    });
    child.stderr?.on('data', (data) => {
      errors += data;
    });
    const [code, signal] = (await once(child, 'close')) as [number | null, string | null];
    if (signal === 'SIGKILL') died++;
    else return { deaths: died, code, errors, arrived, deliveries, folder };
  }
}

/** Everything that is wrong with what is left behind; nothing where all is well. */
function violations({ code, arrived, folder }: Outcome): string[] {
  const found: string[] = [];
  if (code !== 0) found.push(`the agent ended with code ${code}`);
  for (const topic of ['metrics', 'valves'])
    for (let sequence = 1; sequence <= MINUTES; sequence++) {
      const contents = arrived.get(`tonhour/kestrel-quay/CH-1/${topic} ${sequence}`)?.size ?? 0;
      if (contents === 0) found.push(`${topic} ${sequence} is missing`);
      if (contents > 1) found.push(`${topic} ${sequence} arrived with ${contents} contents`);
    }
  if (arrived.size > 2 * MINUTES) found.push('more numbers than minutes');
  const history = must(openHistory({ folder }));
  const state = must(history.loadState('CH-1'));
  if (state?.sequence !== MINUTES || JSON.parse(state.state).count !== MINUTES)
    found.push(`the state stands at ${state?.sequence}`);
  const stored = [...history.minutes({ chiller: 'CH-1', from: 0, to: Number.MAX_SAFE_INTEGER })];
  const numbers = stored.map(({ sequence }) => sequence);
  if (numbers.join() !== Array.from({ length: MINUTES }, (_, index) => index + 1).join())
    found.push(`the store has the numbers ${numbers.join()}`);
  if (stored.some(({ sequence, record }) => JSON.parse(record).values.count !== sequence))
    found.push('a stored minute has the count of another');
  if (history.outbox.counts('mqtt').waiting !== 0) found.push('messages wait');
  history.close();
  return found;
}

test('kill -9 at every checkpoint, early and late: nothing missing, nothing twice in the store, the count goes on', async () => {
  const deaths: Death[] = [
    'before_commit',
    'inside_transaction',
    'after_commit',
    'after_send',
    'after_acknowledge',
  ].flatMap((name): Death[] => [
    [name, 1],
    [name, 3],
  ]);
  const outcome = await live(deaths);
  expect(outcome.errors).toBe('');
  expect(outcome.deaths).toBe(deaths.length);
  expect(violations(outcome)).toEqual([]);
  // The deaths after sending did make the broker deliver something again: the case that the key is there for.
  expect(outcome.deliveries).toBeGreaterThan(2 * MINUTES);
});

test('kill -9 from outside at moments nobody chose: the same', async () => {
  const outcome = await live([], { killAfter: [1, 6, 13, 29, 44] });
  expect(outcome.errors).toBe('');
  expect(outcome.deaths).toBeGreaterThan(0);
  expect(violations(outcome)).toEqual([]);
});

test('with the transaction taken out the same death leaves a broken store; without a death it does not', async () => {
  const alive = await live([], { autocommit: true });
  expect(violations(alive)).toEqual([]);
  const outcome = await live([['inside_transaction', 3]], { autocommit: true });
  expect(outcome.deaths).toBe(1);
  // The third minute and its messages are there, the state that they come from is not: the next life computes that
  // number once more.
  expect(violations(outcome)).toContain('the store has the numbers 1,2,3');
  expect(violations(outcome)).toContain('the state stands at 2');
});
