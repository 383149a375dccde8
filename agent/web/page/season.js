/**
 * The season view: what the chillers did over a period, against the clean machine, in money. Pure.
 * @import { View } from '../page-types.ts'
 */
import { baseline, bins, downloads, energies, log, minutes, partLoad } from './season-accounts.js';
import { events } from './season-axis.js';
import { chart } from './season-chart.js';
import { cooling, dateText, energy, figure, money, percent, perTon } from './season-figures.js';
import { loadLift, machines, months, seasonQuery, totalOf, worth } from './season-tables.js';
import { esc, num } from './text.js';

/** @param {View} view */
function seasonOf(view) {
  return /** @type {NonNullable<View['season']>} */ (view.season);
}

/** @param {View} view */
function heading(view) {
  const { days, from, to, step } = seasonOf(view);
  const zone = view.site.time_zone;
  const [first, last] = [Date.parse(from), Date.parse(to) - 1];
  const count = Math.round((last - first) / 86_400_000);
  if (step === 'hour')
    return `${dateText(first, zone, 'long')}, ${dateText(first, zone, 'hour')} to ${dateText(last + 1, zone, 'hour')}`;
  if (count >= 364 && count <= 366) return `12 months to ${dateText(last, zone, 'long')}`;
  return days[0] === days[1] ? dateText(last, zone, 'long') : `${dateText(first, zone)} to ${dateText(last, zone)}`;
}

/** @param {View} view */
function lead(view) {
  const { who, days, asked } = seasonOf(view);
  const link = (/** @type {string} */ id, /** @type {string} */ words) =>
    `<a href="/season/${encodeURIComponent(id.toLowerCase())}${seasonQuery(view)}"${id === who ? ' aria-current="true"' : ''}>${esc(words)}</a>`;
  const all = view.site.chillers.length;
  const ids = view.site.chillers.map(({ id }) => link(id, id));
  const both = all > 1 ? link('both', all === 2 ? 'both' : `all ${all}`) : '';
  const day = (/** @type {string} */ name, /** @type {string} */ value) =>
    `<label>${name} <input type="date" name="${name}" value="${esc(value)}" required></label>`;
  const year = asked
    ? `<a href="/season/${encodeURIComponent(who.toLowerCase())}?units=${view.system}">12 months</a>`
    : '';
  return (
    `<div class="lead"><h1>${esc(heading(view))}</h1><nav class="who" aria-label="Chillers">${both}${ids.join('')}</nav>` +
    `<form class="period" method="get"><input type="hidden" name="units" value="${view.system}">${view.look === 'auto' ? '' : `<input type="hidden" name="look" value="${view.look}">`}` +
    `${day('from', days[0])}${day('to', days[1])}<button>Show</button>${year}</form></div>`
  );
}

/**
 * The verdict in a sentence or two, in money where there is a tariff.
 * @param {View} view
 */
function verdict(view) {
  const season = seasonOf(view);
  const total = totalOf(view);
  if (total === null || total.minutes_recorded === 0)
    return 'Nothing is recorded in this period: no minute of it is in the store.';
  const name =
    season.who === 'both' ? (season.chillers.length === 2 ? 'Both chillers' : 'The chillers') : esc(season.who);
  const hours = total.minutes_used / 60;
  if (!(Number(total.kwh) > 0))
    return `${name} did not run: ${num(total.minutes_standing / 60, 0)} hours at standstill.`;
  const so_far =
    hours < 24 * season.chillers.length
      ? `<b>${num(hours, hours < 10 ? 1 : 0)} hours so far</b>: enough to see that it works, too few to judge a season by. `
      : '';
  const cold = figure(view, cooling(view, 'ton_hours', total.ton_hours, null));
  const made = `${name} made ${cold} with ${figure(view, energy('kwh', total.kwh, null))}`;
  return `${so_far}${made}${against(view)}${lacking(view)}`;
}

