/**
 * The sheet: every figure in ruled tables, decimals in line, reasons under the table. Shows only what the agent has.
 * Pure.
 * @import { Figure, View } from '../page-types.ts'
 */
import { openAlarms, staged } from './circuit.js';
import { chillerOf, condition, economizerOf, resting, shownNow } from './condition.js';
import { cell, figureOf, lacks, reasonRows, unitText } from './figures.js';
import { mark } from './plant.js';
import { clockText, esc, sinceText, timeOf } from './text.js';

/**
 * @param {View} view
 * @param {string} id
 * @param {{ key: string, caption: string, heads?: readonly string[], note?: string }} table
 * @param {readonly (readonly [string, ...(string | null)[]])[]} rows label and one name a column
 */
function table(view, id, { key, caption, heads = [], note = '' }, rows) {
  const columns = Math.max(1, heads.length);
  const { kind, time } = condition(view, id);
  /** @type {[string, Figure | null][]} */
  const named = [];
  let body = '';
  const rest = resting(shownNow(view, id));
  let off = 0;
  for (const [words, ...names] of rows) {
    const figures = names.slice(0, columns).map((name) => (name === null ? null : figureOf(view, id, name)));
    if (figures.every((figure) => figure === null)) continue;
    if (rest && figures.every((figure) => figure === null || figure.off)) {
      off++;
      continue;
    }
    named.push(...figures.map((figure) => /** @type {[string, Figure | null]} */ ([words, figure])));
    body += rowsOf(view, words, figures);
  }
  if (off > 0)
    body += `<tr><th scope="row">${body === '' ? 'all' : 'all else'}</th><td class="rest" colspan="${columns + 1}"><b>off</b></td></tr>`;
  if (body === '') return '';
  const last =
    kind === 'lost' || kind === 'stale'
      ? ` <span class="dim">last known ${clockText(time ?? view.clock, view.site.time_zone)}</span>`
      : '';
  const head =
    heads.length === 0 || named.length === 0
      ? ''
      : `<thead><tr><td></td>${heads.map((h) => `<th scope="col"><span class="pad"></span>${h}</th>`).join('')}<td></td></tr></thead>`;
  const foot = note === '' ? '' : `<tr class="why"><td colspan="${columns + 2}">${note}</td></tr>`;
  return `<table class="${key}"><caption>${caption}${last}</caption>${head}<tbody>${body}${reasonRows(named, columns + 2)}${foot}</tbody></table>`;
}

/**
 * One row, or one for each figure where their units differ (a pressure above and one below that of the air).
 * @param {View} view
 * @param {string} words
 * @param {readonly (Figure | null)[]} figures
 */
function rowsOf(view, words, figures) {
  const row = (/** @type {readonly (Figure | null)[]} */ list) =>
    `<tr><th scope="row">${words}</th>${list.map((figure) => cell(figure, view)).join('')}<td class="un">${unitsOf(view, list).map(esc).join('')}</td></tr>`;
  if (unitsOf(view, figures).length < 2) return row(figures);
  return figures
    .map((one, at) => (one === null ? '' : row(figures.map((_other, i) => (i === at ? one : null)))))
    .join('');
}

/**
 * @param {View} view
 * @param {readonly (Figure | null)[]} figures
 */
function unitsOf(view, figures) {
  const labels = figures.flatMap((figure) => (figure === null || figure.off ? [] : [unitText(figure, view)]));
  return [...new Set(labels)];
}

/**
 * A row of so many columns: one quantity of each component.
 * @type {(words: string, quantity: string, of: readonly string[]) => readonly [string, ...string[]]}
 */
const both = (words, quantity, of) => [words, ...of.map((component) => `${component}.${quantity}`)];

/**
 * @param {View} view
 * @param {string} id
 */
function dutyTable(view, id) {
  return table(view, id, { key: 'g1', caption: 'Duty', note: 'the chiller alone, without pumps and tower' }, [
    ['capacity', 'unit.capacity'],
    ['power', 'unit.power'],
    ['power per ton', view.system === 'ip' ? 'unit.kw_per_ton' : null],
    ['coefficient of performance', 'unit.cop'],
    ['share of the Carnot limit', 'unit.carnot_fraction'],
    ['heat rejected', 'condenser.heat_rejected'],
    ['heat balance', 'unit.heat_balance_error'],
    ['starts since watched', 'unit.starts'],
    ['hours run since watched', 'unit.run_hours'],
  ]);
}

/**
 * @param {View} view
 * @param {string} id
 * @param {'on' | 'off' | 'none' | 'unknown'} mode of the economizer
 */
