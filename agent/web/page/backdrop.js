/**
 * What stands behind the circuit: two-phase region, dome, isotherms, names of the regions, axes. Pure.
 * @import { View } from '../page-types.ts'
 * @import { DiagramFigure } from '../types.ts'
 * @import { Plane } from './plane.js'
 * @import { Placer } from './place.js'
 */
import { poly, text } from './ink.js';
import { onPlane } from './plane.js';
import { num, r1 } from './text.js';
import { scaleOf } from './units.js';
import { width } from './widths.js';

/**
 * Isotherms whose temperature is a round number in the shown unit; all of them where too few are.
 * @param {DiagramFigure} diagram
 * @param {View} view
 */
function roundIsotherms(diagram, view) {
  const { factor, shift } = scaleOf('temperature', { system: view.system, barometer_kpa: 0 });
  const shown = diagram.isotherms.map((one) => ({ ...one, shown: (one.T - 273.15) * factor + shift }));
  const step = view.system === 'ip' ? 20 : 10;
  shown.sort((a, b) => a.T - b.T);
  const unique = shown.filter((one, i) => i === 0 || one.T - (shown[i - 1]?.T ?? 0) > 0.05);
  const round = unique.filter((one) => Math.abs(one.shown / step - Math.round(one.shown / step)) * step < 0.1);
  return round.length >= 4 ? round : unique;
}

/**
 * @param {Plane} plane
 * @param {DiagramFigure} diagram
 * @param {View} view
 * @param {Placer} placer
 * @param {string} uid
 */
export function backdrop(plane, diagram, view, placer, uid) {
  const { left, right, top, bottom, size } = plane;
  const liquid = onPlane(plane, diagram.liquid);
  const vapour = onPlane(plane, diagram.vapour);
  const clip = `<clipPath id="${uid}-clip"><path d="M${left} ${top}H${r1(right)}V${r1(bottom)}H${left}Z"/></clipPath>`;
  let svg = `${clip}<g clip-path="url(#${uid}-clip)">`;
  svg += `<path class="twophase" d="${poly([...liquid, ...[...vapour].reverse()])}Z"/>`;
  let names = '';
  let lastX = Number.NEGATIVE_INFINITY;
  for (const isotherm of roundIsotherms(diagram, view)) {
    const line = onPlane(plane, isotherm.line);
    if (!line.some(([x, y]) => x >= left && x <= right && y >= top && y <= bottom)) continue;
    svg += `<path class="iso" d="${poly(line)}"/>`;
    if (plane.fold !== null) continue;
    const end = crossing(line, bottom - 1, vapourFoot(vapour, bottom));
    if (end === null || end > right - 14 || end - lastX < 30) continue;
    const unit = lastX === Number.NEGATIVE_INFINITY ? ` ${view.system === 'ip' ? '°F' : '°C'}` : '';
    names += text(end, bottom - 5, num(isotherm.shown, 0) + unit, {
      size: size - 1.5,
      anchor: 'middle',
      cls: 'dim lab',
    });
    placer.block([end - 16, bottom - size - 5, end + 16, bottom - 1], 4);
    lastX = end;
  }
  svg += `<path class="dome" d="${poly(liquid)}"/><path class="dome" d="${poly(vapour)}"/></g>`;
  placer.line(
    liquid.filter(([, y]) => y > top && y < bottom),
    2,
    0.35,
  );
  return svg + names;
}

/**
 * Where an isotherm leaves the drawing at the foot, right of the dome.
 * @param {readonly (readonly [number, number])[]} line
 * @param {number} y
 * @param {number} beyond
 */
function crossing(line, y, beyond) {
  for (let i = 1; i < line.length; i++) {
    const [x0, y0] = /** @type {readonly [number, number]} */ (line[i - 1]);
    const [x1, y1] = /** @type {readonly [number, number]} */ (line[i]);
    if ((y0 - y) * (y1 - y) > 0 || y0 === y1) continue;
    const x = x0 + ((x1 - x0) * (y - y0)) / (y1 - y0);
    if (x > beyond - 2) return x;
  }
  return null;
}

/**
 * @param {readonly (readonly [number, number])[]} vapour
 * @param {number} bottom
 */
function vapourFoot(vapour, bottom) {
  return vapour.reduce(
    (best, p) => (Math.abs(p[1] - bottom) < Math.abs(best[1] - bottom) ? p : best),
    vapour[0] ?? [0, 0],
  )[0];
}

/**
 * Names of the regions, where there is room.
 * @param {Plane} plane
 * @param {DiagramFigure} diagram
 * @param {Placer} placer
 */
