/**
 * What support needs to see of a site, without what is nobody's business: each file is made of known fields alone, and
 * then everything is scrubbed of the site's names, addresses and secrets once more.
 */
import os from 'node:os';
import { ERRORS, type ErrorCode } from './base/errors.ts';
import { LIMITS } from './base/limits.ts';
import { rfc3339 } from './base/time.ts';
import { journalLines, logLines, maintenanceLines, minuteLines } from './bundle-files.ts';
import { scrubber } from './bundle-scrub.ts';
import { formatIssues, openSite } from './config/load.ts';
import { redactSiteFile } from './config/redact.ts';
import { HistoryReader } from './history/reader.ts';
import { SCHEMA } from './history/schema.ts';
import { SITE_VERSION } from './site/schema.ts';
import { Secret } from './site/secret.ts';
import type { Site } from './site/site.ts';
import { agentStatus } from './status.ts';
import { VERSION } from './version.ts';

export interface BundleWishes {
  readonly config: string;
  readonly env: Readonly<Record<string, string | undefined>>;
  readonly now: number;
  /** Of each chiller, the newest. */
  readonly minutes: number;
  /** Text of the agent's log: one JSON object a line. */
  readonly log: string | null;
}

export interface BundleFile {
  readonly name: string;
  readonly text: string;
}

const DAYS_OF_ALARMS = 30;

const README = `A support bundle of Tonhour: what the agent is, how it is, and what it found last.

about.json           versions of program, store and site file; the machine it runs on
site.yaml            the site file, as far as its keys are known
check.txt            what is wrong with the site file, where something is
status.json          as 'tonhour status --json'
minutes-*.ndjson     the newest minutes of each chiller, all figures with uncertainty, quality and reason
alarms.ndjson        the journal of alarms, newest first
maintenance.ndjson   kinds and times of work on the machines
log.ndjson           the log, where one was given
runbook.md           the error codes met in all of these, and what to do

Taken out: names of site and people, free texts, addresses of controllers, brokers, servers and recipients, users,
passwords, tokens, prices, and keys of the site file that are none. Chillers keep their ids. Look through it before you
send it: what a person wrote into an id is not known to be private.
`;

export async function bundleFiles({ config, env, now, minutes, log }: BundleWishes): Promise<readonly BundleFile[]> {
  const redacted = await redactSiteFile(config);
  const opened = await openSite(config, { env });
  const site = opened.ok ? opened.value.site : null;
  const folder = site?.history.folder ?? redacted.folder;
  const reader = folder === null ? null : HistoryReader.open(folder);
  const store = reader?.ok === true ? reader.value : null;
  const status = site === null ? null : await agentStatus(site, now);
  const files: BundleFile[] = [
    {
      name: 'about.json',
      text: json(about({ now, store, site, fault: reader?.ok === false ? reader.fault.message : null })),
    },
    ...(redacted.text === null ? [] : [{ name: 'site.yaml', text: redacted.text }]),
    ...(opened.ok ? [] : [{ name: 'check.txt', text: formatIssues(opened.fault) }]),
    ...(status === null ? [] : [{ name: 'status.json', text: json({ ...status, name: undefined, url: undefined }) }]),
  ];
  const said: string[] = [];
  if (store !== null) {
    const chillers = site?.chillers.map(({ id }) => id) ?? [];
    for (const chiller of chillers)
      files.push({ name: `minutes-${chiller}.ndjson`, text: minuteLines(store, { chiller, minutes }) });
    const span = { from: now - DAYS_OF_ALARMS * 86_400_000, to: now };
    const journal = journalLines(store, { ...span, count: LIMITS.bundle_alarms_max });
    said.push(...journal.people);
    files.push({ name: 'alarms.ndjson', text: journal.text });
    files.push({ name: 'maintenance.ndjson', text: maintenanceLines(store, { from: 0, to: now }) });
  }
  if (reader?.ok === true) reader.value.close();
  if (log !== null) files.push({ name: 'log.ndjson', text: logLines(log) });
  const scrub = scrubber({
    secrets: site === null ? [] : secretsOf(site),
    words: [...redacted.taken, ...said, os.hostname(), os.userInfo().username],
  });
  const clean = files.map(({ name, text }) => ({ name, text: scrub(text) }));
  return [{ name: 'README.txt', text: README }, ...clean, { name: 'runbook.md', text: runbookOf(clean) }];
}

interface Known {
  readonly now: number;
  readonly store: HistoryReader | null;
  readonly site: Site | null;
  readonly fault: string | null;
}

function about({ now, store, site, fault }: Known): object {
  return {
    made: rfc3339(now),
    tonhour: VERSION,
    node: process.version,
    platform: `${process.platform} ${process.arch}`,
    system: os.release(),
    processors: os.cpus().length,
    memory_mb: Math.round(os.totalmem() / 2 ** 20),
    site_file: { version: site?.version ?? null, newest: SITE_VERSION, sound: site !== null },
    store: { version: store?.version ?? null, newest: SCHEMA.length, fault },
  };
}

function json(value: object): string {
  return `${JSON.stringify(value, null, 2)}\n`;
}

/** What the secrets of a site hold. */
function secretsOf(value: unknown): string[] {
  if (value instanceof Secret) return [value.reveal()];
  if (typeof value !== 'object' || value === null) return [];
  return Object.values(value).flatMap(secretsOf);
}

/** The codes that stand in any of the files, with what they mean and what to do. */
function runbookOf(files: readonly BundleFile[]): string {
  const words = new Set(files.flatMap(({ text }) => text.match(/\b[a-z]+(?:_[a-z]+)+\b/g) ?? []));
  const met = (Object.keys(ERRORS) as ErrorCode[]).filter((code) => words.has(code));
  const entries = met.map((code) => `## ${code}\n\n${ERRORS[code].meaning}\n\nWhat to do: ${ERRORS[code].action}\n`);
  return entries.length === 0 ? 'No error code was met.\n' : entries.join('\n');
}
