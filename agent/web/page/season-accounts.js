/**
 * What stands behind a season: minutes, energy by compressor, part load, bins, the baseline and its tests, the log,
 * downloads. Pure.
 * @import { SeasonMachine, View } from '../page-types.ts'
 */
import { cell, cooling, dateText, energy, figure, percent, perTon } from './season-figures.js';
import { totalOf } from './season-tables.js';
import { esc, num } from './text.js';

/**
 * @param {string} words
 * @param {string} body
 */
function line(words, body) {
  return `<tr><th scope="row">${esc(words)}</th>${body}</tr>`;
}

/**
 * @param {string} heading
 * @param {string} rows
 * @param {string} [cls]
 */
function table(heading, rows, cls = 'worth') {
  const name = heading.replace(/<[^>]*>/g, '');
  return `<h2>${heading}</h2><table class="${cls}"><caption class="hide">${name}</caption>${rows}</table>`;
}

/** @param {View} view */
export function minutes(view) {
  const total = totalOf(view);
  if (total === null) return '';
  const due = total.minutes_due;
  const row = (/** @type {string} */ words, /** @type {number} */ count) =>
    line(words, `<td>${num(count, 0)}</td><td class="share">${due > 0 ? num((100 * count) / due, 1) : '0'} %</td>`);
  const lacking = 'lacking' in total && 'not_recorded' in total.lacking ? total.lacking : null;
  const why =
    lacking === null
      ? ''
      : [
          [lacking.not_recorded, 'not recorded'],
          [lacking.without_power, 'without power'],
          [lacking.without_capacity, 'without capacity'],
          [lacking.state_unknown, 'state unknown'],
        ]
          .filter(([count]) => Number(count) >= 0.5)
          .map(([count, words]) => `${num(Number(count), 0)} ${words}`)
          .join(', ');
  return table(
    'Minutes <span>nothing is put in the place of a lacking one</span>',
    `<tbody>${row('due', due)}${row('used', total.minutes_used)}${row('at standstill', total.minutes_standing)}${row(
      'lacking',
      total.minutes_lacking,
    )}</tbody>${why === '' ? '' : `<tfoot><tr><td colspan="3" class="dim">Lacking: ${why}.</td></tr></tfoot>`}`,
  );
}

/** @param {View} view */
export function energies(view) {
  const total = totalOf(view);
  if (total === null) return '';
  const row = (
    /** @type {string} */ words,
    /** @type {import('./season-figures.js').Shown} */ shown,
    missing = 'none',
  ) => line(words, `<td>${figure(view, shown, { missing })}</td>`);
  const { main_compressor: main, economizer_compressor: second } = total.compressors;
  const { saved, missed } = total.economizer;
  return table(
    'Energy <span>the chiller alone, without pumps and tower</span>',
    `<tbody>${row('running', energy('kwh', total.kwh, total.uncertainty.kwh))}` +
      row('main compressor', energy('main_compressor', main.kwh, main.uncertainty), main.reason ?? '') +
      row(
        'economizer compressor',
        energy('economizer_compressor', second.kwh, second.uncertainty),
        second.reason ?? '',
      ) +
      row('at standstill', energy('kwh_standing', total.kwh_standing, null), 'not known') +
      row(
        `economizer saved, ${num(total.economizer.minutes_on / 60, 0)} h on`,
        energy('saved', saved.kwh, saved.uncertainty),
        saved.reason ?? '',
      ) +
      row(
        `missed, ${num(total.economizer.minutes_off / 60, 0)} h off`,
        energy('missed', missed.kwh, missed.uncertainty),
        missed.reason ?? '',
      ) +
      row('cooling', cooling(view, 'ton_hours', total.ton_hours, total.uncertainty.ton_hours)) +
      '</tbody>',
  );
}

/**
 * @param {View} view
 * @param {SeasonMachine} machine
 */
