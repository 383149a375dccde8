/**
 * The sentence that says how the chiller stands, and its five key figures. Pure.
 * @import { View } from '../page-types.ts'
 */
import { staged } from './circuit.js';
import { chillerOf, condition, economizerOf, resting, shownNow, unheard } from './condition.js';
import { figureOf, span, written } from './figures.js';
import { clockText, esc, num, sinceText, spanText, timeOf } from './text.js';
import { write } from './units.js';

/**
 * A figure inside a sentence: value, uncertainty, unit; empty where there is none.
 * @param {View} view
 * @param {string} id
 * @param {string} name
 */
function said(view, id, name) {
  const figure = figureOf(view, id, name);
  return figure === null || figure.value === null || figure.last ? '' : span(figure, view);
}

/**
 * @param {View} view
 * @param {string} id
 */
export function sentence(view, id) {
  const now = shownNow(view, id);
  const { kind, time } = condition(view, id);
  const zone = view.site.time_zone;
  if (unheard(view, id)) return 'Its controller has not answered yet: nothing is known of it.';
  if (kind === 'waiting')
    return 'The agent reads the controller and solves the circuit at the end of the first interval.';
  const since = time === null ? '' : clockText(time, zone);
  if (kind === 'lost')
    return `Its controller has not answered since ${since}. Everything below is what was last known; the machine may have changed or stopped since.`;
  if (kind === 'stale')
    return `Nothing was heard from the agent since ${since}. Everything below is what was last known.`;
  const duty = resting(now) ? restSentence(view, id) : economizerSentence(view, id);
  const parts = [`${stateSentence(view, id)}.`, duty, pointsSentence(now)];
  return parts.filter((part) => part !== '').join(' ');
}

/**
 * @param {View} view
 * @param {string} id
 */
function stateSentence(view, id) {
  const now = shownNow(view, id);
  const words = now.state === 'unknown' ? 'State not known' : now.state.charAt(0).toUpperCase() + now.state.slice(1);
  // Said of a machine that runs since the agent came to watch it: how long that is, not how long it runs.
  if (now.state === 'running') return 'Running, watched too short to say whether steadily';
  const since = timeOf(now.state_since);
  if (since === null) return esc(words);
  const s = (view.clock - since) / 1000;
  return s < 60
    ? esc(words)
    : `${esc(words)} for ${spanText(Math.floor(s / 60) * 60, true).replace(/^60 s$/, '1 min')}`;
}

/**
 * Of a machine that does not run: how much it has, and what is still measured.
 * @param {View} view
 * @param {string} id
 */
function restSentence(view, id) {
  const starts = said(view, id, 'unit.starts');
  const hours = said(view, id, 'unit.run_hours');
  const counts = [starts === '' ? '' : `${starts} starts`, hours === '' ? '' : `${hours} run`].filter((t) => t !== '');
  const measured = 'No circuit is solved while it does not run; pressures, levels and water are measured.';
  return counts.length === 0 ? measured : `Since it is watched ${counts.join(', ')}. ${measured}`;
}

/**
 * @param {View} view
 * @param {string} id
 */
function economizerSentence(view, id) {
  const now = shownNow(view, id);
  const circuit = chillerOf(view, id)?.circuit;
  if (now.economizer === 'off') {
    const missed = said(view, id, 'economizer.missed_saving');
    const words = `The economizer is off: no vapour leaves ${circuit ? 'it' : 'the tank'}`;
    return missed === '' ? `${words}.` : `${words}, and ${missed} is spent that it would save.`;
  }
  if (now.economizer !== 'on') return '';
  const flash = said(view, id, circuit?.flash[1] ?? 'flash_tank.flash_fraction');
  const saving = figureOf(view, id, 'economizer.saving_fraction');
  if (flash === '') return '';
  const first = `${flash} of the condensed refrigerant leaves ${circuit?.where ?? 'the tank'} as vapour`;
  if (saving === null || saving.value === null) return `${first}.`;
  const uncertainty = saving.uncertainty ?? 0;
  if (saving.value + uncertainty <= 0)
    return `${first}; the economizer costs power now, its saving is ${span(saving, view)}.`;
  if (saving.value - uncertainty <= 0) return `${first}; whether it saves power cannot be told: ${span(saving, view)}.`;
  return `${first} and saves ${span(saving, view)} of the power.`;
}

/** @param {import('../types.ts').Now} now */
function pointsSentence(now) {
  const bad = Object.values(now.points).filter((point) => point.quality === 'bad').length;
  const doubtful = Object.values(now.points).filter((point) => point.quality === 'uncertain').length;
  const count = (/** @type {number} */ n, /** @type {string} */ what) =>
    n === 0 ? '' : `${n === 1 ? 'One point is' : `${n} points are`} ${what}.`;
  return [count(bad, 'bad'), count(doubtful, 'uncertain')].filter((t) => t !== '').join(' ');
}

/**
 * @param {View} view
 * @param {string} id
 */
