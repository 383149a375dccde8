/**
 * Words of the schematic: each vessel, valve and machine with its figures. Pure.
 * @import { Run } from '../page-types.ts'
 * @import { Steel } from './schematic.js'
 */
import { partOf } from './circuit.js';
import { shownNow } from './condition.js';
import { figureOf, runs } from './figures.js';
import { flag, text } from './ink.js';
import { width as textWidth } from './widths.js';

/** @type {(t: string) => Run[]} */
const bold = (t) => [{ t, c: 'b' }];
/** @type {(t: string) => Run} */
const dim = (t) => ({ t, c: 'dim' });

/**
 * @param {Steel} steel
 * @param {string} part
 * @param {number} x
 * @param {number} y baseline of the first line
 * @param {readonly Run[][]} lines
 * @param {'start' | 'end'} [anchor]
 */
export function block({ size, alarm }, part, x, y, lines, anchor = 'start') {
  const hot = alarm !== null && alarm.part === partOf(part);
  let svg = '';
  for (const [i, line] of lines.filter((one) => one.length > 0).entries()) {
    const cls = hot && i === 0 ? `lab hot p${alarm.priority}` : 'lab';
    svg += text(x, y + i * size * 1.24, line, { size, anchor, cls });
  }
  if (hot) {
    const w = textWidth((lines[0] ?? []).map((run) => run.t).join(''), size, true);
    svg += flag(anchor === 'start' ? x + w + 6 : x - w - size - 9, y - size + 1, alarm.priority, size + 3);
  }
  return svg;
}

/** @type {(band: readonly [number, number]) => number} */
const middle = ([a, b]) => (a + b) / 2;

/** @param {Steel} steel */
export function schematicWords(steel) {
  const { size, column, columnWidth, y, simple, stages } = steel;
  const line = size * 1.24;
  const x = column + columnWidth + 18;
  const vessel = (
    /** @type {string} */ name,
    /** @type {readonly [number, number]} */ band,
    /** @type {Run[][]} */ more,
  ) => {
    const lines = [bold(name), ...more, pressure(steel, name)].filter((one) => one.length > 0);
    return block(steel, name, x, middle(band) - ((lines.length - 1) / 2) * line + size * 0.38, lines);
  };
  let svg = vessel('condenser', y.condenser, [level(steel, 'condenser', true), water(steel, 'condenser_water')]);
  svg += vessel('evaporator', y.evaporator, [water(steel, 'chilled_water')]);
  svg += valveWords(steel, y.valve1, 'condenser valve');
  if (!simple) {
    svg += vessel('flash tank', y.tank, [
      level(steel, 'flash_tank', false),
      steel.idle ? [] : setPoint(steel, 'flash_tank'),
    ]);
    svg += valveWords(steel, y.valve2, 'tank valve');
  }
  return svg + (stages ? stageWords(steel) : compressorWords(steel));
}

/**
 * The pressure of a vessel, where no circuit is drawn from which it could be read.
 * @param {Steel} steel
 * @param {string} name
 * @returns {Run[]}
 */
export function pressure({ view, id, idle, waiting }, name) {
  return idle && !waiting ? runs(figureOf(view, id, `${name.replace(' ', '_')}.pressure`), view) : [];
}

/**
 * @param {Steel} steel
 * @param {readonly [number, number]} band
 * @param {string} part
 * @param {string} [point] its points
 */
export function valveWords(steel, band, part, point = part.replace(' ', '_')) {
  const { view, id, size, narrow, liquid } = steel;
  const open = figureOf(view, id, `${point}.position`);
  const [first = '', ...rest] = part.split(' ');
  const shown = runs(open, view);
  if (!narrow && open !== null && open.value !== null && !open.last) shown.push(dim(' open'));
  const lines = narrow ? [bold(first), bold(rest.join(' ')), shown] : [bold(part), shown];
  return block(steel, part, liquid + 15, middle(band) - size * 1.24 * (narrow ? 0.5 : 0.28), lines);
}

/**
 * What a machine takes and lifts, or that it does not run.
 * @param {Steel} steel
 * @param {string} key
 * @param {boolean} still
 * @returns {Run[][]}
 */