export function partLoad(view, { chiller, part_load: { kw_per_ton, uncertainty, note, reason, bands } }) {
  const who = { who: chiller };
  const rows = bands.map((band) => {
    const shown = perTon(view, `part_load_${band.load}`, band.kw_per_ton, band.uncertainty.kw_per_ton);
    const value = cell(view, shown, { ...who, missing: 'none' });
    return line(`near ${band.load} % load`, `${value}<td class="share">${num(band.minutes / 60, 0)} h</td>`);
  });
  const value = perTon(view, 'part_load', kw_per_ton, uncertainty);
  return table(
    `Part-load value <span>${esc(note)}</span>`,
    `<tbody>${rows.join('')}</tbody><tfoot>${line('by the AHRI weights', kw_per_ton === null ? `<td colspan="2" class="words">none: ${esc(reason ?? '')}</td>` : `<td>${figure(view, value, who)}</td><td></td>`)}</tfoot>`,
  );
}

/**
 * @param {View} view
 * @param {SeasonMachine} machine
 */
export function bins(view, { chiller, bins: { load, lift } }) {
  if (load.length === 0 && lift.length === 0) return '';
  const who = { who: chiller };
  const ip = view.system === 'ip';
  const label = ip ? 'kW/ton' : 'COP';
  const row = (/** @type {string} */ words, /** @type {typeof load[number]} */ bin) =>
    `<tr><th scope="row">${words}</th><td>${num(bin.minutes / 60, 0)} h</td>${cell(view, energy('kwh', bin.kwh, null, { most: 1e5 }), who)}` +
    `${cell(view, perTon(view, 'kw_per_ton', bin.kw_per_ton, bin.uncertainty.kw_per_ton), who)}</tr>`;
  const head = (/** @type {string} */ words) =>
    `<thead><tr><th scope="col">${words}</th><th scope="col">used</th><th scope="col">MWh</th><th scope="col">${label}</th></tr></thead>`;
  const k = ip ? 1.8 : 1;
  const part = (
    /** @type {string} */ name,
    /** @type {string} */ unit,
    /** @type {typeof load} */ list,
    /** @type {number} */ factor,
  ) =>
    `<table class="months"><caption class="hide">Bins of ${name}</caption>${head(`${name}, ${unit}`)}<tbody>${list
      .map((bin) =>
        row(
          `${num(bin.from * factor, factor === 1.8 ? 1 : 0)} to ${num(bin.to * factor, factor === 1.8 ? 1 : 0)}`,
          bin,
        ),
      )
      .join('')}</tbody></table>`;
  return (
    '<h2>Bins <span>all minutes used; lift of the refrigerant</span></h2>' +
    `${part('load', '% of rated', load, 100)}${part('lift', ip ? '°F' : 'K', lift, k)}`
  );
}

/**
 * @param {View} view
 * @param {SeasonMachine} machine
 */
