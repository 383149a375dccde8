/** Files of a support bundle that come from history and log: one JSON object a line, of known fields alone. */
import { LIMITS } from './base/limits.ts';
import { rfc3339 } from './base/time.ts';
import type { HistoryReader } from './history/reader.ts';

type Fields = Readonly<Record<string, unknown>>;

/** What of a record is of the machine and not of people. */
const RECORD = [
  'time',
  'sequence',
  'interval_s',
  'state',
  'state_since',
  'economizer',
  'values',
  'uncertainty',
  'quality',
  'point_detail',
  'reconciliation',
] as const;
const LOG = [
  'time',
  'level',
  'code',
  'msg',
  'chiller',
  'metric',
  'part',
  'line',
  'key',
  'missed',
  'until',
  'reason',
] as const;
const ALARM = ['change', 'since', 'active', 'metric', 'value', 'limit', 'unit'] as const;

/** The newest minutes of a chiller, also where it has none since long. A fault of the store is a line of its own. */
export function minuteLines(
  store: HistoryReader,
  { chiller, minutes }: { readonly chiller: string; readonly minutes: number },
): string {
  const newest = store.latestMinute(chiller);
  if (!newest.ok) return lines([{ error: newest.fault }]);
  if (newest.value === null) return '';
  const { time, record } = newest.value;
  const step = 1000 * Math.max(1, Number(parsed(record)?.['interval_s'] ?? 60));
  const found = store.minutes({ chiller, from: time - minutes * step + 1, to: time });
  if (!found.ok) return lines([{ error: found.fault }]);
  return lines(found.value.flatMap((each) => pick(parsed(each.record), RECORD)));
}

/** The steps of alarms without who did them and why; `people` is who, to be taken out elsewhere. */
export function journalLines(
  store: HistoryReader,
  span: { readonly from: number; readonly to: number; readonly count: number },
): { readonly text: string; readonly people: readonly string[] } {
  const found = store.alarmJournal({ chiller: null, ...span });
  if (!found.ok) return { text: lines([{ error: found.fault }]), people: [] };
  const people: string[] = [];
  const text = lines(
    found.value.map(({ chiller, sequence, id, time, state, priority, detail }) => {
      const whole = parsed(detail);
      people.push(...saidOf(whole));
      return { time: rfc3339(time), chiller, sequence, id, state, priority, ...pick(whole, ALARM)[0] };
    }),
  );
  return { text, people };
}

/** Whatever stands under `by` and `reason`, at any depth. */
function saidOf(value: unknown): string[] {
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([key, each]) =>
    (key === 'by' || key === 'reason') && typeof each === 'string' ? [each] : saidOf(each),
  );
}

/** What was done to the machines, without the words that people found for it. */
export function maintenanceLines(store: HistoryReader, span: { readonly from: number; readonly to: number }): string {
  const found = store.maintenance({ chiller: null, ...span });
  if (!found.ok) return lines([{ error: found.fault }]);
  return lines(
    found.value.map(({ chiller, time, kind, mass_kg }) => ({ time: rfc3339(time), chiller, kind, mass_kg })),
  );
}

/** The end of a log of the agent. What is not one of its lines is counted and left out. */
export function logLines(text: string): string {
  const bytes = Buffer.from(text);
  const end = bytes.subarray(Math.max(0, bytes.length - LIMITS.bundle_log_bytes_max)).toString('utf8');
  const given = end.split('\n').filter((line) => line.trim() !== '');
  const kept = given.flatMap((line) => pick(parsed(line), LOG));
  const dropped = given.length - kept.length;
  return lines(dropped === 0 ? kept : [{ left_out: `${dropped} lines that are none of the agent's` }, ...kept]);
}

/** Those fields, in a list; an empty one where there is none of them. */
function pick(from: Fields | null, keys: readonly string[]): Fields[] {
  if (from === null) return [];
  const kept = keys.flatMap((key) => (from[key] === undefined ? [] : [[key, from[key]] as const]));
  return kept.length === 0 ? [] : [Object.fromEntries(kept)];
}

function parsed(text: string): Fields | null {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Fields) : null;
  } catch {
    return null;
  }
}

function lines(objects: readonly object[]): string {
  return objects.map((each) => `${JSON.stringify(each)}\n`).join('');
}
