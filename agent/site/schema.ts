/**
 * The whole site file as one schema, composed of what the rooms say of their own parameters. Keys snake_case; the
 * JSON Schema is made from it.
 */
import { z } from 'zod';
import { alarmEntry } from '../alarms/rules.ts';
import { LIMITS } from '../base/limits.ts';
import { quantity } from '../base/quantity.ts';
import { chillerParameters } from '../cycle/parameters.ts';
import { POINTS } from '../points/dictionary.ts';
import { runningRule } from '../points/running.ts';
import { sourceEntry } from './addresses.ts';
import { baselineEntry } from './baseline.ts';
import { influxEntry } from './influx.ts';
import { mailEntry } from './mail.ts';
import { nodeRedEntry } from './node-red.ts';
import { pointEntry } from './points.ts';
import { secretEntry } from './secret.ts';

/** The newest version of the site file that this agent reads. */
export const SITE_VERSION = 1;

/** Words of the MQTT topics that a chiller's id would collide with. */
const RESERVED_IDS: readonly string[] = ['command', 'status'];

const id = z.string().regex(/^[A-Za-z0-9](?:[A-Za-z0-9-]{0,30}[A-Za-z0-9])?$/, {
  message:
    'must be 1 to 32 letters, digits and hyphens, neither first nor last a hyphen: ' +
    'it is part of MQTT topics and addresses',
});

const chillerId = id.refine((given) => !RESERVED_IDS.includes(given.toLowerCase()), {
  message: `must not be ${RESERVED_IDS.map((each) => `'${each}'`).join(' or ')}: MQTT topics use these words`,
});

function isTimeZone(name: string): boolean {
  try {
    new Intl.DateTimeFormat('en', { timeZone: name });
    return true;
  } catch {
    return false;
  }
}

const site = z
  .strictObject({
    id: id.describe('short id, part of every MQTT topic'),
    name: z.string().min(1).max(120).describe('name for people'),
    time_zone: z
      .string()
      .refine(isTimeZone, {
        message: 'is no time zone: use a name of the IANA data base such as Europe/Berlin or America/Chicago',
        params: { known: Intl.supportedValuesOf('timeZone') },
      })
      .describe('IANA name, for days and seasons'),
    unit_system: z.enum(['ip', 'si']).default('ip').describe('units on page, in mail and reports'),
    barometer: quantity('pressure', '101.3 kPa')
      .optional()
      .describe('mean barometric pressure at the machine, such as 101.3 kPa'),
    altitude: quantity('length', '20 m')
      .optional()
      .describe('height above sea level, instead of the barometer, such as 20 m'),
    barometer_uncertainty: quantity('pressure', '1 kPa')
      .prefault('1 kPa')
      .describe('standard uncertainty (k = 1) of the barometric pressure: the weather'),
  })
  .superRefine((given, context) => {
    if ((given.barometer === undefined) === (given.altitude === undefined))
      context.addIssue({ code: 'custom', path: ['barometer'], message: 'give exactly one of barometer and altitude' });
    if (given.barometer !== undefined && !(given.barometer >= 40e3 && given.barometer <= 115e3))
      context.addIssue({ code: 'custom', path: ['barometer'], message: 'must lie between 40 and 115 kPa' });
    if (given.altitude !== undefined && !(given.altitude >= -450 && given.altitude <= 6000))
      context.addIssue({ code: 'custom', path: ['altitude'], message: 'must lie between -450 and 6000 m' });
  });

