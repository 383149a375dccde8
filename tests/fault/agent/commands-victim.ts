/**
 * The whole agent with one alarm that stands as long as it runs, in a process that ends itself by SIGKILL at a named
 * moment, once a command has come in. Arguments: broker URL, folder, moment (or `-`), and where the broker asks for
 * them user and password.
 */
import { pino } from 'pino';
import { Agent } from '../../../agent/agent.ts';
import type { AlarmRule } from '../../../agent/alarms/rules.ts';
import { must } from '../../../agent/base/result.ts';
import { Secret } from '../../../agent/site/secret.ts';
import { systemTimers } from '../../../agent/sources/timers.ts';
import { siteFor } from '../../contract/agent/harness.ts';

const [mqttUrl = '', folder = '', moment = '-', username = null, password = null] = process.argv.slice(2);
const STANDING: AlarmRule = {
  id: 'new-machine',
  title: 'Machine is new',
  watch: 'unit.run_hours',
  side: 'below',
  limit: 1000,
  deadband: 0,
  unit: 'h',
  on_delay_s: 0,
  off_delay_s: 0,
  when: 'always',
  running_for_s: 0,
  priority: 2,
  cause: '',
  consequence: '',
  action: '',
  respond_within_s: null,
  beyond_uncertainty: false,
  latching: false,
  protected: false,
  out_of_service: null,
};
const site = await siteFor({ modbusPort: 1, mqttUrl, folder });
const { mqtt } = site;
if (mqtt === null) throw new Error('the example site publishes');
let came = false;
const agent = must(
  Agent.create({
    site: {
      ...site,
      mqtt: { ...mqtt, username, password: password === null ? null : new Secret(password) },
      chillers: site.chillers.map((chiller) => ({ ...chiller, alarms: [STANDING] })),
    },
    version: '0.0.0-test',
    demo: false,
    clock: { now: () => Date.now(), monotonic: () => performance.now() },
    timers: systemTimers,
    random: Math.random,
    log: pino({ level: 'fatal' }, process.stderr),
    notifySocket: undefined,
    first_interval_s: 1,
    checkpoint: (name) => {
      came ||= name.startsWith('command');
      if (came && name === moment) process.kill(process.pid, 'SIGKILL');
    },
  }),
);
const { url } = await agent.start();
process.stdout.write(`${url}\n`);
process.on('SIGTERM', () => {
  void agent.stop().then(() => process.exit(0));
});
