/**
 * The sink's contract against mosquitto as Debian ships it (packages mosquitto and mosquitto-clients), MQTT 5.0
 * throughout. The subscriber is mosquitto_sub, another implementation, with a session that outlives the broker's
 * restart.
 */
import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { expect, onTestFinished, test } from 'vitest';
import { type BrokerUnderTest, describeSink, type Seen } from '../../contract/sinks/suite.ts';
import { configuration, end, env, freePort, startMosquitto } from './broker.ts';

function configure(folder: string, port: number): void {
  const users = path.join(folder, 'users');
  execFileSync('mosquitto_passwd', ['-b', '-c', users, 'agent', 'right'], { env, stdio: 'ignore' });
  chmodSync(users, 0o700);
  writeFileSync(
    path.join(folder, 'mosquitto.conf'),
    [
      ...configuration(folder, port),
      'allow_anonymous false',
      `password_file ${users}`,
      'max_queued_messages 5000',
      '',
    ].join('\n'),
  );
}

async function mosquitto(): Promise<BrokerUnderTest> {
  const folder = mkdtempSync(path.join(tmpdir(), 'tonhour-mosquitto-'));
  const port = await freePort();
  configure(folder, port);
  let broker = await startMosquitto(folder, port);
  const seen: Seen[] = [];
  const account = ['-h', '127.0.0.1', '-p', String(port), '-V', '5', '-u', 'agent', '-P', 'right', '-q', '1'];
  // Into a pipe it would hold lines back until a block is full.
  const subscriber = spawn(
    'stdbuf',
    [
      '-oL',
      'mosquitto_sub',
      ...account,
      '-i',
      'watcher',
      '-c',
      '-x',
      '3600',
      '-t',
      'tonhour/#',
      '-F',
      '%r %t %p',
      '-d',
    ],
    { stdio: ['ignore', 'pipe', 'ignore'], env },
  );
  const subscribed = new Promise<void>((resolve) => {
    createInterface({ input: subscriber.stdout }).on('line', (line) => {
      if (line.startsWith('Subscribed')) resolve();
      const found = /^([01]) (\S+) (.*)$/.exec(line);
      if (found !== null) seen.push({ retained: found[1] === '1', topic: String(found[2]), payload: String(found[3]) });
    });
  });
  const stop = async (): Promise<void> => {
    await end(subscriber, 'SIGKILL');
    await end(broker);
    rmSync(folder, { recursive: true, force: true });
  };
  onTestFinished(stop);
  await subscribed;
  return {
    port,
    seen,
    restart: async () => {
      await end(broker);
      broker = await startMosquitto(folder, port);
    },
    retained: async (topic) => {
      const asker = spawn('mosquitto_sub', [...account, '-t', topic, '-C', '1', '-W', '1'], {
        stdio: ['ignore', 'pipe', 'ignore'],
        env,
      });
      let text = '';
      asker.stdout.on('data', (data) => {
        text += data;
      });
      await once(asker, 'close');
      return text.trim() || null;
    },
    stop,
  };
}

test('the broker under test is mosquitto', () => {
  let text: string;
  try {
    text = execFileSync('mosquitto', ['-h'], { env }).toString();
  } catch (error) {
    text = String((error as { stdout?: Buffer }).stdout); // its help ends with code 3
  }
  expect(text).toMatch(/^mosquitto version \d/);
});

describeSink(mosquitto);
