/** What `check` says to a person. */
import { type UnitName, unitOf } from '../base/units.ts';
import type { CheckedChiller, CheckedPoint } from '../checking.ts';

export function chillerText(checked: CheckedChiller): string {
  const { chiller, running, points, findings, unobservable, solvable, standstill } = checked;
  const state = running === null ? 'no point says whether it runs' : running ? 'running' : 'standing';
  const lines = [`${chiller}: ${points.length} points, ${state}`, ''];
  lines.push(...table(['point', 'raw', 'on the panel', 'value', 'changes', 'quality'], points.map(row)));
  if (running !== true)
    lines.push(
      '',
      'Order of temperatures, pressures, heat and power are compared while the machine runs: check again then.',
    );
  if (standstill?.ready === false) lines.push(`Sensors are not compared at standstill: ${standstill.reason}.`);
  if (standstill?.ready === true)
    lines.push(`Sensors compared at standstill agree on ${number((standstill.temperature ?? 0) - 273.15)} °C.`);
  lines.push(
    '',
    findings.length === 0 ? 'Nothing odd.' : `${findings.length} finding${findings.length > 1 ? 's' : ''}:`,
  );
  for (const { code, points: named, places, message } of findings) {
    lines.push(
      '',
      `${placesText(places)}: ${named.length === 0 ? '' : `${listed(named, 8)}: `}${code}`,
      `  ${message}`,
    );
  }
  lines.push('', `These points give ${solvable.length} of ${solvable.length + unobservable.length} metrics.`);
  const groups = new Map<string, string[]>();
  for (const { metric, why } of unobservable) groups.set(why, [...(groups.get(why) ?? []), metric]);
  for (const [why, metrics] of groups) lines.push(`  not ${metrics.join(', ')}: ${why}`);
  lines.push(...alarmsText(checked));
  return `${lines.join('\n')}\n\n`;
}

function alarmsText({ alarms: { armed, unarmed } }: CheckedChiller): string[] {
  const lines = ['', `${armed.length} alarm${armed.length === 1 ? ' is' : 's are'} armed.`];
  for (const { alarm, why } of unarmed) lines.push(`  not ${alarm}: ${why}`);
  return lines;
}

/** What is about to be read, and how long that takes where it is not once. */
export function readingText(
  points: number,
  { samples, every_s }: { readonly samples: number; readonly every_s: number },
): string {
  const what = `reading ${points} point${points === 1 ? '' : 's'}`;
  if (samples === 1) return `${what} once`;
  return `${what} ${samples} times, ${number((samples - 1) * every_s)} s`;
}

function placesText(places: readonly string[]): string {
  const [first = '', ...rest] = places;
  const others = rest.map((place) => place.slice(place.lastIndexOf(':') + 1));
  return others.length === 0 ? first : `${first} (and lines ${others.slice(0, 8).join(', ')})`;
}

function listed(names: readonly string[], most: number): string {
  const more = names.length - most;
  return `${names.slice(0, most).join(', ')}${more > 0 ? ` and ${more} more` : ''}`;
}

function row(point: CheckedPoint): string[] {
  const { name, raw, reading, reading_unit, value, unit, update_s, quality, reason } = point;
  const same = reading_unit === unit || unitOf(unit as UnitName).label === '';
  return [
    name,
    raw === null ? '-' : number(raw),
    reading === null ? '-' : withUnit(reading, reading_unit),
    value === null || same ? '' : withUnit(value, unit),
    update_s === null ? '' : `${number(update_s)} s`,
    quality === 'good' ? 'good' : `${quality}: ${reason ?? ''}`,
  ];
}

export function withUnit(value: number, unit: string): string {
  const { label } = unitOf(unit as UnitName);
  return label === '' ? number(value) : `${number(value)} ${label}`;
}

export function number(value: number): string {
  return String(Number(value.toPrecision(5)));
}

export function table(head: readonly string[], rows: readonly (readonly string[])[]): string[] {
  const widths = head.map((cell, column) => Math.max(cell.length, ...rows.map((cells) => cells[column]?.length ?? 0)));
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, column) => cell.padEnd(widths[column] ?? 0))
      .join('  ')
      .trimEnd();
  return [line(head), line(widths.map((width) => '-'.repeat(width))), ...rows.map(line)];
}