function economizerTable(view, id, mode) {
  const one = mode === 'none';
  return table(view, id, { key: 'g2', caption: one ? 'Flash' : 'Economizer and flash' }, [
    mode === 'off' ? ['saving missed', 'economizer.missed_saving'] : ['power saved', 'economizer.power_saved'],
    mode === 'off'
      ? ['share of power missed', 'economizer.missed_saving_fraction']
      : ['share of power saved', 'economizer.saving_fraction'],
    ['at the least', mode === 'off' ? null : 'economizer.saving_fraction_low'],
    ['at the most', mode === 'off' ? null : 'economizer.saving_fraction_high'],
    ['refrigerating effect gained', 'economizer.refrigerating_effect_gain'],
    ...(chillerOf(view, id)?.circuit?.rows ?? []),
    ['flash fraction, first stage', 'flash_tank.flash_fraction'],
    [one ? 'flash fraction' : 'flash fraction, second stage', 'evaporator.flash_fraction'],
    ['first without subcooling', 'flash_tank.flash_fraction_without_subcooling'],
    ['subcooling', 'condenser.subcooling'],
    ['power saved by subcooling', 'subcooling.economizer_power_avoided'],
  ]);
}

/**
 * @param {View} view
 * @param {string} id
 * @param {'on' | 'off' | 'none' | 'unknown'} mode of the economizer
 */
function machineTable(view, id, mode) {
  if (staged(chillerOf(view, id))) return stageTable(view, id, mode);
  const one = mode === 'none';
  const compressors = /** @type {const} */ (['main_compressor', 'economizer_compressor']);
  return table(
    view,
    id,
    { key: 'g3', caption: one ? 'Compressor' : 'Compressors', heads: one ? ['main'] : ['main', 'economizer'] },
    [
      both('power', 'power', compressors),
      both('lift', 'lift', compressors),
      both('pressure ratio', 'pressure_ratio', compressors),
      both('isentropic head', 'isentropic_head', compressors),
      both('isentropic efficiency', 'isentropic_efficiency', compressors),
      both('polytropic efficiency', 'polytropic_efficiency', compressors),
      both('suction volume flow', 'suction_volume_flow', compressors),
      both('discharge superheat', 'discharge_superheat', compressors),
      ['refrigerant flow', 'main_compressor.mass_flow', 'flash_tank.vapour_mass_flow'],
      both('starts', 'starts', compressors),
      both('run hours', 'run_hours', compressors),
    ],
  );
}

/**
 * Two stages of one machine. Over both no isentropic efficiency is meant while vapour joins between them.
 * @param {View} view
 * @param {string} id
 * @param {'on' | 'off' | 'none' | 'unknown'} mode of the economizer
 */
function stageTable(view, id, mode) {
  const of = (/** @type {string} */ quantity) => `main_compressor.${quantity}`;
  return table(
    view,
    id,
    {
      key: 'g3',
      caption: `Compressor of ${chillerOf(view, id)?.circuit?.on.some((leg) => leg.id === 'third stage') ? 'three' : 'two'} stages`,
    },
    [
      ['power', of('power')],
      ['lift', of('lift')],
      ['lift of the first stage', mode === 'off' ? null : of('first_stage_lift')],
      ['lift of the second stage', mode === 'off' ? null : of('second_stage_lift')],
      ['pressure ratio', of('pressure_ratio')],
      ['isentropic head', of('isentropic_head')],
      ['isentropic efficiency', mode === 'off' ? of('isentropic_efficiency') : null],
      ['polytropic efficiency', of('polytropic_efficiency')],
      ['suction volume flow', of('suction_volume_flow')],
      ['discharge superheat', of('discharge_superheat')],
      ['refrigerant flow, first stage', of('mass_flow')],
      ['refrigerant flow, tank vapour', 'flash_tank.vapour_mass_flow'],
      ['starts', of('starts')],
      ['run hours', of('run_hours')],
    ],
  );
}

/**
 * @param {View} view
 * @param {string} id
 */
function exchangerTable(view, id) {
  const barrels = /** @type {const} */ (['condenser', 'evaporator']);
  const waters = /** @type {const} */ (['condenser_water', 'chilled_water']);
  return table(view, id, { key: 'g4', caption: 'Heat exchangers', heads: ['condenser', 'evaporator'] }, [
    both('pressure', 'pressure', barrels),
    both('saturation temperature', 'saturation_temperature', barrels),
    both('water entering', 'entering_temperature', waters),
    both('water leaving', 'leaving_temperature', waters),
    both('water flow', 'flow', waters),
    both('approach', 'approach', barrels),
    both('UA', 'ua', barrels),
    both('refrigerant flow', 'mass_flow', barrels),
  ]);
}

