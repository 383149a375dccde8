/**
 * Lines beside the circuit itself: the lever scale of vapour share, and the circuit as it would run the other way.
 * Pure.
 * @import { Point } from '../page-types.ts'
 * @import { Scene } from './diagram.js'
 */
import { leg, text } from './ink.js';
import { edgeAt, onPlane } from './plane.js';
import { r1 } from './text.js';
import { width as textWidth } from './widths.js';

/**
 * Share of vapour along the tank line: point 4 is read off it.
 * @param {Scene} scene
 */
export function leverScale(scene) {
  const { plane, rails, diagram: data, placer, states } = scene;
  const four = states['4'];
  if (rails.tank === null || four === undefined) return '';
  const a = edgeAt(data.liquid, four.p);
  const b = edgeAt(data.vapour, four.p);
  let ticks = '';
  let svg = '';
  const hidden = (/** @type {number} */ h) => plane.fold !== null && h > plane.fold[0] && h < plane.fold[1];
  for (let q = 0; q <= 100; q += 2) {
    const h = a + ((b - a) * q) / 100;
    if (hidden(h) || (q > 30 && q % 10 !== 0)) continue;
    ticks += `M${r1(plane.x(h))} ${r1(rails.tank)}v${q % 10 === 0 ? 6 : 3}`;
  }
  for (const q of plane.fold === null ? [20, 30, 50, 70, 90] : [20]) {
    const h = a + ((b - a) * q) / 100;
    if (hidden(h)) continue;
    const x = plane.x(h);
    const w = textWidth(`${q} %`, plane.size - 1.5);
    const put = placer.put(`vapour ${q}`, w, plane.size, [[x, rails.tank + 7, 'middle']], 60);
    if (put !== null)
      svg += text(x, rails.tank + plane.size + 5, `${q} %`, { size: plane.size - 1.5, anchor: 'middle', cls: 'dim' });
  }
  return `<path class="tick" d="${ticks}"/>${svg}`;
}

/**
 * The circuit as it would run the other way: only where it differs from the running one.
 * @param {Scene} scene
 */
export function ghostLegs({ plane, ghost, off, states, rails, placer }) {
  const g6 = ghost['6'];
  if (g6 === undefined || rails.tank === null) return '';
  /** @type {Point[][]} */
  const lines = [];
  if (!off)
    lines.push([
      [plane.x(g6.h), rails.tank + 1],
      [plane.x(g6.h), rails.evap],
    ]);
  else {
    const [g5, g7, g8, s6] = [ghost['5'], ghost['7'], ghost['8'], states['6']];
    // of two stages the tank's vapour ends in the discharge of the first
    const end = ghost['8'] === undefined ? (ghost['2'] ?? g7) : g7;
    if (g5 !== undefined && g7 !== undefined && end !== undefined)
      lines.push(
        onPlane(plane, [
          [end.h, end.p],
          [g5.h, g5.p],
          [g6.h, g6.p],
        ]),
      );
    if (g7 !== undefined && g8 !== undefined)
      lines.push(
        onPlane(plane, [
          [g7.h, g7.p],
          [g8.h, g8.p],
        ]),
      );
    if (s6 !== undefined)
      lines.push(
        onPlane(plane, [
          [g6.h, g6.p],
          [s6.h, s6.p],
        ]),
      );
  }
  for (const line of lines) placer.line(line, 2, 0.6);
  return lines.map((line) => leg('ghost', 'ghost', line)).join('');
}