const mqtt = z.strictObject({
  url: z
    .string()
    .regex(/^(mqtts?|wss?):\/\/[^\s/@]+(\/\S*)?$/, {
      message: 'must be an address such as mqtts://broker.example:8883, without user and password',
    })
    .describe('address of the broker: mqtt://, mqtts://, ws:// or wss://'),
  prefix: z
    .string()
    .regex(/^[^+#\s/$][^+#\s]*(?<!\/)$/, 'must be a topic without +, #, blanks, and without / at either end')
    .max(100)
    .default('tonhour')
    .describe('first part of every topic'),
  username: z.string().max(256).optional(),
  password: secretEntry.optional().describe('better not in the file: !secret file:/path or !secret env:NAME'),
  ca: secretEntry
    .refine((given) => given.reveal().includes('-----BEGIN CERTIFICATE-----'), {
      message: 'holds no certificate: name a PEM file, such as !secret file:plant-ca.pem',
    })
    .optional()
    .describe('PEM of an authority of your own, such as !secret file:plant-ca.pem; left out: the public ones'),
  client_id: z.string().min(1).max(64).optional().describe('left out: made of prefix and site id'),
  commands: z.boolean().default(true).describe('whether commands to alarms are heard there (acknowledge, shelve)'),
});

export const chillerSchema = z.strictObject({
  id: chillerId.describe('part of MQTT topics and page addresses'),
  name: z.string().min(1).max(120).optional().describe('name for people; left out: the id'),
  machine: chillerParameters.describe('what the cycle needs to know of the machine'),
  running: runningRule.describe('when the machine runs, and when it runs steadily'),
  source: sourceEntry.describe('the controller and how it is reached: over modbus or over bacnet'),
  points: z
    .partialRecord(z.enum(Object.keys(POINTS) as [string, ...string[]]), pointEntry)
    .describe('what is measured, by point name, and where it stands on the bus'),
  pressure_window: z
    .tuple([quantity('pressure', '240 kPa'), quantity('pressure', '1320 kPa')])
    .optional()
    .describe('pressure range of the diagram, absolute; left out: saturation from -5 to 50 degC'),
  baseline: baselineEntry.optional(),
  alarms: z
    .array(alarmEntry)
    .default([])
    .describe('limits to watch, and what is to be otherwise in the shipped alarms (config/alarms.md)'),
});

export const siteSchema = z.strictObject({
  version: z.literal(SITE_VERSION).describe('version of this file format'),
  site,
  interval_s: z
    .int()
    .min(LIMITS.interval_s_min)
    .max(LIMITS.interval_s_max)
    .default(60)
    .describe('seconds between two solutions'),
  mqtt: mqtt.optional().describe('where the metrics go; left out: nowhere'),
  influx: influxEntry.optional().describe('time-series store that gets every minute; left out: none'),
  mail: mailEntry.optional().describe('who is written to about alarms; left out: nobody'),
  node_red: nodeRedEntry.optional().describe('Node-RED beside the agent; left out: none'),
  history: z
    .strictObject({
      folder: z.string().min(1).default('history').describe('relative to where the agent is started'),
    })
    .prefault({})
    .describe('where minutes, alarms and waiting messages are kept'),
  web: z
    .strictObject({
      host: z
        .string()
        .min(1)
        .default('127.0.0.1')
        .describe('address to listen on; beyond loopback put a proxy with a login before it'),
      port: z.int().min(0).max(65_535).default(8047).describe('0 takes any free port'),
      names: z
        .array(
          z
            .string()
            .max(253)
            .regex(/^[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?$/, {
              message: 'must be a name such as plant-room.kestrel-quay.example, without port and path',
            }),
        )
        .max(LIMITS.web_names_max)
        .optional()
        .describe('full names by which people open the page, also through a proxy; its address needs none'),
      commands: z
        .boolean()
        .optional()
        .describe('whether its form acknowledges and shelves alarms; left out: on loopback alone'),
    })
    .prefault({})
    .describe('the page'),
  tariff: z
    .strictObject({
      price_per_kwh: z.number().positive().max(1000).describe('price of one kWh, in the currency'),
      currency: z.string().min(1).max(12).describe('as it is written beside an amount, such as EUR'),
    })
    .optional()
    .describe('what electricity costs, for seasons; left out: no money is shown'),
  chillers: z.array(chillerSchema).min(1).max(LIMITS.chillers_max),
});

export type SiteFile = z.output<typeof siteSchema>;