export function regions(plane, diagram, placer) {
  if (plane.fold !== null) return '';
  const { left, right, top, size } = plane;
  const middle = plane.x((diagram.liquid[0]?.[0] ?? 0) * 0.4 + (diagram.vapour[0]?.[0] ?? 0) * 0.6);
  let svg = '';
  /** @type {[string, import('./place.js').Place[]][]} */
  const names = [
    ['liquid', [[left + 8, top + 6, 'start']]],
    [
      'liquid and vapour',
      [
        [middle, top + 6, 'middle'],
        [middle, top + 26, 'middle'],
      ],
    ],
    ['vapour', [[right - 8, top + 6, 'end']]],
  ];
  for (const [name, places] of names) {
    const put = placer.put(`region ${name}`, width(name, size) + name.length * 0.8, size, places, 200);
    if (put !== null) svg += text(put.x, put.y + size * 0.9, name, { size, anchor: put.anchor, cls: 'zone' });
  }
  return svg;
}

const DECADE = [1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8];

/**
 * Pressure axis (absolute) at the right, enthalpy axis at the foot, with the enthalpy's reference.
 * @param {Plane} plane
 * @param {DiagramFigure} diagram
 * @param {View} view
 */
export function axes(plane, diagram, view) {
  const { right, top, bottom, size, height, width: all } = plane;
  const how = { system: view.system, barometer_kpa: 0 };
  const pressure = scaleOf('pressure', how);
  const enthalpy = scaleOf('enthalpy', how);
  let ticks = `M${r1(right)} ${top}V${r1(bottom)}H${plane.left}`;
  let svg = '';
  let lastY = Number.POSITIVE_INFINITY;
  for (let e = 0; e < 5; e++) {
    for (const d of DECADE) {
      const shown = d * 10 ** e;
      const y = plane.y((shown / pressure.factor) * 1000);
      if (y > bottom - 4 || y < top + 16 || lastY - y < size + 7) continue;
      ticks += `M${r1(right)} ${r1(y)}h5`;
      svg += text(right + 8, y + size * 0.34, num(shown, shown < 10 && shown % 1 !== 0 ? 1 : 0), {
        size: size - 1,
        cls: 'dim',
      });
      lastY = y;
    }
  }
  svg += text(all - 2, top + 4, pressure.label, { size: size - 1, anchor: 'end', cls: 'dim' });
  const step = view.system === 'ip' ? 10 : 20;
  const first = Math.ceil(((plane.hLow / 1000) * enthalpy.factor) / step) * step;
  let lastX = Number.NEGATIVE_INFINITY;
  for (let v = first; (v / enthalpy.factor) * 1000 < plane.hHigh; v += step) {
    const h = (v / enthalpy.factor) * 1000;
    if (plane.fold !== null && h > plane.fold[0] - 2000 && h < plane.fold[1] + 2000) continue;
    const x = plane.x(h);
    if (x < 14 || x > right - 16) continue;
    ticks += `M${r1(x)} ${r1(bottom)}v5`;
    if (x - lastX < 27) continue;
    svg += text(x, bottom + size + 6, num(v, 0), { size: size - 1, anchor: 'middle', cls: 'dim' });
    lastX = x;
  }
  svg += `<path class="axis" d="${ticks}"/>`;
  const words = `specific enthalpy, ${enthalpy.label}`;
  const long = diagram.reference === '' ? words : `${words}; ${diagram.reference}`;
  const fits = width(long, size - 1) < all - 8;
  const foot = plane.fold !== null ? enthalpy.label : fits ? long : words;
  svg += text(all - 2, height - 3, foot, { size: size - 1, anchor: 'end', cls: 'dim' });
  return svg;
}

/**
 * The strip where the folded axis leaves enthalpy out, with the width left out in words.
 * @param {Plane} plane
 * @param {View} view
 * @param {Placer} placer
 */
export function foldMark(plane, view, placer) {
  if (plane.fold === null) return '';
  const [a, b] = plane.fold.map(plane.x);
  const { top, bottom, height, size } = plane;
  if (a === undefined || b === undefined) return '';
  const rise = (bottom - top) / 8;
  const down = `l8 ${r1(rise)}l-8 ${r1(rise)}`.repeat(4);
  const up = `l8 ${r1(-rise)}l-8 ${r1(-rise)}`.repeat(4);
  placer.block([a, top, b + 8, bottom], 4);
  const how = { system: view.system, barometer_kpa: 0 };
  const { factor, label } = scaleOf('enthalpy', how);
  const left = ((plane.fold[1] - plane.fold[0]) / 1000) * factor;
  return (
    `<path class="fold" d="M${r1(a)} ${top}${down}h8${up}Z"/>` +
    text((a + b) / 2, height - 3, `${num(left, 0)} ${label} folded away`, {
      size: size - 1,
      anchor: 'middle',
      cls: 'dim',
    })
  );
}
