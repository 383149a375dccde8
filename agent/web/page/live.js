/**
 * The page in a browser: redraws the views to their real width, follows the live stream, walks the states by keyboard
 * or pointer.
 * @import { Look, PageData, UnitSystem, View } from '../page-types.ts'
 * @import { Now } from '../types.ts'
 */
import { condition } from './condition.js';
import { ageWords, rule } from './mast.js';
import { morph } from './morph.js';
import { head, nowMain, pictures } from './page.js';
import { legWords, readout, walk } from './readout.js';
import { clockText } from './text.js';

const params = new URLSearchParams(location.search);
const header = /** @type {HTMLElement} */ (document.querySelector('header'));
const main = /** @type {HTMLElement} */ (document.querySelector('main'));
/** @type {PageData} */
let data = JSON.parse(document.getElementById('data')?.textContent ?? 'null');
const { page = 'now' } = /** @type {{ page?: 'now' | 'alarms' | 'season' }} */ (document.documentElement.dataset);
/** What one view alone needs is fetched by it. */
const alarms = page === 'alarms' ? await import('./alarms.js') : null;
const own = data.site.chillers.some(({ circuit }) => circuit) ? await import('./economizers.js') : null;
const season = page === 'season' ? await import('./season.js') : null;
const accuses = (/** @type {Now} */ now) => now.reconciliation?.suspects.length;
let accused = Object.values(data.nows).some(accuses) ? await import('./suspects.js') : null;
const offset = Date.now() - Date.parse(data.served);
const calm = matchMedia('(prefers-reduced-motion: reduce)');

/**
 * @param {string} key
 * @param {string} [value]
 */
function store(key, value) {
  try {
    if (value === undefined) return localStorage.getItem(`tonhour.${key}`);
    localStorage.setItem(`tonhour.${key}`, value);
  } catch {
    // no storage: the choice lasts as long as the page
  }
  return null;
}

/**
 * The address wins over the stored choice, which wins over the site's.
 * @template {string} T
 * @param {string} key
 * @param {readonly T[]} allowed
 * @param {T} otherwise
 * @returns {T}
 */
function choice(key, allowed, otherwise) {
  for (const said of [params.get(key), store(key)]) {
    const found = allowed.find((one) => one === said);
    if (found !== undefined) return found;
  }
  return otherwise;
}

/** @type {UnitSystem} */
let system = choice('units', ['ip', 'si'], data.site.unit_system);
/** @type {Look} */
let look = choice('look', ['auto', 'light', 'dark'], 'auto');
/** @type {{ state: string | null, leg: string | null }} */
let shown = { state: null, leg: null };
let drawnKey = '';

/** @returns {View} */
function view() {
  return { ...data, system, look, page, clock: Date.now() - offset, suspectWords: accused?.suspectWords };
}

/** What decides whether the whole view must be written again, not only the clock. */
function keyOf(/** @type {View} */ v) {
  const { kind, age_s } = condition(v, v.chosen);
  return `${kind} ${kind === 'live' ? '' : Math.floor(age_s / (age_s < 90 ? 5 : 60))}`;
}

function render() {
  const v = view();
  drawnKey = keyOf(v);
  morph(header, head(v, document.documentElement.clientWidth));
  const gutter = Number.parseFloat(getComputedStyle(main).paddingLeft) * 2;
  const width = document.documentElement.clientWidth - gutter;
  const window = document.documentElement.clientWidth;
  if (alarms !== null) morph(main, alarms.alarmsMain(v));
  else if (season !== null) morph(main, season.seasonMain(v, season.seasonChart(v, { width, window })));
  else {
    const beside = window >= 1600 ? (window >= 2300 ? 470 : 360) : 0;
    const drawing = pictures(v, v.chosen, { width: width - beside, window }, 'p', own?.economizerSchematic);
    const hint =
      window < 700
        ? ''
        : '<span class="keyhint">point at a leg or a number, or <kbd>Tab</kbd> here and <kbd>left</kbd> <kbd>right</kbd></span>';
    const columns = window >= 1100 ? 5 : window > 640 ? 2 : 1;
    const trend = Math.floor((width - (columns - 1) * 24) / columns);
    morph(main, nowMain(v, `<div class="drawn live">${drawing}</div>`, { state: shown.state, trend, hint }));
    light();
  }
}

/** Lights the state or leg that the readout speaks of, in both pictures. */
function light() {
  const v = view();
  for (const lit of main.querySelectorAll('.lit')) lit.classList.remove('lit');
  const read = document.getElementById('read');
  if (read === null) return;
  morph(read, shown.leg === null ? readout(v, v.chosen, shown.state) : legWords(v, v.chosen, shown.leg));
  const find = shown.leg === null ? `.num[data-state="${shown.state}"]` : `[data-leg="${shown.leg}"]`;
  if (shown.leg !== null || shown.state !== null)
    for (const one of main.querySelectorAll(find)) one.classList.add('lit');
}

