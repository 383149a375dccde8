/** An independent subscriber of an agent's broker: mosquitto_sub, as Debian ships it (Debian: mosquitto-clients). */
import { spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import { end, env } from '../mqtt/broker.ts';

export interface Published {
  readonly topic: string;
  readonly payload: unknown;
}

export interface Subscriber {
  readonly seen: readonly Published[];
  /** Clients of the broker, as it says itself each second; null before it has said so. */
  connected(): number | null;
  stop(): Promise<void>;
}

/** Resolves once it has subscribed to every topic of the agents. */
export async function subscribe(port: number): Promise<Subscriber> {
  const seen: Published[] = [];
  let clients: number | null = null;
  const topics = ['tonhour/#', '$SYS/broker/clients/connected'].flatMap((topic) => ['-t', topic]);
  const args = ['-oL', 'mosquitto_sub', '-h', '127.0.0.1', '-p', String(port), '-V', '5', '-q', '1', ...topics];
  // Into a pipe it would hold lines back until a block is full: stdbuf.
  const subscriber = spawn('stdbuf', [...args, '-F', '%t %p', '-d'], { stdio: ['ignore', 'pipe', 'ignore'], env });
  await new Promise<void>((resolve) => {
    createInterface({ input: subscriber.stdout }).on('line', (line) => {
      if (line.startsWith('Subscribed')) resolve();
      const [, topic = '', text = ''] = /^(\S+\/\S+) (.*)$/.exec(line) ?? [];
      if (topic.startsWith('$SYS')) clients = Number(text);
      if (topic.startsWith('tonhour/')) seen.push({ topic, payload: JSON.parse(text) });
    });
  });
  return { seen, connected: () => clients, stop: () => end(subscriber, 'SIGKILL') };
}
