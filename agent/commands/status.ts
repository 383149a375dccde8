/** `status`: whether the agent of a site does its job. */
import { zoneOffsets } from '../season/zone.ts';
import { agentStatus } from '../status.ts';
import type { Command } from './io.ts';
import { readSiteCall } from './site-call.ts';
import { statusText } from './status-text.ts';

const VERB = {
  verb: 'status',
  usage: `tonhour status --config FILE [--json]

Asks the running agent of a site how it is, and its history beside it: the last minute of each chiller and the minutes missing in the last 24 h,
the links to the controllers, what waits for each sink, a hosted Node-RED, open alarms. Where no agent runs: what the history says of its last days.
Alarms are of the machine: an agent that raises them is healthy.

  --config FILE   the site file (config/README.md); the agent is asked at its web.host and web.port
  --json          one JSON object

Exit code 0: healthy. 1: not running, or not healthy: the lines 'fault' say why. 2: wrong call or site file.
`,
};

export const command: Command = {
  summary: 'Whether the running agent of a site does its job: minutes, links, sinks, alarms',
  usage: VERB.usage,
  async run(args, io) {
    const call = await readSiteCall(args, { options: {}, verb: VERB, io });
    if (typeof call === 'number') return call;
    const { flags, site } = call;
    const status = await agentStatus(site, Date.now());
    io.out.write(flags.json === true ? `${JSON.stringify(status)}\n` : statusText(status, zoneOffsets(site.time_zone)));
    return status.healthy ? 0 : 1;
  },
};
