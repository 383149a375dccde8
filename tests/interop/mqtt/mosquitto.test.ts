/**
 * The sink's contract against mosquitto as Debian ships it (packages mosquitto and mosquitto-clients), MQTT 5.0
 * throughout. The subscriber is mosquitto_sub, another implementation, with a session that outlives the broker's
 * restart.
 */
import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as pause } from 'node:timers/promises';
import { expect, onTestFinished, test } from 'vitest';
import { type BrokerUnderTest, describeSink, type Seen } from '../../contract/sinks/suite.ts';

// Debian puts the broker where an ordinary user's PATH does not look.
const env = { ...process.env, PATH: `${process.env['PATH']}:/usr/sbin` };

/** mosquitto takes no port 0: a free one is found first. */
async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  server.close();
  await once(server, 'close');
  return port;
}

function answers(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1', () => {
      socket.destroy();
      resolve(true);
    });
    socket.on('error', () => resolve(false));
  });
}

async function startMosquitto(folder: string, port: number): Promise<ChildProcess> {
  const broker = spawn('mosquitto', ['-c', path.join(folder, 'mosquitto.conf')], { stdio: 'ignore', env });
  await once(broker, 'spawn');
  while (!(await answers(port))) {
    expect(broker.exitCode).toBeNull();
    await pause(20);
  }
  return broker;
}

async function end(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.kill('SIGTERM');
  await once(child, 'exit');
}

function configure(folder: string, port: number): void {
  const users = path.join(folder, 'users');
  execFileSync('mosquitto_passwd', ['-b', '-c', users, 'agent', 'right'], { env, stdio: 'ignore' });
  chmodSync(users, 0o700);
  writeFileSync(
    path.join(folder, 'mosquitto.conf'),
    [
      `listener ${port} 127.0.0.1`,
      'allow_anonymous false',
      `password_file ${users}`,
      'persistence true',
      `persistence_location ${folder}/`,
      'max_queued_messages 5000',
      // Started as root it would drop to a user of its own, who cannot write here.
      ...(process.getuid?.() === 0 ? ['user root'] : []),
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
    await end(subscriber);
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
