/** A season as a table for people. */
import { parseRfc3339 } from '../base/time.ts';
import { fromSi, unitOf } from '../base/units.ts';
import type { ChillerSeason } from '../season/answer.ts';
import { PART_LOAD_NOTE } from '../season/part-load.ts';
import type { AmountFigure, BinFigure, PeriodFigure } from '../season/season.ts';
import { localTime, zoneOffsets } from '../season/zone.ts';
import type { Site } from '../site/site.ts';
import { againstLines, workLines } from './season-against.ts';
import { amount, count, plain, twoDigits, withUncertainty } from './season-numbers.ts';

type Row = readonly string[];

/** One chiller's season by the day. */
export type SeasonReport = Omit<ChillerSeason, 'steps' | 'name'> & { readonly days: ChillerSeason['steps'] };

export function seasonText(figure: SeasonReport, site: Site): string {
  const offsets = zoneOffsets(site.time_zone);
  const local = (instant: string): string => localTime(parseRfc3339(instant) ?? 0, offsets);
  const name = site.chillers.find(({ id }) => id === figure.chiller)?.name ?? figure.chiller;
  const title = name === figure.chiller ? name : `${figure.chiller}, ${name}`;
  const sections = [
    [`${title}: ${local(figure.from)} to ${local(figure.to)} (${figure.time_zone})`],
    table(headline(figure)),
    againstLines(figure),
    minutesLines(figure),
    table(shares(figure)),
    binLines('load', figure.bins.load, (bin) => `${whole(100 * bin.from)} to ${whole(100 * bin.to)} %`),
    binLines('lift', figure.bins.lift, liftLabel(site.unit_system)),
    partLoadLines(figure),
    periodLines(figure),
    figure.maintenance.flatMap((work) => workLines(work, { local, currency: figure.money?.currency ?? null })),
    [
      `Scope: ${figure.notes.scope}. Uncertainty ${figure.notes.uncertainty}.`,
      ...partsLines(figure),
      `${capital(figure.notes.minutes_used)}.`,
    ],
  ];
  return `${sections
    .filter((lines) => lines.length > 0)
    .map((lines) => lines.join('\n'))
    .join('\n\n')}\n\n`;
}

function headline({ ton_hours, kwh, kw_per_ton, uncertainty, reasons, money, ...figure }: SeasonReport): Row[] {
  const rows: Row[] = [
    ['cooling', withUncertainty(ton_hours, uncertainty.ton_hours), 'ton-hours', reasons['ton_hours'] ?? ''],
    ['energy', withUncertainty(kwh, uncertainty.kwh), 'kWh', reasons['kwh'] ?? ''],
    ['energy per cooling', withUncertainty(kw_per_ton, uncertainty.kw_per_ton), 'kW/ton', reasons['kw_per_ton'] ?? ''],
    ['energy at standstill', plain(figure.kwh_standing), 'kWh', ''],
  ];
  if (money !== null) {
    const at = `at ${money.price_per_kwh} ${money.currency}/kWh`;
    const sure = money.uncertainty;
    rows.push(['cost of both', amount(money.energy, sure.energy), money.currency, at]);
    if (money.saved !== null) rows.push(['saved by economizer', amount(money.saved, sure.saved), money.currency, '']);
    if (money.missed !== null && figure.economizer.minutes_off > 0)
      rows.push(['missed, economizer off', amount(money.missed, sure.missed), money.currency, '']);
  }
  return rows;
}

/** Which part of the headline's uncertainties a longer season would not make smaller. */
function partsLines({ uncertainty_parts: { kept, random } }: SeasonReport): string[] {
  if (kept.kwh === null || random.kwh === null) return [];
  const told = ({ ton_hours, kwh, kw_per_ton }: typeof kept): string =>
    [
      `${twoDigits(ton_hours ?? 0)} ton-hours`,
      `${twoDigits(kwh ?? 0)} kWh`,
      ...(kw_per_ton === null ? [] : [`${twoDigits(kw_per_ton)} kW/ton`]),
    ].join(', ');
  return [`Of it the same all through: ${told(kept)}; scatter: ${told(random)}.`];
}

