/**
 * Tables of the season view that the owner reads first: months, load and lift, what it was worth, the machines. Pure.
 * @import { SeasonMachine, SeasonPlant, View } from '../page-types.ts'
 */
import { cell, cooling, cut, dateText, energy, figure, money, percent, perTon } from './season-figures.js';
import { esc, num } from './text.js';

/**
 * @param {View} view
 * @returns {SeasonPlant | SeasonMachine | null}
 */
export function totalOf(view) {
  return view.season?.plant ?? view.season?.chillers[0] ?? null;
}

/** @param {View} view */
function seasonOf(view) {
  return /** @type {NonNullable<View['season']>} */ (view.season);
}

/**
 * A month's name; where it is cut by the period, by which days.
 * @param {View} view
 * @param {{ name: string, from: string, to: string }} month
 */
function monthName(view, month) {
  const { days } = seasonOf(view);
  const zone = view.site.time_zone;
  const name = dateText((Date.parse(month.from) + Date.parse(month.to)) / 2, zone, 'month');
  const first = days[0].startsWith(month.name) ? Number(days[0].slice(8)) : 1;
  const last = days[1].startsWith(month.name) ? Number(days[1].slice(8)) : 0;
  if (last > 0 && first === last) return `${name}, ${last}`;
  return `${name}${first > 1 ? ` from ${first}` : ''}${last > 0 ? ` to ${last}` : ''}`;
}

/** @param {View} view */
export function months(view) {
  const season = seasonOf(view);
  const total = totalOf(view);
  if (total === null) return '';
  const based = season.months.some((month) => month.against !== null);
  const priced = season.tariff !== null;
  const most = Math.max(...season.months.map((month) => month.kwh ?? 0), 0);
  const tons = Math.max(...season.months.map((month) => month.ton_hours ?? 0), 0);
  const unit = season.tariff?.currency ?? energy('', most, null).label;
  const worth = (/** @type {string} */ name, /** @type {number | null} */ kwh, /** @type {number | null} */ u) =>
    season.tariff === null
      ? energy(name, kwh, u, { most })
      : money(
          view,
          name,
          kwh === null ? null : kwh * season.tariff.price_per_kwh,
          u === null ? null : u * season.tariff.price_per_kwh,
        );
  const row = (
    /** @type {string} */ name,
    /** @type {typeof season.months[number] | NonNullable<typeof total>} */ month,
  ) => {
    const { against } = month;
    const saved = worth('saved', month.kwh_saved, (month.kwh_saved ?? 0) / 20);
    const missed = worth('missed', month.kwh_missed, (month.kwh_missed ?? 0) / 20);
    const some = (month.kwh_missed ?? 0) > 0.5;
    const wide = { cls: 'wide' };
    return (
      `<tr><th scope="row">${esc(name)}</th>${cell(view, cooling(view, 'ton_hours', month.ton_hours, null, tons), { cls: 'wide' })}` +
      `${cell(view, energy('kwh', month.kwh, null, { most }), { cls: 'wide' })}` +
      `${cell(view, perTon(view, 'kw_per_ton', month.kw_per_ton, month.uncertainty.kw_per_ton))}` +
      (based
        ? cell(view, perTon(view, 'kw_per_ton_expected', against?.kw_per_ton_expected ?? null, null), { cls: 'wide' }) +
          cell(view, percent('deviation', against?.deviation ?? null, against?.uncertainty.deviation ?? null, true)) +
          cell(view, worth('cost', against?.kwh_more ?? null, against?.uncertainty.kwh_more ?? null))
        : priced
          ? cell(view, worth('energy', month.kwh, (month.kwh ?? 0) / 50))
          : '') +
      `${cell(view, { ...saved, plus: '' }, wide)}${cell(view, { ...missed, ...(some ? {} : { text: '' }), plus: '' }, wide)}</tr>`
    );
  };
  const label = view.system === 'si' ? 'COP' : 'kW/ton';
  const head = (/** @type {string} */ words, cls = '') =>
    `<th scope="col"${cls === '' ? '' : ` class="${cls}"`}>${esc(words)}</th>`;
  return (
    `<h2 id="months">Months <span>${label} is energy over ton-hours of the month</span></h2>` +
    `<table class="months"><caption class="hide">Months of the season</caption><thead><tr><td></td>${head(cooling(view, '', tons, null, tons).label, 'wide')}` +
    `${head(energy('', most, null).label, 'wide')}${head(label)}` +
    (based
      ? `${head('clean machine', 'wide')}${head('deviation, %')}${head(`drift, ${unit}`)}`
      : priced
        ? head(`cost, ${unit}`)
        : '') +
    `${head(`economizer saved, ${unit}`, 'wide')}${head(`missed, ${unit}`, 'wide')}</tr></thead>` +
    `<tbody>${season.months.map((month) => row(monthName(view, month), month)).join('')}</tbody>` +
    `<tfoot>${row('all', total)}</tfoot></table>`
  );
}

