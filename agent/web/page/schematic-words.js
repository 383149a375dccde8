/**
 * Words of the schematic: each vessel, valve and machine with its figures. Pure.
 * @import { Run } from '../page-types.ts'
 * @import { Steel } from './schematic.js'
 */
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
function block({ size, alarm }, part, x, y, lines, anchor = 'start') {
  const hot = alarm !== null && alarm.part === part;
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

/** @param {Steel} steel */
export function schematicWords(steel) {
  const { view, id, size, narrow, column, columnWidth, liquid, main, econ, radius, y, simple, off } = steel;
  const line = size * 1.24;
  const x = column + columnWidth + 18;
  const middle = (/** @type {readonly [number, number]} */ [a, b]) => (a + b) / 2;
  const value = (/** @type {string} */ name, before = '') => runs(figureOf(view, id, name), view, { before });
  let svg = block(steel, 'condenser', x, middle(y.condenser) - line + size * 0.38, [
    bold('condenser'),
    level(steel, 'condenser', true),
    water(steel, 'condenser_water'),
  ]);
  svg += block(steel, 'evaporator', x, middle(y.evaporator) - line * 0.5 + size * 0.38, [
    bold('evaporator'),
    water(steel, 'chilled_water'),
  ]);
  const valve = (/** @type {readonly [number, number]} */ band, /** @type {string} */ part) => {
    const name = `${part.replace(' ', '_')}.position`;
    const [first = '', second = ''] = part.split(' ');
    const open = figureOf(view, id, name);
    const shown = value(name);
    if (!narrow && open !== null && open.value !== null && !open.last) shown.push(dim(' open'));
    const lines = narrow ? [bold(first), bold(second), shown] : [bold(part), shown];
    return block(steel, part, liquid + 15, middle(band) - line * (narrow ? 0.5 : 0.28), lines);
  };
  svg += valve(y.valve1, 'condenser valve');
  const machine = (/** @type {string} */ key, /** @type {boolean} */ still) =>
    still ? [bold('off')] : narrow ? [value(`${key}.power`)] : [value(`${key}.power`), value(`${key}.lift`, 'lift')];
  const mainName = narrow ? [bold('main'), bold('compressor')] : [bold('main compressor')];
  svg += block(
    steel,
    'main compressor',
    main - radius - 8,
    middle(y.valve2) - line * 0.5,
    [...mainName, ...machine('main_compressor', false)],
    'end',
  );
  if (simple) return svg;
  svg += block(steel, 'flash tank', x, middle(y.tank) - line + size * 0.38, [
    bold('flash tank'),
    level(steel, 'flash_tank', false),
    setPoint(steel, 'flash_tank'),
  ]);
  svg += valve(y.valve2, 'tank valve');
  const up = off || narrow ? 0.6 : 1.1;
  svg += block(steel, 'economizer compressor', econ + radius + 7, middle(y.valve1) - line * up, [
    bold('economizer'),
    bold('compressor'),
    ...machine('economizer_compressor', off),
  ]);
  return svg;
}

/**
 * @param {Steel} steel
 * @param {string} vessel
 * @param {boolean} withSet
 * @returns {Run[]}
 */
function level(steel, vessel, withSet) {
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
function setPoint({ view, id, waiting }, vessel) {
  const figure = figureOf(view, id, `${vessel}.level_setpoint`);
  if (waiting || figure === null || figure.value === null) return [];
  return [dim(`set ${(figure.value * 100).toFixed(1).replace(/\.0$/, '')} %`)];
}

/**
 * @param {Steel} steel
 * @param {string} side
 * @returns {Run[]}
 */
function water({ view, id, narrow, waiting }, side) {
  const entering = figureOf(view, id, `${side}.entering_temperature`);
  const leaving = figureOf(view, id, `${side}.leaving_temperature`);
  if (waiting) return runs(entering ?? leaving, view);
  if (entering === null && leaving === null) return [];
  const before = narrow ? [] : [dim('water ')];
  return [...before, ...runs(entering, view, { unit: leaving === null }), dim(' to '), ...runs(leaving, view)];
}