function minutesLines({
  minutes_due: due,
  minutes_used,
  minutes_standing,
  lacking,
  ...figure
}: SeasonReport): string[] {
  const share = (minutes: number): string =>
    `${count(minutes)} (${(due > 0 ? (100 * minutes) / due : 0).toFixed(1)} %)`;
  const why = [
    [lacking.not_recorded, 'not recorded'],
    [lacking.without_power, 'without power'],
    [lacking.without_capacity, 'without capacity'],
    [lacking.state_unknown, 'state unknown'],
  ] as const;
  const parts = why.filter(([minutes]) => minutes > 0).map(([minutes, words]) => `${count(minutes)} ${words}`);
  return [
    `Minutes: ${count(due)} due, ${share(minutes_used)} used, ${share(minutes_standing)} at standstill, ` +
      `${share(figure.minutes_lacking)} lacking${parts.length === 0 ? '' : `: ${parts.join(', ')}`}.`,
    ...(figure.minutes_uncertain > 0
      ? [`${count(figure.minutes_uncertain)} of the minutes used are uncertain (a moving machine, an assumed value).`]
      : []),
  ];
}

function shares({ compressors, economizer }: SeasonReport): Row[] {
  const row = (name: string, { kwh, uncertainty, minutes_lacking, minutes_uncertain, reason }: AmountFigure): Row => {
    const lacking = minutes_lacking > 0 ? [`${count(minutes_lacking)} minutes lacking`] : [];
    const doubtful = minutes_uncertain > 0 ? [`${count(minutes_uncertain)} minutes uncertain`] : [];
    const words = [...(reason === null ? [] : [reason]), ...lacking, ...doubtful].join(', ');
    return [name, withUncertainty(kwh, uncertainty), 'kWh', words];
  };
  const { minutes_on, minutes_off, saved, missed } = economizer;
  return [
    row('main compressor', compressors.main_compressor),
    row('economizer compressor', compressors.economizer_compressor),
    row(`saved, economizer on ${count(minutes_on)} min`, saved),
    row(`missed, economizer off ${count(minutes_off)} min`, missed),
  ];
}

function liftLabel(system: Site['unit_system']): (bin: BinFigure) => string {
  const unit = system === 'ip' ? 'delta_degF' : 'K';
  const { label } = unitOf(unit);
  const edge = (kelvin: number): string => String(Number(fromSi(kelvin, unit).toFixed(1)));
  return ({ from, to }) => `${edge(from)} to ${edge(to)} ${label}`;
}

function binLines(name: string, bins: readonly BinFigure[], label: (bin: BinFigure) => string): string[] {
  if (bins.length === 0) return [];
  return table([
    [name, 'minutes', 'ton-hours', 'kWh', 'kW/ton'],
    ...bins.map((bin) => [label(bin), count(bin.minutes), ...energyCells(bin)]),
  ]);
}

function energyCells({
  ton_hours,
  kwh,
  kw_per_ton,
  uncertainty,
}: Pick<PeriodFigure, 'ton_hours' | 'kwh' | 'kw_per_ton' | 'uncertainty'>): Row {
  return [plain(ton_hours), plain(kwh), withUncertainty(kw_per_ton, uncertainty.kw_per_ton)];
}

function partLoadLines({ part_load: { kw_per_ton, uncertainty, reason } }: SeasonReport): string[] {
  const value = kw_per_ton === null ? `none: ${reason}` : `${withUncertainty(kw_per_ton, uncertainty)} kW/ton`;
  return [`Part-load value by the AHRI weights: ${value} (${PART_LOAD_NOTE}).`];
}

/** Months where there are several, else days. */
function periodLines({ months, days }: SeasonReport): string[] {
  const [name, periods] = months.length > 1 ? ['month', months] : ['day', days];
  if (periods.length < 2) return [];
  return table([
    [name, 'hours', 'due', 'used', 'ton-hours', 'kWh', 'kW/ton'],
    ...periods.map((period) => [
      period.name,
      String(Number(period.hours.toFixed(2))),
      count(period.minutes_due),
      count(period.minutes_used),
      ...energyCells(period),
    ]),
  ]);
}

/** Columns of numbers to the right, of words to the left; a first row may name them. */
function table(rows: readonly Row[]): string[] {
  const columns = Math.max(...rows.map((row) => row.length));
  const cells = (column: number): string[] => rows.map((row) => row[column] ?? '');
  const widths = Array.from({ length: columns }, (_, column) => Math.max(...cells(column).map((cell) => cell.length)));
  const words = widths.map(
    (_, column) =>
      column === 0 ||
      cells(column)
        .slice(1)
        .some((cell) => /[a-z]/i.test(cell)),
  );
  return rows.map((row) =>
    row
      .map((cell, column) => (words[column] ? cell.padEnd(widths[column] ?? 0) : cell.padStart(widths[column] ?? 0)))
      .join('  ')
      .trimEnd(),
  );
}

function whole(value: number): string {
  return String(Math.round(value));
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
