/**
 * The whole agent in a process of its own, on a clock that runs faster: at 120 times a minute is half a second. JSON of
 * `VictimWishes` as the one argument.
 */
import { pino } from 'pino';
import { Agent } from '../../../agent/agent.ts';
import { must } from '../../../agent/base/result.ts';
import type { InfluxWrite } from '../../../agent/sinks/influx-options.ts';
import type { SiteInflux } from '../../../agent/site/influx.ts';
import { Secret } from '../../../agent/site/secret.ts';
import type { Site } from '../../../agent/site/site.ts';
import { siteFor } from '../../contract/agent/harness.ts';

export interface VictimWishes {
  readonly modbusPort: number;
  readonly folder: string;
  readonly url: string;
  readonly write: InfluxWrite;
  readonly speed: number;
  /** ms since the epoch, by the real clock: there the fast one begins, half a day back, for every life of the agent. */
  readonly origin: number;
}

const { modbusPort, folder, url, write, speed, origin } = JSON.parse(process.argv[2] ?? '') as VictimWishes;

function influx(): SiteInflux {
  const common = { url, measurement: 'tonhour' };
  if (write.api === 'v2') return { ...common, ...write, token: null };
  const login = write.login === null ? null : { ...write.login, password: new Secret(write.login.password) };
  return { ...common, ...write, login };
}

async function quick(): Promise<Site> {
  const site = await siteFor({ modbusPort, mqttUrl: null, folder });
  const chillers = site.chillers.map((chiller) =>
    'modbus' in chiller.source
      ? { ...chiller, source: { modbus: { ...chiller.source.modbus, poll_s: 20, fast_s: 20, timeout_ms: 30_000 } } }
      : chiller,
  );
  return { ...site, interval_s: 60, influx: influx(), chillers };
}

const agent = must(
  Agent.create({
    site: await quick(),
    version: '0.0.0-test',
    demo: false,
    clock: {
      // Half a day back: stores take, and give, little of the future.
      now: () => origin - 12 * 3_600_000 + speed * (Date.now() - origin),
      monotonic: () => speed * performance.now(),
    },
    timers: {
      after: (ms, run) => {
        const handle = setTimeout(run, ms / speed);
        return () => clearTimeout(handle);
      },
    },
    random: Math.random,
    log: pino({ level: 'fatal' }, process.stderr),
    notifySocket: undefined,
    first_interval_s: 60,
  }),
);
const page = await agent.start();
process.stdout.write(`${page.url}\n`);
process.on('SIGTERM', () => {
  void agent.stop().then(() => process.exit(0));
});