export function baseline(view, { chiller, baseline: based }) {
  const zone = view.site.time_zone;
  const heading = `<h2>Baseline of ${esc(chiller)}</h2>`;
  if (based === null)
    return `${heading}<p class="note">None is declared. Give the days of a clean machine as <code>baseline</code> of this chiller in the site file; the economizer's ways are fitted apart.</p>`;
  const span = `${dateText(Date.parse(based.from), zone)} to ${dateText(Date.parse(based.to) - 1, zone)}`;
  const share = (/** @type {number} */ v) => num(100 * v, 2);
  const limits = `accepted up to CV ${num(100 * based.accepted.cv, 0)} % and NMBE ${num(100 * based.accepted.nmbe, 1)} %`;
  const mode = { on: 'economizer on', off: 'economizer off', none: 'no economizer' };
  const rows = based.fits.map((fit) => {
    const judged = fit.candidates
      .map((one) => {
        const name = one.model === 'gordon_ng' ? 'Gordon and Ng' : 'bi-quadratic';
        const figures =
          one.judged === null ? 'not determined' : `CV ${share(one.judged.cv)} %, NMBE ${share(one.judged.nmbe)} %`;
        return `${name} ${figures}${one.model === fit.model ? ', in use' : ''}`;
      })
      .join('; ');
    const words =
      fit.model === null ? (fit.reason ?? '') : `${num(fit.hours, 0)} steady hours on ${fit.days} days. ${judged}`;
    return line(mode[fit.mode], `<td class="words">${esc(words)}</td>`);
  });
  const levels = based.levels.flatMap((level) => {
    if (level.from === null)
      return level.reason === null ? [] : [line('before', `<td class="words">${esc(level.reason)}</td>`)];
    const since = `since ${level.kind.replace('_', ' ')} ${dateText(Date.parse(level.from), zone)}`;
    const shown = percent('level', level.level === null ? null : level.level - 1, level.uncertainty, true);
    const words =
      level.level === null
        ? (level.reason ?? '')
        : `level anew from ${level.hours} steady hours: ${shown.text} ±${shown.plus} % against the declared one`;
    return [line(since, `<td class="words">${esc(words)}</td>`)];
  });
  const none = based.reason === null ? '' : `<p class="note">Nothing can be compared yet: ${esc(based.reason)}.</p>`;
  return (
    `${heading}${none}<table class="worth"><caption class="hide">Baseline</caption><tbody>${line('declared', `<td class="words">${span}</td>`)}${rows.join('')}${levels.join('')}</tbody></table>` +
    `<p class="dim note">Power at the same load, leaving chilled and entering condenser water; judged on days left out of the fit, ${limits}. ` +
    `ASHRAE Guideline 14 allows ${num(100 * based.guideline_14_hourly.cv, 0)} % and ${num(100 * based.guideline_14_hourly.nmbe, 0)} % for hours of whole buildings, too wide to mean anything here.</p>`
  );
}

/**
 * The maintenance log of the period; cautions where refrigerant was added.
 * @param {View} view
 */
export function log(view) {
  const { chillers } = /** @type {NonNullable<View['season']>} */ (view.season);
  const zone = view.site.time_zone;
  const entries = chillers
    .flatMap((machine) =>
      machine.maintenance.map((work) => ({ ...work, chiller: machine.chiller, at: Date.parse(work.time) })),
    )
    .sort((a, b) => a.at - b.at);
  if (entries.length === 0)
    return '<h2>Maintenance log</h2><p class="note dim">Nothing in this period. <code>tonhour log</code> writes down what was done.</p>';
  const caution = entries.some(({ kind }) => kind === 'refrigerant_added')
    ? '<p class="caution">Refrigerant was added: ask where it went. Where the law asks for it, work out the leak rate at every addition (United States: 40 CFR 82.157 and 84.106; elsewhere local law). Handling refrigerant is for certified people; mind the rules of the machinery room (ASHRAE 15 or local code).</p>'
    : '';
  const rows = entries.map(({ chiller, at, kind, text, mass_kg }) => {
    const mass =
      mass_kg === null ? '' : view.system === 'ip' ? `, ${num(mass_kg / 0.45359237, 1)} lb` : `, ${num(mass_kg, 1)} kg`;
    return line(
      `${dateText(at, zone)}, ${chiller}`,
      `<td class="words"><b>${esc(kind.replace('_', ' '))}${mass}</b> ${esc(text)}</td>`,
    );
  });
  return table('Maintenance log', `<tbody>${rows.join('')}</tbody>`) + caution;
}

/** @param {View} view */
export function downloads(view) {
  const season = /** @type {NonNullable<View['season']>} */ (view.season);
  const chiller = season.who === 'both' ? '' : `chiller=${encodeURIComponent(season.who)}&`;
  const period = `from=${encodeURIComponent(season.from)}&to=${encodeURIComponent(season.to)}`;
  const link = (/** @type {string} */ words, /** @type {string} */ more) =>
    `<a href="${esc(`/api/season?${chiller}${period}&${more}`)}">${words}</a>`;
  const short = Date.parse(season.to) - Date.parse(season.from) < 160 * 86_400_000;
  return (
    `<h2>Downloads</h2><p class="links">${link('days, CSV', 'step=day&format=csv')} ${link('months, CSV', 'step=month&format=csv')} ` +
    `${short ? link('hours, CSV', 'step=hour&format=csv') : ''} ${link('all, JSON', 'step=day')}</p>`
  );
}
