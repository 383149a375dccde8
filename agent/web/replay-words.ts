/** What was wrong with an export, in words. */
import type { ReplaySummary, Trouble } from './replay-types.ts';

/** One sentence a kind of trouble, with its first lines. */
export function troublesText({ export: read, intervals_left_out }: ReplaySummary): string[] {
  const at = ({ what, count, lines }: Trouble): string =>
    `${count} x ${what} (line ${lines.slice(0, 5).join(', ')}${count > Math.min(5, lines.length) ? ', ...' : ''})`;
  const told = (name: string, { count, kinds }: { count: number; kinds: readonly Trouble[] }): string[] =>
    count === 0 ? [] : [`${name}: ${kinds.slice(0, 5).map(at).join('; ')}${kinds.length > 5 ? '; ...' : ''}`];
  return [
    ...told('lines not read', read.bad_lines),
    ...told('no number', read.text),
    ...told('status not good', read.status),
    ...(read.ordered ? [] : ['lines were not in the order of their times: sorted']),
    ...(read.repeated_hour.lines > 0
      ? [
          `${read.repeated_hour.lines} lines in an hour that came twice (clocks went back): taken by ${read.repeated_hour.taken}`,
        ]
      : []),
    ...(read.repeated_readings > 0 ? [`${read.repeated_readings} readings came twice: counted once`] : []),
    ...(read.conflicting_readings > 0
      ? [`${read.conflicting_readings} readings contradict another of the same time: the last one counts`]
      : []),
    ...(intervals_left_out > 0 ? [`${intervals_left_out} intervals left out in long holes of the export`] : []),
    ...read.notices,
  ];
}
