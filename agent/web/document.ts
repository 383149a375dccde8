/**
 * The page as one HTML document: complete without JavaScript, with the data beside it for the modules that take over.
 */
import type { Assets } from './assets.ts';
import { alarmsMain } from './page/alarms.js';
import { economizerSchematic } from './page/economizers.js';
import { head, nowMain, pictures, title } from './page/page.js';
import { seasonChart, seasonMain } from './page/season.js';
import { suspectWords } from './page/suspects.js';
import { esc } from './page/text.js';
import type { View } from './page-types.ts';

/** Width for which the wide drawing is made, and that of the narrow one. */
const WIDE = 1280;
const NARROW = 390;
/** In the order in which they override each other. */
const STYLES = {
  now: ['ink', 'frame', 'plant', 'sheet', 'widths'],
  alarms: ['ink', 'frame', 'plant', 'sheet', 'alarms', 'widths'],
  season: ['ink', 'frame', 'plant', 'sheet', 'widths', 'season'],
};

/** Modules of one view alone. */
const OWN = {
  now: [],
  alarms: ['alarms.js', 'alarms-record.js'],
  season: ['season.js', ...['accounts', 'axis', 'chart', 'figures', 'tables'].map((part) => `season-${part}.js`)],
};

/** JSON that may stand inside a script element. */
function embedded(value: unknown): string {
  return JSON.stringify(value)
    .replaceAll('<', '\\u003c')
    .replaceAll('\u2028', '\\u2028')
    .replaceAll('\u2029', '\\u2029');
}

function main(given: View): string {
  const view: View = { ...given, suspectWords };
  if (view.page === 'alarms') return alarmsMain(view);
  if (view.page === 'season')
    return seasonMain(
      view,
      twice((size) => seasonChart(view, size)),
    );
  const drawings = twice((size, uid) => pictures(view, view.chosen, size, uid, economizerSchematic));
  return nowMain(view, drawings, { state: null, trend: 227 });
}

/** For wide windows and for narrow ones; styles show one of them. */
function twice(draw: (size: { readonly width: number; readonly window: number }, uid: string) => string): string {
  const wide = draw({ width: WIDE - 48, window: WIDE }, 'w');
  const narrow = draw({ width: NARROW - 32, window: NARROW }, 'n');
  return `<div class="drawn wideone">${wide}</div><div class="drawn narrowone">${narrow}</div>`;
}

/** The whole document. What the view holds beyond the data, the modules read from the address. */
export function documentOf(view: View, assets: Assets): string {
  const at = `/page/${assets.version}/`;
  const { system: _system, look, clock: _clock, page, ...data } = view;
  const modules = [...assets.modules, ...OWN[page]];
  const preload = modules.map((name) => `<link rel="modulepreload" href="${at}${name}">`).join('');
  const styles = STYLES[page].map((name) => `<link rel="stylesheet" href="${at}${name}.css">`).join('');
  const fonts = [400, 600]
    .map((w) => `<link rel="preload" as="font" type="font/woff2" crossorigin href="${at}sheet-${w}.woff2">`)
    .join('');
  return (
    `<!doctype html><html lang="en" data-page="${page}"${look === 'auto' ? '' : ` data-look="${look}"`}><head><meta charset="utf-8">` +
    `<meta name="viewport" content="width=device-width,initial-scale=1"><meta name="color-scheme" content="light dark">` +
    `<title>${esc(title(view))}</title><link rel="icon" type="image/svg+xml" href="${at}mark.svg">${fonts}` +
    `${styles}<script src="${at}look.js"></script>${preload}` +
    `<noscript><meta http-equiv="refresh" content="60"></noscript></head><body>` +
    `<a class="skip" href="#main">To the figures</a><header>${head(view, WIDE)}</header><main id="main">${main(view)}</main>` +
    `<script type="application/json" id="data">${embedded(data)}</script><script type="module" src="${at}live.js"></script></body></html>`
  );
}