/** @param {View} view */
function against(view) {
  const season = seasonOf(view);
  const total = totalOf(view);
  const found = total?.against ?? null;
  if (total === null || found === null || found.deviation === null) return `. ${whyNone(view)}`;
  const clean = season.who === 'both' ? 'clean machines' : 'the clean machine';
  const compared = Number(total.kwh) > 0 ? found.kwh / Number(total.kwh) : 0;
  const where =
    compared > 0.97
      ? 'in the same hours'
      : `in the hours that can be compared (${num(100 * compared, 0)} % of the energy)`;
  const spread = found.uncertainty.deviation ?? 0;
  const price =
    found.cost === null
      ? ''
      : `, worth ${figure(view, money(view, 'cost', Math.abs(found.cost), found.cost_uncertainty), { before: true })}`;
  if (Math.abs(found.deviation) <= spread)
    return `: what ${clean} would have used ${where}, within ±${percent('', spread, spread).plus} %.`;
  const shown = percent('deviation', Math.abs(found.deviation), spread);
  const how = found.deviation > 0 ? 'more' : 'less';
  return `: <b>${shown.text} ±${shown.plus} % ${how}</b> than ${clean} would have used ${where}${price}.`;
}

/** @param {View} view */
function whyNone(view) {
  const { chillers } = seasonOf(view);
  const declared = chillers.filter((machine) => machine.baseline !== null);
  if (declared.length === 0)
    return 'What that is to be compared with is not declared: give the days of a clean machine as <code>baseline</code> in the site file.';
  const reasons = declared.flatMap(({ chiller, baseline: based }) =>
    based?.reason == null ? [] : [`${chiller}: ${based.reason}`],
  );
  return reasons.length === 0
    ? 'No hour of this period can be compared with the baseline.'
    : `The baseline is not there yet. ${esc(reasons.join('. '))}.`;
}

/** @param {View} view */
function lacking(view) {
  const total = totalOf(view);
  if (total === null) return '';
  const share = total.minutes_due > 0 ? total.minutes_lacking / total.minutes_due : 0;
  const none = 'chillers' in total ? Object.entries(total.lacking).map(([id, reason]) => `${id}: ${reason}`) : [];
  const words = none.length === 0 ? '' : ` Not in the sum: ${esc(none.join('; '))}.`;
  return share > 0.02 ? ` ${num(100 * share, 0)} % of the minutes due are lacking.${words}` : words;
}

/** @param {View} view */
function keys(view) {
  const season = seasonOf(view);
  const total = totalOf(view);
  if (total === null) return '';
  const found = total.against;
  const key = (/** @type {string} */ term, /** @type {string} */ value, /** @type {string} */ more) =>
    `<div><dt>${term}</dt><dd><div class="k">${value}</div><div class="more">${more}</div></dd></div>`;
  const clean = perTon(view, 'kw_per_ton_expected', found?.kw_per_ton_expected ?? null, null);
  const common = 'uncertainty_common' in total ? total.uncertainty_common.kw_per_ton : null;
  const sure =
    common === null
      ? 'energy over ton-hours'
      : `±${perTon(view, '', total.kw_per_ton, common).plus} if their meters err alike`;
  const first = key(
    view.system === 'si' ? 'Cooling per power' : 'Power per ton',
    figure(view, perTon(view, 'kw_per_ton', total.kw_per_ton, total.uncertainty.kw_per_ton)),
    found === null || clean.text === '' ? sure : `clean machine ${clean.text} in the hours compared`,
  );
  const against_ = key(
    'Against clean machine',
    figure(view, percent('deviation', found?.deviation ?? null, found?.uncertainty.deviation ?? null, true)),
    found === null ? 'no baseline to compare with' : `same load, same water; ${num(found.hours, 0)} h compared`,
  );
  const bill = total.money;
  const cost =
    bill === null
      ? key('Energy', figure(view, energy('kwh', total.kwh, total.uncertainty.kwh)), 'no tariff in the site file')
      : found === null
        ? key(
            'Cost of energy',
            figure(view, money(view, 'energy', bill.energy, bill.uncertainty.energy), { before: true }),
            `at ${bill.price_per_kwh} ${esc(bill.currency)} per kWh`,
          )
        : key(
            'Cost of drift',
            figure(view, money(view, 'cost', found.cost, found.cost_uncertainty), { before: true }),
            `of a bill of ${figure(view, money(view, 'energy', bill.energy, bill.uncertainty.energy), { before: true })}`,
          );
  const { saved, missed, minutes_off } = total.economizer;
  const away = `, off for ${num(minutes_off / 60, 0)} h`;
  const plural = season.chillers.length > 1 ? 'Economizers' : 'Economizer';
  const amount = (/** @type {'saved' | 'missed'} */ name) =>
    bill === null
      ? energy(name, total.economizer[name].kwh, total.economizer[name].uncertainty)
      : money(view, name, bill[name], bill.uncertainty[name]);
  const below = (/** @type {typeof saved} */ figure_, /** @type {string} */ words) => {
    if (figure_.kwh === null) return esc(figure_.reason ?? '');
    const { text, label } = energy('', figure_.kwh, figure_.uncertainty);
    return `${text} ${label}${words}`;
  };
  const off = minutes_off > 0 ? below(missed, away) : 'never off';
  return (
    `<dl class="keys">${first}${against_}${cost}` +
    `${key(`${plural} saved`, figure(view, amount('saved'), { before: bill !== null }), below(saved, ''))}` +
    `${key('Economizer saving missed', figure(view, amount('missed'), { before: bill !== null }), off)}</dl>`
  );
}