/**
 * Labels of bins by their edges.
 * @param {readonly number[]} edges as shown
 */
function edgeWords(edges) {
  const text = edges.map((edge) => num(edge, 0));
  return [`under ${text[0]}`, ...text.slice(1).map((edge, i) => `${text[i]} to ${edge}`), `over ${text.at(-1)}`];
}

/**
 * @param {View} view
 * @param {SeasonMachine} machine
 */
export function loadLift(view, machine) {
  const { load_edges, lift_edges } = seasonOf(view);
  const ip = view.system === 'ip';
  const loads = edgeWords(load_edges.map((edge) => edge * 100)).map((words) => `${words} %`);
  const lifts = edgeWords(lift_edges.map((edge) => edge * (ip ? 1.8 : 1)));
  const based = machine.load_lift.some((bin) => bin.deviation !== null);
  const found = new Map(machine.load_lift.map((bin) => [bin.load * 100 + bin.lift, bin]));
  const body = loads.map((words, load) => {
    const cells = lifts.map((_, lift) => {
      const bin = found.get(load * 100 + lift);
      if (bin === undefined) return '<td></td>';
      const few = bin.hours < 40;
      const out = !few && bin.deviation !== null && Math.abs(bin.deviation) > (bin.uncertainty ?? 0);
      const shown = based
        ? percent('deviation', bin.deviation, bin.uncertainty, true)
        : perTon(view, 'kw_per_ton', bin.kw_per_ton, null);
      const value = shown.text === '' ? '<i>beyond the fit</i>' : `<b>${shown.text}${based ? ' %' : ''}</b>`;
      return `<td class="${few ? 'few' : out ? 'out' : 'in'}">${value}<small>${num(bin.hours, 0)} h</small></td>`;
    });
    return `<tr><th scope="row">${words}</th>${cells.join('')}</tr>`;
  });
  const what = based ? 'deviation from the clean machine, steady hours' : `${ip ? 'kW/ton' : 'COP'}, steady hours`;
  const note = based
    ? 'Framed: beyond the uncertainty of the bin. Light: fewer than 40 hours. Empty: never ran there.'
    : 'Light: fewer than 40 hours. Empty: never ran there.';
  return (
    `<h2>By load and lift, ${esc(machine.chiller)} <span>${what}</span></h2>` +
    `<table class="bins"><caption class="hide">By load and lift</caption><thead><tr><th scope="col">load, lift ${ip ? '°F' : 'K'}</th>` +
    `${lifts.map((words) => `<th scope="col">${words}</th>`).join('')}</tr></thead><tbody>${body.join('')}</tbody></table>` +
    `<p class="dim note">${note} Lift: entering condenser water less leaving chilled water.</p>`
  );
}

/**
 * @param {string} words
 * @param {string} body cells
 */
function line(words, body) {
  return `<tr><th scope="row">${esc(words)}</th>${body}</tr>`;
}

/**
 * What machines, work and economizers were worth.
 * @param {View} view
 */
