/** The main job: runs a site until it is stopped; without a site file, the demo. */
import { parseArgs } from 'node:util';
import type { Logger } from 'pino';
import { Agent } from '../agent.ts';
import { LIMITS } from '../base/limits.ts';
import { formatIssues, openSite } from '../config/load.ts';
import { type Demo, startDemo } from '../demo.ts';
import { createLog } from '../health/log.ts';
import { unobservableNotices } from '../site/observable.ts';
import type { Site } from '../site/site.ts';
import { systemTimers } from '../sources/timers.ts';
import { VERSION } from '../version.ts';
import type { Command, CommandIo } from './io.ts';

const FIRST_INTERVAL_S = 10;
const PROTOCOL = { modbus: 'Modbus TCP', bacnet: 'BACnet/IP' } as const;

const USAGE = `tonhour run [--config FILE]

Polls every chiller of the site file, solves its cycle each minute, publishes over MQTT, keeps history, serves the page, raises alarms.
Without --config it runs the demo: two emulated chillers, a broker in this process, everything on loopback.
Ctrl-C ends it. Logs go to standard error, one JSON object a line.

  --config FILE   the site file (config/README.md)`;

async function run(args: readonly string[], io: CommandIo): Promise<number> {
  let config: string | undefined;
  try {
    ({ config } = parseArgs({ args: [...args], options: { config: { type: 'string' } } }).values);
  } catch (error) {
    io.err.write(`tonhour run: ${(error as Error).message}\n\n${USAGE}\n`);
    return 2;
  }
  const { log, flush } = createLog(io.err, () => performance.now());
  const nowAndThen = setInterval(flush, LIMITS.log_window_ms).unref();
  try {
    return await launch(config, { log, io });
  } finally {
    clearInterval(nowAndThen);
    flush();
  }
}

interface Surroundings {
  readonly log: Logger;
  readonly io: CommandIo;
}

async function launch(config: string | undefined, { log, io }: Surroundings): Promise<number> {
  if (config !== undefined) {
    const opened = await openSite(config, { env: process.env, notices: unobservableNotices });
    if (!opened.ok) {
      io.err.write(formatIssues(opened.fault));
      return 2;
    }
    const { site, notices } = opened.value;
    for (const { code, file, line, key, message } of notices) log.info({ code, file, line, key }, message);
    return serve({ site, demo: null }, { log, io });
  }
  const demo = await startDemo({ log, stop: io.stop });
  if (!demo.ok) {
    io.err.write(`tonhour run: ${demo.fault.message}\n`);
    return 1;
  }
  try {
    return await serve({ site: demo.value.site, demo: demo.value }, { log, io });
  } finally {
    await demo.value.stop();
  }
}

async function serve(
  { site, demo }: { readonly site: Site; readonly demo: Demo | null },
  { log, io }: Surroundings,
): Promise<number> {
  const agent = Agent.create({
    site,
    version: VERSION,
    demo: demo !== null,
    clock: { now: () => Date.now(), monotonic: () => performance.now() },
    timers: systemTimers,
    random: Math.random,
    log,
    notifySocket: process.env['NOTIFY_SOCKET'],
    environment: process.env,
    first_interval_s: FIRST_INTERVAL_S,
  });
  if (!agent.ok) {
    io.err.write(`tonhour run: ${agent.fault.message}\n`);
    return 1;
  }
  try {
    const { url } = await agent.value.start();
    io.out.write(greeting({ site, demo, url }));
    await stopped(io.stop);
    io.out.write('\nstopping\n');
    return 0;
  } catch (error) {
    io.err.write(`tonhour run: ${(error as Error).message}\n`);
    return 1;
  } finally {
    await agent.value.stop();
  }
}

function stopped(signal: AbortSignal): Promise<void> {
  if (signal.aborted) return Promise.resolve();
  return new Promise((resolve) => signal.addEventListener('abort', () => resolve(), { once: true }));
}

function greeting({
  site,
  demo,
  url,
}: {
  readonly site: Site;
  readonly demo: Demo | null;
  readonly url: string;
}): string {
  const ids = site.chillers.map((chiller) => chiller.id).join(', ');
  const lines = [
    `Tonhour ${VERSION}: ${site.name}, ${ids}`,
    `  page     ${url}`,
    ...(site.mqtt === null ? [] : [`  mqtt     ${site.mqtt.url}  topics ${site.mqtt.prefix}/${site.id}/#`]),
    ...(site.influx === null ? [] : [`  store    ${site.influx.url}`]),
    `  history  ${site.history.folder}`,
    ...(site.node_red === null
      ? []
      : [`  node-red http://${site.node_red.host}:${site.node_red.port}  flows in ${site.node_red.folder}`]),
    ...(demo?.controllers ?? []).map(
      ({ chiller, bus, place }) => `  plant    ${chiller} emulated, a process of its own; ${PROTOCOL[bus]} on ${place}`,
    ),
    `The first minute is cut to ${Math.min(FIRST_INTERVAL_S, site.interval_s)} s; from then on one every ${site.interval_s} s.`,
    'Tonhour reads and never writes to a controller; it is not a safety function. Ctrl-C ends it.',
  ];
  return `${lines.join('\n')}\n`;
}

export const command: Command = {
  summary: 'Watches the chillers of a site (without a site file: the demo)',
  usage: USAGE,
  run,
};