export function duty({ view, id, narrow, idle }, key, still) {
  if (idle) return [bold(shownNow(view, id).state)];
  if (still) return [bold('off')];
  const value = (/** @type {string} */ name, before = '') => runs(figureOf(view, id, name), view, { before });
  return narrow ? [value(`${key}.power`)] : [value(`${key}.power`), value(`${key}.lift`, 'lift')];
}

/** @param {Steel} steel */
function compressorWords(steel) {
  const { size, narrow, main, econ, radius, y, simple, off, idle } = steel;
  const line = size * 1.24;
  const name = narrow ? [bold('main'), bold('compressor')] : [bold('main compressor')];
  const lines = [...name, ...duty(steel, 'main_compressor', false)];
  const svg = block(steel, 'main compressor', main - radius - 8, middle(y.valve2) - line * 0.5, lines, 'end');
  if (simple) return svg;
  const up = off || idle || narrow ? 0.6 : 1.1;
  return (
    svg +
    block(steel, 'economizer compressor', econ + radius + 7, middle(y.valve1) - line * up, [
      bold('economizer'),
      bold('compressor'),
      ...duty(steel, 'economizer_compressor', off),
    ])
  );
}

/**
 * Two stages of one machine: each lifts its part, both take one power.
 * @param {Steel} steel
 */
function stageWords(steel) {
  const { view, id, size, narrow, main, radius, tankRight, y, off, idle } = steel;
  const line = size * 1.24;
  const x = main - radius - 8;
  const value = (/** @type {string} */ name, before = '') => runs(figureOf(view, id, name), view, { before });
  if (off || idle) {
    const vapour = y.tank[0] + (y.tank[1] - y.tank[0]) * 0.24;
    const lines = [bold('both stages'), ...duty(steel, 'main_compressor', false)];
    const closed =
      idle || narrow ? '' : text(tankRight + 8, vapour - 6, [dim('vapour line closed')], { size, cls: 'lab' });
    return block(steel, 'main compressor', x, middle(y.valve2) - line * 0.5, lines, 'end') + closed;
  }
  const stage = (/** @type {'first' | 'second'} */ which, /** @type {readonly [number, number]} */ band) =>
    block(
      steel,
      `${which} stage`,
      x,
      middle(band) - line * (narrow ? 0.5 : 0.1),
      [
        ...(narrow ? [bold(which), bold('stage')] : [bold(`${which} stage`)]),
        value(`main_compressor.${which}_stage_lift`, narrow ? '' : 'lift'),
      ],
      'end',
    );
  const both = text(main - 12, middle(y.tank) + size + 6, value('main_compressor.power', narrow ? '' : 'both stages'), {
    size,
    anchor: 'end',
    cls: 'lab',
  });
  return stage('second', y.valve1) + stage('first', y.valve2) + both;
}

/**
 * @param {Steel} steel
 * @param {string} vessel
 * @param {boolean} withSet
 * @returns {Run[]}
 */
export function level(steel, vessel, withSet) {
  const { view, id, narrow } = steel;
  const shown = runs(figureOf(view, id, `${vessel}.level`), view, { before: narrow && !withSet ? '' : 'level' });
  if (!withSet || steel.waiting) return shown;
  const set = setPoint(steel, vessel).map((run) => ({ ...run, t: run.t.replace(/ %$/, '') }));
  return set.length === 0 ? shown : [...shown, dim(', '), ...set];
}

/**
 * @param {Steel} steel
 * @param {string} vessel
 * @returns {Run[]}
 */
export function setPoint({ view, id, waiting }, vessel) {
  const figure = figureOf(view, id, `${vessel}.level_setpoint`);
  if (waiting || figure === null || figure.value === null) return [];
  return [dim(`set ${(figure.value * 100).toFixed(1).replace(/\.0$/, '')} %`)];
}

/**
 * @param {Steel} steel
 * @param {string} side
 * @returns {Run[]}
 */
export function water({ view, id, narrow, waiting }, side) {
  const entering = figureOf(view, id, `${side}.entering_temperature`);
  const leaving = figureOf(view, id, `${side}.leaving_temperature`);
  if (waiting) return runs(entering ?? leaving, view);
  if (entering === null && leaving === null) return [];
  const before = narrow ? [] : [dim('water ')];
  return [...before, ...runs(entering, view, { unit: leaving === null }), dim(' to '), ...runs(leaving, view)];
}
