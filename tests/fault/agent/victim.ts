/**
 * The whole agent in a process that ends itself by SIGKILL at a named moment. Arguments: Modbus port, broker URL,
 * folder, moment (or `-`), how many times that moment is let pass first, and `torn` to take the minute's transaction
 * out.
 */
import { pino } from 'pino';
import { Agent } from '../../../agent/agent.ts';
import { must } from '../../../agent/base/result.ts';
import { systemTimers } from '../../../agent/sources/timers.ts';
import { siteFor } from '../../contract/agent/harness.ts';

const [modbusPort = '', mqttUrl = '', folder = '', moment = '-', passes = '0', torn = ''] = process.argv.slice(2);
let left = Number(passes);

const agent = must(
  Agent.create({
    site: await siteFor({ modbusPort: Number(modbusPort), mqttUrl, folder }),
    version: '0.0.0-test',
    demo: false,
    clock: { now: () => Date.now(), monotonic: () => performance.now() },
    timers: systemTimers,
    random: Math.random,
    log: pino({ level: 'error' }, process.stderr),
    notifySocket: undefined,
    first_interval_s: 1,
    checkpoint: (name) => {
      if (name !== moment) return;
      left -= 1;
      if (left < 0) process.kill(process.pid, 'SIGKILL');
    },
    ...(torn === 'torn' ? { transaction: (_database: unknown, work: () => void) => work() } : {}),
  }),
);
const { url } = await agent.start();
process.stdout.write(`${url}\n`);
process.on('SIGTERM', () => {
  void agent.stop().then(() => process.exit(0));
});
