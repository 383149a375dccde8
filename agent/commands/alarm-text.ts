/** Alarms that are not normal, as a table for people. */
import { parseRfc3339 } from '../base/time.ts';
import type { JournalEntry } from '../history/types.ts';
import { localTime, zoneOffsets } from '../season/zone.ts';

/** What is read of a stored alarm; an earlier version stored less. */
interface Stored {
  readonly title?: string;
  readonly since?: string;
  readonly acknowledged?: { readonly by: string; readonly time: string } | null;
  readonly shelf?: { readonly by: string; readonly reason: string | null; readonly until: string } | null;
  readonly suppression?: string | null;
  readonly out_of_service?: string | null;
}

export function alarmsText(entries: readonly JournalEntry[], zone: string): string {
  const offsets = zoneOffsets(zone);
  const local = (instant: string): string => localTime(parseRfc3339(instant) ?? 0, offsets);
  const rows = entries.map(({ chiller, id, state, priority, time, detail }) => {
    const alarm = JSON.parse(detail) as Stored;
    const since = alarm.since === undefined ? localTime(time, offsets) : local(alarm.since);
    return [String(priority), chiller, id, state, since, alarm.title ?? '', remark(alarm, local)];
  });
  const table = [['priority', 'chiller', 'alarm', 'state', 'since', 'title', ''], ...rows];
  const widths = (table[0] ?? []).map((_, column) => Math.max(...table.map((row) => row[column]?.length ?? 0)));
  const line = (row: readonly string[]): string =>
    row
      .map((cell, i) => cell.padEnd(widths[i] ?? 0))
      .join('  ')
      .trimEnd();
  return `${table.map(line).join('\n')}\n`;
}

function remark({ acknowledged, shelf, suppression, out_of_service }: Stored, local: (time: string) => string): string {
  if (shelf != null) return `until ${local(shelf.until)}, by ${shelf.by}: ${shelf.reason ?? ''}`;
  if (out_of_service != null) return out_of_service;
  if (suppression != null) return suppression;
  return acknowledged == null ? '' : `by ${acknowledged.by}, ${local(acknowledged.time)}`;
}