/** Each vessel whose level a valve holds. */
const LOOPS = /** @type {const} */ ([
  { vessel: 'condenser', valve: 'condenser_valve', words: 'condenser' },
  { vessel: 'flash_tank', valve: 'tank_valve', words: 'tank' },
  { vessel: 'flash_tank_2', valve: 'tank_valve_2', words: 'second tank' },
]);

/**
 * @param {View} view
 * @param {string} id
 */
function levelTables(view, id) {
  const loops = LOOPS.filter(({ vessel }) => !lacks(view, id, `${vessel}.level`));
  // a third column does not fit the sheet
  const alone = (/** @type {(typeof LOOPS)[number]} */ loop) =>
    loopTable(view, id, { key: 'g7', caption: `Level loop of the ${loop.words}`, loops: [loop] });
  const caption = loops.length === 1 ? 'Level loop' : 'Level loops';
  return loopTable(view, id, { key: 'g5', caption, loops: loops.slice(0, 2) }) + loops.slice(2).map(alone).join('');
}

/**
 * @param {View} view
 * @param {string} id
 * @param {{ key: string, caption: string, loops: readonly (typeof LOOPS)[number][] }} of
 */
function loopTable(view, id, { key, caption, loops }) {
  const [vessels, valves] = [loops.map(({ vessel }) => vessel), loops.map(({ valve }) => valve)];
  const ofTank = (/** @type {string} */ of) => vessels.map((v) => (v === 'condenser' ? null : `${v}.${of}`));
  return table(view, id, { key, caption, heads: loops.map(({ words }) => words) }, [
    both('level', 'level', vessels),
    both('set point', 'level_setpoint', vessels),
    both('valve position', 'position', valves),
    both('valve command', 'command', valves),
    ['tank pressure', ...ofTank('pressure')],
    ['tank saturation', ...ofTank('saturation_temperature')],
    ...loopRows(view, id, { valves, vessels }),
  ]);
}

/**
 * What was found of the loops' movement; a loop that does not swing has no period, and one watched too short no index:
 * such a row is left out.
 * @param {View} view
 * @param {string} id
 * @param {{ valves: readonly string[], vessels: readonly string[] }} of
 */
function loopRows(view, id, { valves, vessels }) {
  const { values } = shownNow(view, id);
  /** @type {readonly (readonly [string, string, readonly string[]])[]} */
  const rows = [
    ['liquid taken up', 'storage_mass_flow', vessels],
    ['hunting, from 0.50 on', 'hunting_index', valves],
    ['period', 'period', valves],
    ['level swing', 'level_amplitude', valves],
    ['valve travel, strokes', 'travel_per_hour', valves],
    ['valve reversals', 'reversals_per_hour', valves],
  ];
  return rows
    .filter(([, name, parts]) => parts.some((part) => typeof values[`${part}.${name}`] === 'number'))
    .map(([words, name, parts]) => both(words, name, parts));
}

/**
 * @param {View} view
 * @param {string} id
 */
export function sheet(view, id) {
  if (condition(view, id).kind === 'waiting') return '';
  const mode = economizerOf(view, id);
  const column = (/** @type {string[]} */ ...tables) => `<div class="column">${tables.join('')}</div>`;
  return (
    `<div class="sheet">${column(dutyTable(view, id), machineTable(view, id, mode))}` +
    `${column(economizerTable(view, id, mode), levelTables(view, id))}` +
    `${column(exchangerTable(view, id), alarms(view, id))}</div>`
  );
}

/**
 * Open alarms of the chiller, worst first.
 * @param {View} view
 * @param {string} id
 */
function alarms(view, id) {
  const open = openAlarms(view.alarms, id);
  const zone = view.site.time_zone;
  const rows = open.slice(0, 6).map((alarm) => {
    const since = timeOf(alarm.since);
    const when = since === null ? '' : sinceText(since, view.clock, zone);
    const words = `${esc(alarm.title)}<br><span class="dim">${esc(alarm.state)}</span>`;
    const sign = mark(alarm.priority, alarm.state === 'unacknowledged');
    return `<tr><td class="mk">${sign}</td><th scope="row">${words}</th><td class="un">${when}</td></tr>`;
  });
  const more = open.length > 6 ? `<tr class="why"><td colspan="3">and ${open.length - 6} more</td></tr>` : '';
  const none = '<tr><th scope="row" colspan="3">none</th></tr>';
  return `<table class="g6"><caption>Open alarms</caption><tbody>${rows.length === 0 ? none : rows.join('') + more}</tbody></table>`;
}
