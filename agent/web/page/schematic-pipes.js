/**
 * Pipes, machines and valves of the schematic, with the leg textures of the diagram. Pure.
 * @import { Point } from '../page-types.ts'
 * @import { LegKind } from './ink.js'
 * @import { Steel } from './schematic.js'
 */
import { partOf } from './circuit.js';
import { leg } from './ink.js';
import { r1 } from './text.js';

/** @type {(a: number, b: number) => number} */
export const middle = (a, b) => (a + b) / 2;

/**
 * Height at which vapour leaves the tank.
 * @param {Steel} steel
 */
export function vapourLine({ y }) {
  return y.tank[0] + (y.tank[1] - y.tank[0]) * 0.24;
}

/**
 * Height at which the tank's vapour meets the gas between two stages.
 * @param {Steel} steel
 */
function meeting({ y }) {
  return middle(...y.tank) - 12;
}

/** @typedef {(id: string, kind: LegKind, points: Point[], hair?: Point) => string} Draw */

/** @param {Steel} steel */
export function pipes(steel) {
  const { column, right, liquid, main, y, simple, stages, thin, waiting, narrow } = steel;
  /** @type {Draw} */
  const draw = (id, kind, points, hair = [0, -1]) =>
    leg(id, thin || waiting || steel.idle ? 'before' : kind, points, { k: narrow ? 0.85 : 0.95, hair });
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
  const down = (
    /** @type {string} */ id,
    /** @type {LegKind} */ kind,
    /** @type {number} */ a,
    /** @type {number} */ b,
  ) =>
    draw(id, kind, [
      [liquid, a],
      [liquid, b],
    ]);
  if (simple) svg += down('condenser valve', 'throttle1', y.condenser[1], y.evaporator[0]);
  else {
    svg += down('condenser valve', 'throttle1', y.condenser[1], y.tank[0]);
    svg += down('tank valve', 'throttle2', y.tank[1], y.evaporator[0]);
  }
  svg += `<path class="bgline" d="M${r1(main)} ${r1(y.tank[0] + 4)}V${r1(y.tank[1] - 4)}"/>`;
  svg += stages ? twoStages(steel, draw) : oneStage(steel, draw);
  return `<g class="legs${thin ? ' last' : ''}">${svg}</g>`;
}

/**
 * The main line with its one machine, and the economizer's beside it.
 * @param {Steel} steel
 * @param {Draw} draw
 */
function oneStage(steel, draw) {
  const { main, econ, radius: r, tankRight, y, simple, off } = steel;
  const mainY = middle(...y.valve2);
  const econY = middle(...y.valve1);
  const vapour = vapourLine(steel);
  const up = (/** @type {number} */ a, /** @type {number} */ b) =>
    draw('main compressor', 'work', [
      [main, a],
      [main, b],
    ]);
  const svg = up(y.evaporator[0], mainY + r) + up(mainY - r, y.condenser[1]);
  if (simple) return svg;
  return (
    svg +
    draw('tank vapour', off ? 'before' : 'split', [
      [tankRight, vapour],
      [econ, vapour],
      [econ, econY + r],
    ]) +
    draw('economizer compressor', off ? 'before' : 'work2', [
      [econ, econY - r],
      [econ, y.condenser[1]],
    ])
  );
}

/**
 * Two stages on one line; the tank's vapour joins between them, or its line is closed and both are one compression.
 * @param {Steel} steel
 * @param {Draw} draw
 */
function twoStages(steel, draw) {
  const { main, radius: r, tankRight, y, off } = steel;
  const first = middle(...y.valve2);
  const second = middle(...y.valve1);
  const meet = meeting(steel);
  const vapour = vapourLine(steel);
  const up = (/** @type {string} */ id, /** @type {number} */ a, /** @type {number} */ b) =>
    draw(off ? 'main compressor' : id, 'work', [
      [main, a],
      [main, b],
    ]);
  const x = middle(tankRight, main);
  const closed = off ? `<path class="cross" d="M${r1(x - 6)} ${r1(vapour - 6)}l12 12m0 -12l-12 12"/>` : '';
  return (
    up('first stage', y.evaporator[0], first + r) +
    up('first stage', first - r, meet) +
    up('second stage', meet, second + r) +
    up('second stage', second - r, y.condenser[1]) +
    draw('tank vapour', off ? 'before' : 'split', [
      [tankRight, vapour],
      [main - 4, vapour],
    ]) +
    closed
  );
}

/** @param {Steel} steel */
export function machines({ main, econ, liquid, radius: r, y, simple, stages, off, idle, alarm }) {
  const hot = (/** @type {string} */ id) =>
    alarm !== null && alarm.part === partOf(id) ? ` hot p${alarm.priority}` : '';
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
  const [low, high] = [middle(...y.valve2), middle(...y.valve1)];
  const joined = off || idle;
  const compressors = stages
    ? machine(main, low, joined ? 'main compressor' : 'first stage', idle) +
      machine(main, high, joined ? 'main compressor' : 'second stage', idle)
    : machine(main, low, 'main compressor', idle) +
      (simple ? '' : machine(econ, high, 'economizer compressor', off || idle));
  return compressors + valve(y.valve1, 'condenser valve') + (simple ? '' : valve(y.valve2, 'tank valve'));
}
