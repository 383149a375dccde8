/**
 * Goal: nothing that is somebody's business leaves with a support bundle, and what support needs is in it. Method:
 * secrets, names and addresses are planted wherever a site has room for them; the archive is unpacked by GNU tar and
 * every file of it is searched for each.
 */
import { execFileSync } from 'node:child_process';
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import { afterEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { rfc3339 } from '../../../agent/base/time.ts';
import { command as bundle } from '../../../agent/commands/bundle.ts';
import { openHistory } from '../../../agent/history/history.ts';
import { appendMaintenance } from '../../../agent/history/maintenance.ts';
import { temporaryFolder } from '../agent/harness.ts';
import { freePort, writeSiteFile } from './site-file.ts';

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

/** Each is planted in a place of its own; none may be found again. */
const PRIVATE = {
  siteName: 'Quillworks House',
  siteId: 'quillworks',
  chillerName: "Ada's big one",
  comment: 'Bernard Tanner',
  brokerHost: 'broker.quillworks.example',
  brokerUser: 'ada.quill',
  brokerPassword: 'hunter-two, very "secret"',
  prefix: 'quill/plant',
  storeHost: 'store.quillworks.example',
  token: 's3cr3t-t0ken-of-the-store',
  mailTo: 'cleo.archer@quillworks.example',
  mailUser: 'cleo.archer',
  mailPassword: 'letmein!',
  controllerHost: '10.20.30.40',
  cause: 'Doris forgot to open the valve',
  acknowledgedBy: 'Egon Miller',
  shelvedBecause: 'noise, says Frida',
  maintenanceText: 'brushed by Gustav and son',
  logPerson: 'Egon Miller',
  logAddress: '192.168.77.12',
  logIpv6: 'fe80::1ff:fe23:4567:890a',
  logMac: '00:1a:2b:3c:4d:5e',
  logMail: 'someone.else@elsewhere.example',
  logHome: '/home/gustav',
  tariff: '0.17893',
} as const;

function planted(folder: string, webPort: number): string {
  writeFileSync(path.join(folder, 'token'), PRIVATE.token);
  const at = ['chillers', 0];
  const config = writeSiteFile({
    folder,
    webPort,
    modbusPort: 1502,
    mqttUrl: `mqtts://${PRIVATE.brokerHost}:8883`,
    more: [
      [['site', 'id'], PRIVATE.siteId],
      [['site', 'name'], PRIVATE.siteName],
      [['mqtt', 'username'], PRIVATE.brokerUser],
      [['mqtt', 'password'], PRIVATE.brokerPassword],
      [['mqtt', 'prefix'], PRIVATE.prefix],
      [['influx'], { url: `https://${PRIVATE.storeHost}`, bucket: 'plant', token: 'TOKEN' }],
      [
        ['mail'],
        {
          host: `mail.${PRIVATE.siteId}.example`,
          from: `agent@${PRIVATE.siteId}.example`,
          to: [{ address: PRIVATE.mailTo }],
          username: PRIVATE.mailUser,
          password: PRIVATE.mailPassword,
        },
      ],
      [['tariff', 'price_per_kwh'], Number(PRIVATE.tariff)],
      [[...at, 'name'], PRIVATE.chillerName],
      [[...at, 'source', 'modbus', 'host'], PRIVATE.controllerHost],
      [
        [...at, 'alarms'],
        [
          {
            id: 'approach',
            title: `${PRIVATE.siteName}: approach`,
            watch: 'condenser.approach',
            above: '3 K',
            cause: PRIVATE.cause,
          },
        ],
      ],
    ],
  });
  const text = readFileSync(config, 'utf8').replace('token: TOKEN', 'token: !secret file:token');
  writeFileSync(config, `# Ask ${PRIVATE.comment} about this.\n${text}`);
  return config;
}

/** Minutes up to now, an alarm that two people dealt with, and work on the machine. */
function lived(folder: string): void {
  const history = must(openHistory({ folder: path.join(folder, 'history') }));
  const now = 60_000 * Math.floor(Date.now() / 60_000);
  for (let sequence = 1; sequence <= 200; sequence++) {
    const time = now - (200 - sequence) * 60_000;
    const detail = {
      change: 'acknowledged',
      title: PRIVATE.siteName,
      cause: PRIVATE.cause,
      value: 3.4,
      limit: 3,
      acknowledged: { by: PRIVATE.acknowledgedBy, time: rfc3339(time), reason: PRIVATE.shelvedBecause },
    };
    const record = {
      time: rfc3339(time),
      sequence,
      interval_s: 60,
      state: 'steady',
      values: { 'unit.power': 600 + sequence, 'unit.kw_per_ton': null },
      uncertainty: { 'unit.power': 9 },
      quality: { 'unit.kw_per_ton': { quality: 'bad', reason: `no answer from ${PRIVATE.controllerHost}` } },
      alarms: [{ id: 'approach', evidence: [], title: PRIVATE.siteName, by: PRIVATE.acknowledgedBy }],
    };
    must(
      history.commitMinute({
        chiller: 'CH-1',
        sequence,
        time,
        state: '{}',
        record: JSON.stringify(record),
        messages: [],
        fast: [],
        alarmEvents:
          sequence === 150
            ? [{ id: 'approach', time, state: 'acknowledged', priority: 2, detail: JSON.stringify(detail) }]
            : [],
      }),
    );
  }
  history.close();
  const time = Date.now() - 1000;
  const work = { kind: 'tubes_cleaned', text: PRIVATE.maintenanceText, mass_kg: null } as const;
  must(appendMaintenance(path.join(folder, 'history'), { chiller: 'CH-1', time, entered: time, ...work }));
}

const LOG = [
  { level: 40, code: 'controller_unreachable', msg: `${PRIVATE.controllerHost}:502 refused, as ${PRIVATE.logAddress}` },
  {
    level: 40,
    code: 'mqtt_unreachable',
    msg: `broker mqtts://${PRIVATE.brokerHost}:8883 is away`,
    hostname: 'gw-quill',
  },
  { level: 30, msg: `acknowledged by ${PRIVATE.logPerson} <${PRIVATE.logMail}>`, user: PRIVATE.brokerUser },
  {
    level: 30,
    time: '2026-07-01T12:34:56Z',
    msg: `${PRIVATE.logIpv6} and ${PRIVATE.logMac}, ${PRIVATE.logHome}/site.yaml`,
  },
  { level: 50, msg: `login with ${PRIVATE.brokerPassword} and ${PRIVATE.token}` },
];
const LOG_TEXT = [...LOG.map((line) => JSON.stringify(line)), `${PRIVATE.comment} was here`].join('\n');

async function run(args: readonly string[], log = ''): Promise<{ code: number; out: string; err: string }> {
  const [out, err] = [new PassThrough(), new PassThrough()];
  const io = { in: Readable.from([log]), out, err, stop: new AbortController().signal };
  const code = await bundle.run(args, io);
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

/** Unpacked by a program that is not ours: name of each file to its text. */
function unpacked(archive: string, folder: string): Map<string, string> {
  const into = path.join(folder, 'unpacked');
  mkdirSync(into);
  execFileSync('tar', ['-xzf', archive, '-C', into]);
  const [root = '', ...more] = readdirSync(into);
  expect(more).toEqual([]);
  return new Map(
    readdirSync(path.join(into, root)).map((name) => [name, readFileSync(path.join(into, root, name), 'utf8')]),
  );
}

/** What of the planted stands in a text, as it is or as it stands within JSON; whole, or a part that tells it. */
function found(text: string): string[] {
  const parts = ['quill', 'tanner', 'cleo', 'archer', 'doris', 'egon', 'miller', 'frida', 'gustav', 'hunter', 'ada'];
  const all = [...Object.values(PRIVATE), ...parts];
  return all.filter((each) => {
    const escaped = JSON.stringify(each).slice(1, -1).toLowerCase();
    const low = text.toLowerCase();
    if (parts.includes(each)) return new RegExp(`(?<![a-z])${each}`).test(low);
    return low.includes(each.toLowerCase()) || low.includes(escaped);
  });
}

test('none of the planted secrets, names and addresses is in the archive; what support needs is', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const config = planted(folder, await freePort());
  lived(folder);
  const archive = path.join(folder, 'bundle.tar.gz');
  const { code, out, err } = await run(
    ['--config', config, '--out', archive, '--log', '-', '--minutes', '100'],
    LOG_TEXT,
  );
  expect([code, out]).toEqual([0, `${archive}\n`]);
  expect(err).toContain('Look through it');
  const files = unpacked(archive, folder);

  expect([...files.keys()].sort()).toEqual([
    'README.txt',
    'about.json',
    'alarms.ndjson',
    'log.ndjson',
    'maintenance.ndjson',
    'minutes-CH-1.ndjson',
    'runbook.md',
    'site.yaml',
    'status.json',
  ]);
  // The search does find them where they are.
  const given = `${readFileSync(config, 'utf8')}\n${LOG_TEXT}\n${PRIVATE.token}`;
  expect(found(given).length).toBeGreaterThan(20);
  for (const [name, text] of files) expect([name, found(text)]).toEqual([name, []]);

  const site = files.get('site.yaml') ?? '';
  expect(site).toContain('refrigerant: R134a');
  expect(site).toContain('table: holding');
  expect(site).toContain('watch: condenser.approach');
  expect(site).toContain('host: "[redacted]"');
  expect(site).not.toContain('#');
  const minutes = (files.get('minutes-CH-1.ndjson') ?? '').trim().split('\n');
  expect(minutes).toHaveLength(100);
  expect(JSON.parse(minutes.at(-1) ?? '')).toMatchObject({
    sequence: 200,
    values: { 'unit.power': 800 },
    uncertainty: { 'unit.power': 9 },
    quality: { 'unit.kw_per_ton': { quality: 'bad', reason: expect.stringMatching(/^no answer from \[/) } },
  });
  expect(JSON.parse(files.get('alarms.ndjson') ?? '')).toMatchObject({
    id: 'approach',
    state: 'acknowledged',
    value: 3.4,
  });
  expect(JSON.parse(files.get('maintenance.ndjson') ?? '')).toMatchObject({ chiller: 'CH-1', kind: 'tubes_cleaned' });
  expect(JSON.parse(files.get('status.json') ?? '')).toMatchObject({ running: false, healthy: false });
  expect(JSON.parse(files.get('about.json') ?? '')).toMatchObject({ site_file: { sound: true, version: 1 } });
  const log = (files.get('log.ndjson') ?? '').trim().split('\n');
  expect(log[0]).toContain('1 lines that are none');
  expect(log[1]).toContain('controller_unreachable');
  expect(files.get('log.ndjson')).toContain('2026-07-01T12:34:56Z');
  expect(files.get('runbook.md')).toContain('## controller_unreachable\n');
  expect(files.get('runbook.md')).toContain('## mqtt_unreachable\n');
  expect(files.get('runbook.md')).not.toContain('## history_corrupt\n');
});

test('a site file that the agent refuses: what is wrong is told, and what is unknown is taken out', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const config = planted(folder, await freePort());
  lived(folder);
  const text = readFileSync(config, 'utf8').replace('\nsite:', `\nowner: ${PRIVATE.comment}\nsite:`);
  writeFileSync(config, text.replace('refrigerant: R134a', `refrigerant: R134a\n      contact_of_ada_quill: Ada`));
  const archive = path.join(folder, 'bundle.tar.gz');
  expect((await run(['--config', config, '--out', archive])).code).toBe(0);
  const files = unpacked(archive, folder);
  for (const [name, each] of files) expect([name, found(each)]).toEqual([name, []]);
  expect(files.get('check.txt')).toContain('unknown key');
  expect(files.get('site.yaml')).toContain('"[unknown key]": "[redacted]"');
  expect(files.get('site.yaml')).toContain('refrigerant: R134a');
  expect(JSON.parse(files.get('about.json') ?? '')).toMatchObject({ site_file: { sound: false } });
});

test('an archive that is there already is not written over, and only its owner may read a new one', async () => {
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const config = planted(folder, await freePort());
  const archive = path.join(folder, 'bundle.tar.gz');
  writeFileSync(archive, 'mine');
  const { code, err } = await run(['--config', config, '--out', archive]);
  expect([code, readFileSync(archive, 'utf8')]).toEqual([1, 'mine']);
  expect(err).toContain('exists');
  const other = path.join(folder, 'other.tar.gz');
  expect((await run(['--config', config, '--out', other])).code).toBe(0);
  expect(execFileSync('stat', ['-c', '%a', other], { encoding: 'utf8' }).trim()).toBe('600');
});

test.each([
  [[], '--config is missing'],
  [['--config', 'x', '--minutes', '0'], '--minutes 0'],
  [['--config', 'x', '--log', '/nowhere/log'], '--log /nowhere/log'],
])('wrong call %j', async (args, words) => {
  const { code, err } = await run(args);
  expect(code).toBe(2);
  expect(err.split('\n')[0]).toContain(words);
});
