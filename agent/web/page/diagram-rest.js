/**
 * What the diagram shows without a circuit: the pressures as measured, and why there is no more. Pure.
 * @import { Run, View } from '../page-types.ts'
 * @import { Now } from '../types.ts'
 * @import { Scene } from './diagram.js'
 * @import { Place } from './place.js'
 * @import { Plane } from './plane.js'
 */
import { resting } from './condition.js';
import { label } from './diagram-labels.js';
import { figureOf, runs } from './figures.js';
import { r1, sinceText, timeOf } from './text.js';

/**
 * Where the pressures stand without a circuit: of a machine that does not run, or one whose points do not carry it.
 * @param {Plane} plane
 * @param {Now} now
 * @param {string | null} tank component between the two
 */
export function measuredRails(plane, now, tank) {
  const y = (/** @type {string} */ name) => {
    const kPa = now.points[`${name}.pressure`]?.value ?? null;
    return kPa === null || !(kPa > 0) ? null : Math.min(plane.bottom - 4, Math.max(plane.top + 4, plane.y(kPa * 1000)));
  };
  const [cond, evap] = [y('condenser'), y('evaporator')];
  return cond === null || evap === null ? null : { cond, evap, tank: tank === null ? null : y(tank) };
}

/**
 * Rails across the whole plane, each with its vessel's name: at rest they may all lie on one another.
 * @param {Scene} scene
 */
export function pressuresAlone(scene) {
  const { view, id, plane, rails, placer } = scene;
  let svg = '';
  const vessels = /** @type {const} */ ([
    ['condenser', rails.cond],
    ['flash tank', rails.tank],
    ['evaporator', rails.evap],
  ]);
  for (const [, y] of vessels) {
    if (y === null) continue;
    placer.line(
      [
        [0, y],
        [plane.right, y],
      ],
      1,
    );
    svg += `<path class="rail" d="M0 ${r1(y)}H${r1(plane.right)}"/>`;
  }
  const line = plane.size * 1.22;
  for (const [name, y] of vessels) {
    if (y === null) continue;
    const key = name.replace(' ', '_');
    /** @type {Run[]} */
    const head = [{ t: `${name} `, c: 'b' }, ...runs(figureOf(view, id, `${key}.pressure`), view)];
    /** @type {Run[]} */
    const warm = [...runs(figureOf(view, id, `${key}.saturation_temperature`), view), { t: ' sat.', c: 'dim' }];
    const lines = plane.fold === null ? [[...head, { t: ', ', c: 'dim' }, ...warm]] : [head, warm];
    const high = lines.length * line;
    // from top to bottom as in the machine: condenser, tank, evaporator
    const tops = { condenser: [-1], 'flash tank': [-1, 0, 1], evaporator: [0, 1, 2] }[name];
    const put = tops.map((n) => /** @type {Place} */ ([6, y + (n < 0 ? -4 : 4) + n * high, 'start']));
    svg += label(scene, `rail ${key}`, lines, put);
  }
  return svg;
}

/**
 * Why no circuit is drawn.
 * @param {View} view
 * @param {Now} now
 */
export function standing(view, now) {
  if (!resting(now)) return 'no circuit solved';
  const since = timeOf(now.state_since);
  return since === null ? now.state : `${now.state} since ${sinceText(since, view.clock, view.site.time_zone)}`;
}
