/** What leaves over MQTT as an AsyncAPI 3.0 document. */
import type { z } from 'zod';
import { COMMAND_VERBS, commandPayload } from '../../../agent/alarms/commands.ts';
import manifest from '../../../package.json' with { type: 'json' };
import { calloutPacket } from './callout.ts';
import { schemaOf } from './openapi.ts';
import { alarmPayload, describePayload, gapPayload, metricsPayload, statusPayload } from './schemas.ts';

export const ASYNCAPI = 'config/asyncapi.json';

interface Topic {
  /** Below `<prefix>/<site>/`. */
  readonly address: string;
  readonly summary: string;
  readonly retained: boolean;
  readonly messages: Readonly<Record<string, z.ZodType>>;
}

export const TOPICS: Readonly<Record<string, Topic>> = {
  status: {
    address: 'status',
    summary: 'Whether the agent is there; also its last will',
    retained: true,
    messages: { status: statusPayload },
  },
  describe: {
    address: '{chiller}/describe',
    summary: 'How to read the figures of a chiller: unit, meaning and formula of each metric',
    retained: true,
    messages: { describe: describePayload },
  },
  metrics: {
    address: '{chiller}/metrics',
    summary: 'One message for each solved minute, in order of the sequence, at least once',
    retained: false,
    messages: { minute: metricsPayload, gap: gapPayload },
  },
  alarms: {
    address: '{chiller}/alarms/{alarm}',
    summary: 'State of one alarm, at each change',
    retained: true,
    messages: { alarm: alarmPayload, gap: gapPayload },
  },
  callout: {
    address: '{chiller}/callout',
    summary: 'What a technician wants before driving out, of an alarm in the minute that raised it',
    retained: false,
    messages: { packet: calloutPacket, gap: gapPayload },
  },
};

/** What the agent hears. Who may publish it is the broker's access list to say. */
export const COMMANDS: Topic = {
  address: 'command/{verb}',
  summary:
    'What a person commands of an alarm; never reaches a chiller. Published with QoS 1 and not retained; answered by ' +
    'the retained message of the alarm after the next minute. The same command once more changes nothing',
  retained: false,
  messages: { command: commandPayload },
};

const PARAMETERS: Readonly<Record<string, unknown>> = {
  prefix: { description: 'Of the site file; tonhour by default', default: 'tonhour' },
  site: { description: 'Id of the site' },
  chiller: { description: 'Id of the chiller; never `command` or `status`' },
  alarm: { description: 'Id of the alarm rule' },
  verb: { description: 'What is to be done', enum: [...COMMAND_VERBS] },
};

function channel({ address, summary, messages }: Topic, name: string): Record<string, unknown> {
  const full = `{prefix}/{site}/${address}`;
  const names = [...full.matchAll(/\{(\w+)\}/g)].map(([, one]) => one ?? '');
  return {
    address: full,
    summary,
    parameters: Object.fromEntries(names.map((one) => [one, PARAMETERS[one]])),
    messages: Object.fromEntries(
      Object.keys(messages).map((one) => [one, { $ref: `#/components/messages/${name}_${one}` }]),
    ),
  };
}

export function asyncapi(): string {
  const topics = Object.entries({ ...TOPICS, commands: COMMANDS });
  const document = {
    asyncapi: '3.0.0',
    info: {
      title: 'Tonhour',
      version: manifest.version,
      description:
        'What the agent publishes, and the commands to alarms that it hears. `sequence` rises by one for each published minute of a chiller, across restarts: a subscriber can prove that nothing is missing. Values are in the units of the catalogue, uncertainties are expanded (k = 2).',
      license: { name: 'Apache-2.0' },
    },
    defaultContentType: 'application/json',
    servers: { broker: { host: '127.0.0.1:1883', protocol: 'mqtt', description: 'The broker of the site file' } },
    channels: Object.fromEntries(topics.map(([name, topic]) => [name, channel(topic, name)])),
    operations: Object.fromEntries(
      topics.map(([name, { summary, retained }]) => [
        name === 'commands' ? 'hear_commands' : `publish_${name}`,
        {
          action: name === 'commands' ? 'receive' : 'send',
          channel: { $ref: `#/channels/${name}` },
          summary,
          bindings: { mqtt: { qos: 1, retain: retained, bindingVersion: '0.2.0' } },
        },
      ]),
    ),
    components: {
      messages: Object.fromEntries(
        topics.flatMap(([name, { messages }]) =>
          Object.entries(messages).map(([one, schema]) => [`${name}_${one}`, { name: one, payload: schemaOf(schema) }]),
        ),
      ),
    },
  };
  return `${JSON.stringify(document, null, 2)}\n`;
}
