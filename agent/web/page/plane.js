/**
 * The plane of the pressure-enthalpy diagram: fixed pressure window, enthalpy window of the refrigerant, folded where
 * it is narrow. Pure.
 * @import { DiagramFigure, StateFigure } from '../types.ts'
 * @import { Point } from '../page-types.ts'
 */

/**
 * @typedef {object} Plane
 * @property {number} width
 * @property {number} height
 * @property {number} left
 * @property {number} right x of the pressure axis
 * @property {number} top
 * @property {number} bottom y of the enthalpy axis
 * @property {(h: number) => number} x J/kg to px
 * @property {(p: number) => number} y Pa to px
 * @property {number} hLow J/kg at the left edge
 * @property {number} hHigh
 * @property {number} pLow Pa
 * @property {number} pHigh
 * @property {readonly [number, number] | null} fold enthalpies between which the axis is folded away
 * @property {number} size px of the picture's text
 */

/**
 * Enthalpy on one side of the dome at a pressure, between the rows of the table (logarithm of pressure).
 * @param {DiagramFigure['liquid']} rows [h, p, T], rising in p
 * @param {number} p Pa
 */
export function edgeAt(rows, p) {
  for (let i = 1; i < rows.length; i++) {
    const b = /** @type {readonly [number, number, number]} */ (rows[i]);
    const a = /** @type {readonly [number, number, number]} */ (rows[i - 1]);
    if (b[1] >= p || i === rows.length - 1) {
      const t = Math.log(p / a[1]) / Math.log(b[1] / a[1]);
      return a[0] + (b[0] - a[0]) * Math.max(0, Math.min(1, t));
    }
  }
  return rows[0]?.[0] ?? 0;
}

const STEP = 10_000;
const GAP = 16;

/**
 * Enthalpies between which the axis is folded, in whole steps so that it does not move with every minute.
 * @param {Readonly<Record<string, StateFigure>>} states
 * @param {number} liquid
 * @param {number} vapour
 * @returns {readonly [number, number] | null}
 */
function foldOf(states, liquid, vapour) {
  const left = Math.max(liquid, states['3']?.h ?? 0, states['4']?.h ?? 0);
  const right = Math.min(vapour, ...['1', '7', '9'].map((n) => states[n]?.h ?? Number.POSITIVE_INFINITY));
  const a = Math.ceil((left + 30_000) / STEP) * STEP;
  const b = Math.floor((right - 30_000) / STEP) * STEP;
  return b - a > 2 * STEP ? [a, b] : null;
}

/**
 * @param {{ width: number, height: number, size: number, diagram: DiagramFigure, window: readonly [number, number],
 *   states: Readonly<Record<string, StateFigure>>, folded: boolean }} given `window` in Pa
 * @returns {Plane}
 */
export function planeOf({ width, height, size, diagram, window, states, folded }) {
  const [pLow, pHigh] = window;
  const left = 0;
  const top = 8;
  const right = width - (folded ? 34 : Math.max(40, size * 2.9));
  const bottom = height - Math.max(36, size * 2.9);
  const y = (/** @type {number} */ p) => top + ((bottom - top) * Math.log(pHigh / p)) / Math.log(pHigh / pLow);
  const liquidLow = edgeAt(diagram.liquid, pLow);
  const vapourLow = edgeAt(diagram.vapour, pLow);
  const vapourHigh = edgeAt(diagram.vapour, Math.min(pHigh, diagram.critical.p * 0.98));
  const latent = vapourLow - liquidLow;
  const hottest = Math.max(vapourLow, vapourHigh, ...Object.values(states).map((s) => s.h));
  const hLow = Math.floor((liquidLow - latent * (folded ? 0.19 : 0.22)) / STEP) * STEP;
  const roomRight = folded ? latent * 0.09 : latent * 0.17;
  const hHigh = Math.ceil((hottest + roomRight) / STEP) * STEP;
  const fold = folded ? foldOf(states, liquidLow, vapourLow) : null;
  /** @type {(h: number) => number} */
  let x = (h) => left + ((h - hLow) / (hHigh - hLow)) * (right - left);
  if (fold !== null) {
    const [a, b] = fold;
    const k = (right - left - GAP) / (a - hLow + (hHigh - b));
    const xa = left + (a - hLow) * k;
    x = (h) => (h <= a ? left + (h - hLow) * k : h >= b ? xa + GAP + (h - b) * k : xa + (GAP * (h - a)) / (b - a));
  }
  return { width, height, left, right, top, bottom, x, y, hLow, hHigh, pLow, pHigh, fold, size };
}

/**
 * @param {Plane} plane
 * @param {readonly (readonly number[])[]} rows [h, p, ...]
 * @returns {Point[]}
 */
export function onPlane(plane, rows) {
  return rows.map((row) => [plane.x(/** @type {number} */ (row[0])), plane.y(/** @type {number} */ (row[1]))]);
}