export function keys(view, id) {
  const { kind, time, age_s } = condition(view, id);
  const economizer = economizerOf(view, id);
  const ip = view.system === 'ip';
  const rest = resting(shownNow(view, id));
  const chiller = chillerOf(view, id);
  const stages = staged(chiller);
  const [flashes, share] = chiller?.circuit?.flash ?? ['Flashes at first stage', 'flash_tank.flash_fraction'];
  const old = time === null ? '' : `last known ${clockText(time, view.site.time_zone)}, ${spanText(age_s, true)} old`;
  const key = (/** @type {string} */ term, /** @type {string} */ name, /** @type {string} */ more) => {
    const figure = figureOf(view, id, name);
    const below =
      kind === 'waiting'
        ? unheard(view, id)
          ? 'no answer yet'
          : 'not solved yet'
        : kind !== 'live'
          ? old
          : (reasonOf(view, id, name) ?? more);
    return `<div><dt>${term}</dt><dd><div class="k">${span(figure, view)}</div><div class="more">${below}</div></dd></div>`;
  };
  const tail = (/** @type {string} */ words, /** @type {string} */ name) => {
    const text = said(view, id, name);
    return text === '' ? '' : words.replace('%', () => text);
  };
  const since = rest ? `since ${stateSince(view, id)}` : '';
  const ratio = ip
    ? key('Power per ton', 'unit.kw_per_ton', rest ? since : tail('coefficient of performance %', 'unit.cop'))
    : key('Cooling per power', 'unit.cop', rest ? since : tail('% of the Carnot limit', 'unit.carnot_fraction'));
  const flash =
    economizer === 'on' || economizer === 'unknown' || kind === 'waiting'
      ? key(flashes, share, tail(chiller?.circuit ? 'evaporator %' : 'second stage %', 'evaporator.flash_fraction'))
      : key(
          'Flashes at the evaporator',
          'evaporator.flash_fraction',
          economizer === 'off' && !chiller?.circuit ? 'one stage, the tank passes it on' : 'one stage',
        );
  const off = stages
    ? `vapour line closed, ${chiller?.circuit ? 'all' : 'both'} stages one`
    : 'economizer compressor off';
  const part = stages
    ? tail('first stage %', 'main_compressor.first_stage_lift')
    : tail('economizer %', 'economizer_compressor.lift');
  const lift = key('Lift', 'main_compressor.lift', economizer === 'off' ? off : part);
  return `<dl class="keys">${ratio}${key('Capacity', 'unit.capacity', loadWords(view, id))}${third(view, id, key)}${flash}${lift}</dl>`;
}

/**
 * The economizer's key: what it saves, or what is missed while it is off; without one the share of the Carnot limit.
 * @param {View} view
 * @param {string} id
 * @param {(term: string, name: string, more: string) => string} key
 */
function third(view, id, key) {
  const economizer = economizerOf(view, id);
  if (economizer === 'none')
    return key('Share of the Carnot limit', 'unit.carnot_fraction', 'between leaving water temperatures');
  const low = figureOf(view, id, 'economizer.saving_fraction_low');
  const high = figureOf(view, id, 'economizer.saving_fraction_high');
  const off = economizer === 'off';
  const fraction = said(view, id, off ? 'economizer.missed_saving_fraction' : 'economizer.saving_fraction');
  const how = { system: view.system, barometer_kpa: view.site.barometer_kpa };
  const bounds =
    low === null || high === null || low.value === null || high.value === null
      ? ''
      : `, between ${write('percent', low.value, null, how).value} and ${written(high, view).value} %`;
  if (economizer === 'off')
    return key(
      'Economizer off, missed saving',
      'economizer.missed_saving',
      fraction === '' ? 'at this duty' : `${fraction} of the power now used`,
    );
  return key('Economizer saves', 'economizer.power_saved', fraction === '' ? '' : `${fraction} of the power${bounds}`);
}

/**
 * Why a key figure is missing or doubtful, null where it is good.
 * @param {View} view
 * @param {string} id
 * @param {string} name
 */
function reasonOf(view, id, name) {
  const figure = figureOf(view, id, name);
  if (figure === null) return 'not measured here';
  if (figure.off) return null;
  if (figure.quality === 'good' || figure.reason === null) return null;
  // Words can be broken between.
  return esc(`${figure.quality}: ${figure.reason}`).replace(/[a-z_]+\.\w+/g, (name) => name.replace(/\W|_/g, ' '));
}

/**
 * @param {View} view
 * @param {string} id
 */
function loadWords(view, id) {
  const chiller = chillerOf(view, id);
  const capacity = figureOf(view, id, 'unit.capacity');
  const power = said(view, id, 'unit.power');
  if (chiller === null || capacity === null || capacity.value === null) return power === '' ? '' : `takes ${power}`;
  const rated = write('capacity', chiller.rated_capacity_kw, null, { system: view.system, barometer_kpa: 0 });
  const share = num((capacity.value / chiller.rated_capacity_kw) * 100, 0);
  return `${share} % of ${rated.value} ${rated.unit}${power === '' ? '' : `; takes ${power}`}`;
}

/**
 * @param {View} view
 * @param {string} id
 */
export function stateSince(view, id) {
  const since = timeOf(shownNow(view, id).state_since);
  return since === null ? '' : sinceText(since, view.clock, view.site.time_zone);
}