export function worth(view) {
  const season = seasonOf(view);
  const { tariff } = season;
  const zone = view.site.time_zone;
  const cellOf = (
    /** @type {string} */ name,
    /** @type {string} */ who,
    /** @type {number | null} */ kwh,
    /** @type {number | null} */ u,
  ) => {
    const price = tariff?.price_per_kwh ?? 1;
    const amount = kwh === null ? null : kwh * price;
    const spread = u === null ? null : u * price;
    const shown = tariff === null ? energy(name, kwh, u) : money(view, name, amount, spread);
    return `<td>${figure(view, shown, { who, before: tariff !== null })}</td>`;
  };
  const rows = season.chillers.flatMap((machine) => {
    const { chiller, against, economizer, maintenance } = machine;
    /** @type {string[]} */
    const list = [];
    if (against !== null)
      list.push(
        line(
          `${chiller} took more than the clean machine`,
          cellOf('cost', chiller, against.kwh_more, against.uncertainty.kwh_more),
        ),
      );
    for (const { kind, time, worth: value } of maintenance) {
      if (value === null) continue;
      const words = `${chiller} ${kind.replace('_', ' ')} ${dateText(Date.parse(time), zone)}`;
      list.push(
        value.kwh_avoided === null
          ? line(words, `<td class="words">${esc(value.reason ?? '')}</td>`)
          : line(`${words}: avoided since`, cellOf('avoided', chiller, value.kwh_avoided, value.uncertainty)),
      );
    }
    if (economizer.saved.kwh !== null && economizer.minutes_on > 0)
      list.push(
        line(
          `${chiller} economizer saved`,
          cellOf('saved', chiller, economizer.saved.kwh, economizer.saved.uncertainty),
        ),
      );
    if (economizer.missed.kwh !== null && economizer.minutes_off > 0)
      list.push(
        line(
          `${chiller} economizer off for ${num(economizer.minutes_off / 60, 0)} h, missed`,
          cellOf('missed', chiller, economizer.missed.kwh, economizer.missed.uncertainty),
        ),
      );
    return list;
  });
  if (rows.length === 0) return '';
  return `<h2>What it was worth</h2><table class="worth"><caption class="hide">What it was worth</caption><tbody>${rows.join('')}</tbody></table>`;
}

/**
 * The machines of the plant side by side.
 * @param {View} view
 */
export function machines(view) {
  const { chillers } = seasonOf(view);
  const most = Math.max(...chillers.map((one) => one.kwh ?? 0), 0);
  const tons = Math.max(...chillers.map((one) => one.ton_hours ?? 0), 0);
  const off = (/** @type {SeasonMachine} */ { against }) =>
    percent('deviation', against?.deviation ?? null, against?.uncertainty.deviation ?? null, true);
  const rows = chillers.map((one) => {
    const who = { who: one.chiller };
    const link = `<a href="/season/${encodeURIComponent(one.chiller.toLowerCase())}${seasonQuery(view)}">${esc(one.chiller)}</a>`;
    const { text } = cut(one.minutes_used / 60, null, 0);
    return (
      `<tr><th scope="row">${link}</th>${cell(view, cooling(view, 'ton_hours', one.ton_hours, one.uncertainty.ton_hours, tons), { ...who, cls: 'wide' })}` +
      `${cell(view, energy('kwh', one.kwh, one.uncertainty.kwh, { most }), who)}` +
      `${cell(view, perTon(view, 'kw_per_ton', one.kw_per_ton, one.uncertainty.kw_per_ton), who)}` +
      `${cell(view, off(one), { ...who, missing: 'none' })}` +
      `<td class="wide">${text} h</td></tr>`
    );
  });
  const label = view.system === 'si' ? 'COP' : 'kW/ton';
  return (
    '<h2>Machines <span>each with its own page</span></h2><table class="months"><caption class="hide">Machines</caption><thead><tr><td></td>' +
    `<th scope="col" class="wide">${esc(cooling(view, '', tons, null, tons).label)}</th><th scope="col">${energy('', most, null).label}</th><th scope="col">${label}</th>` +
    `<th scope="col">deviation, %</th><th scope="col" class="wide">used</th></tr></thead><tbody>${rows.join('')}</tbody></table>`
  );
}

/**
 * Units, look and period, as every address of the season carries them.
 * @param {View} view
 */
export function seasonQuery(view) {
  const { asked, days } = seasonOf(view);
  const look = view.look === 'auto' ? '' : `&amp;look=${view.look}`;
  const period = asked
    ? `&amp;from=${esc(encodeURIComponent(days[0]))}&amp;to=${esc(encodeURIComponent(days[1]))}`
    : '';
  return `?units=${view.system}${look}${period}`;
}