/** Every second: clock, age and rule; the whole view only where its condition changed. */
function tick() {
  const v = view();
  if (keyOf(v) !== drawnKey) return render();
  const hm = document.getElementById('hm');
  if (hm !== null) morph(hm, clockText(v.clock, v.site.time_zone, true));
  const age = document.getElementById('age');
  if (age !== null) morph(age, ageWords(v));
  const old = document.getElementById('rule');
  if (old === null || (calm.matches && Math.floor(v.clock / 1000) % 10 !== 0)) return;
  const holder = document.createElement('div');
  holder.append(old.cloneNode(true));
  const html = rule(v, document.documentElement.clientWidth);
  if (holder.innerHTML !== html)
    morph(/** @type {Element} */ (old.parentElement), head(v, document.documentElement.clientWidth));
}

/** @param {Now} now */
function minute(now) {
  const before = data.nows[now.chiller];
  const heard = now.link.state !== 'lost' ? now : before?.link.state !== 'lost' ? before : undefined;
  const last = heard === undefined || heard.time === null ? data.last : { ...data.last, [now.chiller]: heard };
  const list = [...data.alarms.filter((alarm) => alarm.chiller !== now.chiller), ...now.alarms];
  data = { ...data, last, alarms: list, nows: { ...data.nows, [now.chiller]: now } };
  render();
  if (page === 'now' && now.chiller === data.chosen) void series();
  if (accused === null && accuses(now)) void accuse();
}

/** The words of the notice, once the first sensor stands accused. */
async function accuse() {
  try {
    accused = await import('./suspects.js');
    render();
  } catch {
    // the next minute asks again
  }
}

/** The last half hour and hour, thinned by the agent. */
async function series() {
  try {
    const answer = await fetch(`/api/chillers/${encodeURIComponent(data.chosen)}/series`);
    if (!answer.ok) return;
    data = { ...data, ...(await answer.json()) };
    render();
  } catch {
    // the next minute asks again
  }
}

function follow() {
  const stream = new EventSource('/api/live');
  stream.addEventListener('minute', (event) => minute(JSON.parse(event.data)));
  stream.addEventListener('plant', (event) => {
    data = { ...data, plant: JSON.parse(event.data) };
    render();
  });
  stream.addEventListener('error', () => {
    if (stream.readyState !== EventSource.CLOSED) return;
    setTimeout(follow, 5000);
  });
}

/** @param {string} key */
function remember(key, /** @type {string} */ value) {
  store(key, value);
  const url = new URL(location.href);
  url.searchParams.set(key, value);
  history.replaceState(null, '', url);
}

header.addEventListener('change', (event) => {
  const input = event.target;
  if (!(input instanceof HTMLInputElement)) return;
  if (input.name === 'units') system = input.value === 'si' ? 'si' : 'ip';
  if (input.name === 'look') {
    look = input.value === 'light' || input.value === 'dark' ? input.value : 'auto';
    if (look === 'auto') delete document.documentElement.dataset.look;
    else document.documentElement.dataset.look = look;
  }
  remember(input.name, input.value);
  render();
});

main.addEventListener('keydown', (event) => {
  if (!(event.target instanceof SVGElement) || event.target.dataset.picture === undefined) return;
  const numbers = walk(view(), data.chosen);
  if (numbers.length === 0) return;
  const at = numbers.indexOf(shown.state ?? '');
  const to = {
    ArrowRight: at + 1,
    ArrowLeft: at < 0 ? numbers.length - 1 : at - 1 + numbers.length,
    Home: 0,
    End: numbers.length - 1,
  }[event.key];
  if (to === undefined) return;
  event.preventDefault();
  shown = { state: numbers[to % numbers.length] ?? null, leg: null };
  light();
});

main.addEventListener('pointerover', (event) => {
  const on = event.target instanceof Element ? event.target.closest('[data-state], [data-leg]') : null;
  if (!(on instanceof SVGElement) || on.closest('.picture') === null) return;
  shown =
    on.dataset.state === undefined
      ? { state: shown.state, leg: on.dataset.leg ?? null }
      : { state: on.dataset.state, leg: null };
  light();
});

/** @type {ReturnType<typeof setTimeout> | undefined} */
let resized;
addEventListener('resize', () => {
  clearTimeout(resized);
  resized = setTimeout(render, 120);
});
addEventListener('pageshow', (event) => {
  if (event.persisted) location.reload();
});

render();
document.documentElement.dataset.live = 'yes';
setInterval(tick, 1000);
follow();
