/**
 * Schematic of one chiller at its real pixel size: liquid falls left, vapour rises right, condenser on top. Levels and
 * valves as columns with their last half hour. Pure.
 * @import { Figure, Point, Run, View } from '../page-types.ts'
 * @import { LegKind } from './ink.js'
 * @import { Strip } from './strip.js'
 */
import { alarmedPart } from './circuit.js';
import { chillerOf, condition, shownNow } from './condition.js';
import { figureOf } from './figures.js';
import { defs, disc, leg, text } from './ink.js';
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
 * @property {boolean} off economizer off
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

/**
 * @param {{ view: View, id: string, width: number, height: number, size: number, narrow?: boolean, uid: string,
 *   rails: { cond: number, tank: number | null, evap: number } | null, joined: boolean }} given
 *   `joined`: the rails run on into a diagram at the right
 */
export function schematic({ view, id, width, height, size, narrow = false, uid, rails, joined }) {
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
    off: now.economizer === 'off',
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

/** @type {(a: number, b: number) => number} */
const middle = (a, b) => (a + b) / 2;

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
function railLines({ width, right, tankRight, y }, rails) {
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

/** @param {Steel} steel */
function pipes(steel) {
  const { column, right, liquid, main, econ, tankRight, radius: r, y, simple, off, thin, waiting, narrow } = steel;
  const draw = (
    /** @type {string} */ id,
    /** @type {LegKind} */ kind,
    /** @type {Point[]} */ points,
    /** @type {Point} */ hair = [0, -1],
  ) => leg(id, thin || waiting ? 'before' : kind, points, { k: narrow ? 0.85 : 0.95, hair });
  const vapour = y.tank[0] + (y.tank[1] - y.tank[0]) * 0.24;
  const mainY = middle(...y.valve2);
  const econY = middle(...y.valve1);
  let svg = draw('condenser', 'heat-out', [
    [right - 8, y.condenser[0]],
    [column, y.condenser[0]],
  ]);
  svg += draw(
    'evaporator',
    'heat-in',
    [
      [column, y.evaporator[1]],
      [right - 8, y.evaporator[1]],
    ],
    [0, 1],
  );
  if (simple)
    svg += draw('condenser valve', 'throttle1', [
      [liquid, y.condenser[1]],
      [liquid, y.evaporator[0]],
    ]);
  else {
    svg += draw('condenser valve', 'throttle1', [
      [liquid, y.condenser[1]],
      [liquid, y.tank[0]],
    ]);
    svg += draw('tank valve', 'throttle2', [
      [liquid, y.tank[1]],
      [liquid, y.evaporator[0]],
    ]);
  }
  svg += `<path class="bgline" d="M${r1(main)} ${r1(y.tank[0] + 4)}V${r1(y.tank[1] - 4)}"/>`;
  svg += draw('main compressor', 'work', [
    [main, y.evaporator[0]],
    [main, mainY + r],
  ]);
  svg += draw('main compressor', 'work', [
    [main, mainY - r],
    [main, y.condenser[1]],
  ]);
  if (!simple) {
    /** @type {LegKind} */
    const kind = off ? 'before' : 'split';
    svg += draw('tank vapour', kind, [
      [tankRight, vapour],
      [econ, vapour],
      [econ, econY + r],
    ]);
    svg += draw('economizer compressor', off ? 'before' : 'work2', [
      [econ, econY - r],
      [econ, y.condenser[1]],
    ]);
  }
  return `<g class="legs${thin ? ' last' : ''}">${svg}</g>`;
}

/** @param {Steel} steel */
function machines({ main, econ, liquid, radius: r, y, simple, off, alarm }) {
  const hot = (/** @type {string} */ id) => (alarm !== null && alarm.part === id ? ` hot p${alarm.priority}` : '');
  const side = (/** @type {number} */ x, /** @type {number} */ cy, /** @type {1 | -1} */ k) =>
    `M${r1(x + k * r * 0.86)} ${r1(cy + r * 0.5)}L${r1(x + k * r * 0.42)} ${r1(cy - r * 0.9)}`;
  const machine = (
    /** @type {number} */ x,
    /** @type {number} */ cy,
    /** @type {string} */ id,
    /** @type {boolean} */ still,
  ) =>
    `<g class="machine${still ? ' off' : ''}${hot(id)}" data-leg="${id}"><circle cx="${r1(x)}" cy="${r1(cy)}" r="${r}"/>` +
    `<path d="${side(x, cy, -1)}${side(x, cy, 1)}"/>` +
    `${still ? `<path class="cross" d="M${r1(x - r)} ${r1(cy + r)}L${r1(x + r)} ${r1(cy - r)}"/>` : ''}</g>`;
  const valve = (/** @type {readonly [number, number]} */ band, /** @type {string} */ id) => {
    const cy = middle(...band);
    return `<g class="valve${hot(id)}" data-leg="${id}"><path d="M${liquid - 8} ${r1(cy - 11)}H${liquid + 8}L${liquid - 8} ${r1(cy + 11)}H${liquid + 8}Z"/></g>`;
  };
  return (
    machine(main, middle(...y.valve2), 'main compressor', false) +
    (simple ? '' : machine(econ, middle(...y.valve1), 'economizer compressor', off)) +
    valve(y.valve1, 'condenser valve') +
    (simple ? '' : valve(y.valve2, 'tank valve'))
  );
}

/**
 * @param {Steel} steel
 * @param {string} uid
 */
function strips(steel, uid) {
  const { view, id, size, strip: x, column, columnWidth, y, simple, waiting, thin, narrow } = steel;
  const to = condition(view, id).time ?? view.clock;
  const fraction = (/** @type {Figure | null} */ f) => f?.value ?? null;
  const one = (
    /** @type {readonly [number, number]} */ [top, bottom],
    /** @type {string} */ name,
    /** @type {string | null} */ set,
  ) => {
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
  };
  return (
    one(y.condenser, 'condenser.level', 'condenser.level_setpoint') +
    one(y.valve1, 'condenser_valve.position', null) +
    (simple
      ? ''
      : one(y.tank, 'flash_tank.level', 'flash_tank.level_setpoint') + one(y.valve2, 'tank_valve.position', null)) +
    text(0, size - 1, narrow ? '30 min' : 'last 30 min', { size: size - 1, cls: 'dim' })
  );
}

/** @param {Steel} steel */
function numbers({ size, liquid, main, econ, tankRight, y, simple, off }) {
  const r = size * 0.68;
  const o = r + 6;
  const vapour = y.tank[0] + (y.tank[1] - y.tank[0]) * 0.24;
  let svg = disc('3', liquid + o, y.condenser[1] + r + 3, size) + disc('6', liquid + o, y.evaporator[0] - r - 3, size);
  svg += disc('1', main + o, y.evaporator[0] - r - 4, size) + disc('2', main + o, y.condenser[1] + r + 4, size);
  if (simple) return svg;
  svg += disc('4', liquid + o, y.tank[0] - r - 3, size);
  if (off) return svg;
  return (
    svg +
    disc('5', liquid + o, y.tank[1] + r + 3, size) +
    disc('7', tankRight + r + 3, vapour + r + 6, size) +
    disc('8', econ + o, y.condenser[1] + r + 3, size)
  );
}
