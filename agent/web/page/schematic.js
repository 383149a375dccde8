/**
 * Schematic of one chiller at its real pixel size: liquid falls left, vapour rises right, condenser on top. Levels and
 * valves as columns with their last half hour. Pure.
 * @import { Figure, View } from '../page-types.ts'
 * @import { Strip } from './strip.js'
 */
import { alarmedPart, staged } from './circuit.js';
import { chillerOf, condition, economizerOf, resting, shownNow } from './condition.js';
import { figureOf } from './figures.js';
import { defs, disc, text } from './ink.js';
import { machines, middle, pipes, vapourLine } from './schematic-pipes.js';
import { schematicWords } from './schematic-words.js';
import { emptyStrip, strip } from './strip.js';
import { r1 } from './text.js';

/**
 * @typedef {object} Steel Geometry and facts that the parts of the schematic share.
 * @property {View} view
 * @property {string} id
 * @property {number} width
 * @property {number} size
 * @property {boolean} narrow
 * @property {boolean} simple no tank
 * @property {boolean} subcooled a subcooler in place of the tank
 * @property {boolean} stages two stages with the tank's vapour between them
 * @property {boolean} off economizer off
 * @property {boolean} idle the machine does not run
 * @property {boolean} waiting
 * @property {boolean} thin
 * @property {{ part: string, priority: number } | null} alarm
 * @property {number} strip right edge of the charts
 * @property {number} column
 * @property {number} columnWidth
 * @property {number} right right edge of the vessels
 * @property {number} liquid x of the liquid line
 * @property {number} main x of the main line
 * @property {number} econ x of the economizer's line
 * @property {number} tankRight
 * @property {number} radius of a machine
 * @property {Record<'condenser' | 'valve1' | 'tank' | 'valve2' | 'evaporator', readonly [number, number]>} y
 */

/** @typedef {{ cond: number, tank: number | null, evap: number }} Rails */
/** @typedef {(a: number, b: number) => readonly [number, number]} Banding from shares of the height */
/** @typedef {(steel: Steel, band: Banding, uid: string, rails: Rails | null) => string} Drawing */

/**
 * @param {{ view: View, id: string, width: number, height: number, size: number, narrow?: boolean, uid: string,
 *   rails: Rails | null, joined: boolean, draw?: Drawing | undefined }} given
 *   `joined`: the rails run on into a diagram at the right
 */
export function schematic({ view, id, width, height, size, narrow = false, uid, rails, joined, draw }) {
  const top = size + 6;
  const u = (height - top - size - 10) / 100;
  const band = (/** @type {number} */ a, /** @type {number} */ b) => /** @type {const} */ ([top + a * u, top + b * u]);
  const stripRight = narrow ? 58 : Math.round(width * 0.185);
  const column = stripRight + 12;
  const right = width - (joined ? 54 : 6);
  const tankRight = narrow ? column + 120 : column + Math.round(width * 0.31);
  const now = shownNow(view, id);
  const { kind } = condition(view, id);
  /** @type {Steel} */
  const steel = {
    view,
    id,
    width,
    size,
    narrow,
    column,
    right,
    tankRight,
    columnWidth: 15,
    strip: stripRight,
    simple: chillerOf(view, id)?.arrangement === 'simple',
    subcooled: chillerOf(view, id)?.arrangement === 'subcooler',
    stages: staged(chillerOf(view, id)),
    off: economizerOf(view, id) === 'off',
    idle: resting(now),
    waiting: kind === 'waiting',
    thin: kind === 'lost' || kind === 'stale',
    alarm: alarmedPart(view.alarms, id),
    liquid: column + 35,
    main: right - (narrow ? 30 : 26),
    econ: tankRight + (narrow ? 18 : 26),
    radius: narrow ? 13 : 15,
    y: {
      condenser: band(0, 19),
      valve1: band(25, 36),
      tank: band(42, 61),
      valve2: band(67, 78),
      evaporator: band(84, 100),
    },
  };
  if (chillerOf(view, id)?.circuit) return defs(uid) + (draw?.(steel, band, uid, joined ? rails : null) ?? '');
  return (
    defs(uid) +
    vessels(steel) +
    (rails !== null && joined ? railLines(steel, rails) : '') +
    pipes(steel) +
    machines(steel) +
    strips(steel, uid) +
    numbers(steel) +
    schematicWords(steel)
  );
}