/** @param {View} view */
function foot(view) {
  const { tariff, notes, who } = seasonOf(view);
  const parts = [
    '± expanded uncertainty, k = 2',
    `scope: ${notes['scope']}`,
    notes['uncertainty'] ?? '',
    'against the clean machine: uncertainty of the model and its scatter; what a sensor is wrong by is in both and cancels, a sensor that has drifted since looks like the machine',
    who === 'both' ? 'the machines: meters of their own; if all err alike, as said beside' : '',
    tariff === null ? '' : `tariff: ${tariff.price_per_kwh} ${esc(tariff.currency)} per kWh, taken as exact`,
    'field values, not certified ratings',
    `version ${esc(view.site.version)}`,
  ];
  return `<footer class="foot">${parts
    .filter((part) => part !== '')
    .map((part) => `<span>${part}</span>`)
    .join('')}</footer>`;
}

/**
 * The season view, without the head. `drawing`: the chart.
 * @param {View} view
 * @param {string} drawing
 */
export function seasonMain(view, drawing) {
  const season = seasonOf(view);
  if (season.fault !== null)
    return `<div class="season">${lead(view)}<p class="verdict">${esc(season.fault)}</p></div>`;
  const total = totalOf(view);
  const head = `${lead(view)}<p class="verdict">${verdict(view)}</p>`;
  if (total === null || total.minutes_recorded === 0) return `<div class="season">${head}${foot(view)}</div>`;
  const [one] = season.chillers;
  const single = season.plant === null && one !== undefined;
  const marks = events(view).map(
    ({ letter, words, time }) => `<li><b>${letter}</b> ${dateText(time, view.site.time_zone)}: ${esc(words)}</li>`,
  );
  const list = marks.length === 0 ? '' : `<ol class="marks narrowonly">${marks.join('')}</ol>`;
  const block = (/** @type {string} */ body) => (body === '' ? '' : `<section>${body}</section>`);
  const beside = single
    ? `${block(loadLift(view, one))}${block(worth(view))}`
    : `${block(machines(view))}${block(worth(view))}`;
  const behind = single
    ? [
        energies(view),
        minutes(view),
        partLoad(view, one),
        baseline(view, one),
        bins(view, one),
        log(view),
        downloads(view),
      ]
    : [
        energies(view),
        minutes(view),
        ...season.chillers.map((machine) => baseline(view, machine)),
        log(view),
        downloads(view),
      ];
  return (
    `<div class="season">${head}${keys(view)}<div class="year">${drawing}</div>${list}` +
    `<div class="under"><section>${months(view)}</section><div class="pair">${beside}</div></div>` +
    `<div class="behind">${behind.map(block).join('')}</div>${foot(view)}</div>`
  );
}

/**
 * The chart at the width of a window.
 * @param {View} view
 * @param {{ width: number, window: number }} size px
 */
export function seasonChart(view, { width, window }) {
  return chart(view, { width, size: window >= 2300 ? 18 : window >= 1600 ? 14.5 : 12.5 });
}