/** @param {Steel} steel */
function vessels({ column, right, tankRight, simple, y }) {
  const vessel = (/** @type {number} */ end, /** @type {readonly [number, number]} */ [a, b]) =>
    `<path class="vessel" d="M${r1(column)} ${r1(a)}H${r1(end - 8)}q8 0 8 8V${r1(b - 8)}q0 8 -8 8H${r1(column)}Z"/>`;
  return vessel(right, y.condenser) + (simple ? '' : vessel(tankRight, y.tank)) + vessel(right, y.evaporator);
}

/**
 * Pressure rails leave the vessels, elbow once, and run on as the diagram's pressure lines.
 * @param {Steel} steel
 * @param {{ cond: number, tank: number | null, evap: number }} rails
 */
export function railLines({ width, right, tankRight, y }, rails) {
  /** @type {[number, number | null, number][]} */
  const lines = [
    [middle(...y.condenser), rails.cond, right],
    [middle(...y.tank), rails.tank, tankRight],
    [middle(...y.evaporator), rails.evap, right],
  ];
  return lines
    .map(([from, to, x]) =>
      to === null
        ? ''
        : `<path class="rail" d="M${r1(x)} ${r1(from)}H${width - 46}L${width - 14} ${r1(to)}H${width}"/>`,
    )
    .join('');
}

/**
 * The last half hour of one level or valve, beside its column.
 * @param {Steel} steel
 * @param {string} uid
 * @param {readonly [number, number]} band
 * @param {string} name
 * @param {string | null} set point of its set value
 */
export function stripOf(steel, uid, [top, bottom], name, set) {
  const { view, id, size, strip: x, column, columnWidth, waiting, thin } = steel;
  const to = condition(view, id).time ?? view.clock;
  const fraction = (/** @type {Figure | null} */ f) => f?.value ?? null;
  const shape = { x, top, bottom, column, columnWidth };
  const figure = figureOf(view, id, name);
  const series = view.series[name] ?? null;
  if (waiting || (figure === null && series === null)) return emptyStrip(shape);
  /** @type {Strip} */
  const chart = {
    ...shape,
    series,
    uid,
    size,
    to,
    from: to - 1_800_000,
    fill: set !== null,
    set: set === null ? null : fraction(figureOf(view, id, set)),
    value: fraction(figure),
    last: thin,
  };
  return strip(chart);
}

/** @param {Steel} steel */
export function stripSpan({ size, narrow }) {
  return text(0, size - 1, narrow ? '30 min' : 'last 30 min', { size: size - 1, cls: 'dim' });
}

/**
 * @param {Steel} steel
 * @param {string} uid
 */
function strips(steel, uid) {
  const { y, simple } = steel;
  const one = stripOf.bind(null, steel, uid);
  return (
    one(y.condenser, 'condenser.level', 'condenser.level_setpoint') +
    one(y.valve1, 'condenser_valve.position', null) +
    (simple
      ? ''
      : one(y.tank, 'flash_tank.level', 'flash_tank.level_setpoint') + one(y.valve2, 'tank_valve.position', null)) +
    stripSpan(steel)
  );
}

/** @param {Steel} steel */
function numbers(steel) {
  const { size, liquid, main, econ, tankRight, y, simple, stages, off } = steel;
  if (steel.idle) return '';
  const r = size * 0.68;
  const o = r + 6;
  const vapour = vapourLine(steel);
  let svg = disc('3', liquid + o, y.condenser[1] + r + 3, size) + disc('6', liquid + o, y.evaporator[0] - r - 3, size);
  svg += disc('1', main + o, y.evaporator[0] - r - 4, size);
  svg += disc(stages ? '10' : '2', main + o, y.condenser[1] + r + 4, size);
  if (simple) return svg;
  svg += disc('4', liquid + o, y.tank[0] - r - 3, size);
  if (off) return svg;
  svg += disc('5', liquid + o, y.tank[1] + r + 3, size);
  if (stages)
    return (
      svg +
      disc('7', tankRight + r + 4, vapour - r - 5, size) +
      disc('9', main + o, y.tank[0] + 2, size) +
      disc('2', main + o, y.tank[1] - r, size)
    );
  return svg + disc('7', tankRight + r + 3, vapour + r + 6, size) + disc('8', econ + o, y.condenser[1] + r + 3, size);
}
