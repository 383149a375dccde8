/**
 * Schematics of the arrangements that few machines have: a subcooler in place of the tank, and three stages with two
 * tanks. Drawn like the others, from the same parts; fetched only where a site has such a machine. Pure.
 * @import { Point } from '../page-types.ts'
 * @import { LegKind } from './ink.js'
 * @import { Drawing, Steel } from './schematic.js'
 */
import { partOf } from './circuit.js';
import { figureOf, runs } from './figures.js';
import { disc, leg, text } from './ink.js';
import { railLines, stripOf, stripSpan } from './schematic.js';
import { block, duty, level, pressure, setPoint, valveWords, water } from './schematic-words.js';
import { r1 } from './text.js';

/** @typedef {readonly [number, number]} Band */

/** @type {(band: Band) => number} */
const middle = ([a, b]) => (a + b) / 2;
/** @type {(t: string) => { t: string, c: string }[]} */
const bold = (t) => [{ t, c: 'b' }];

/** @typedef {readonly [string, string, string]} Ways */
/** @typedef {{ name: string, key: string, band: Band, states: Ways, level: boolean }} Vessel */

/**
 * @typedef {object} Plan What differs between the two.
 * @property {readonly Vessel[]} vessels between condenser and evaporator; states entering, leaving, leaving as vapour
 * @property {readonly { id: string, point: string, band: Band, branch: boolean }[]} valves
 * @property {readonly { id: string, band: Band }[]} stages from the first to the last
 * @property {readonly (readonly [string, string])[]} between states around each mixing: after it, and before it
 */

/**
 * @param {Steel} steel
 * @param {(a: number, b: number) => Band} band share of the height
 * @returns {Plan & { condenser: Band, evaporator: Band }}
 */
function planOf({ subcooled }, band) {
  if (subcooled)
    return {
      condenser: band(0, 19),
      evaporator: band(84, 100),
      vessels: [{ name: 'subcooler', key: 'economizer', band: band(42, 59), states: ['4', '5', '7'], level: false }],
      valves: [
        { id: 'economizer valve', point: 'economizer_valve', band: band(25, 36), branch: true },
        { id: 'condenser valve', point: 'condenser_valve', band: band(66, 77), branch: false },
      ],
      stages: [
        { id: 'first stage', band: band(66, 77) },
        { id: 'second stage', band: band(25, 36) },
      ],
      between: [['9', '2']],
    };
  return {
    condenser: band(0, 15),
    evaporator: band(88, 100),
    vessels: [
      { name: 'flash tank', key: 'flash_tank', band: band(28, 41), states: ['4', '5', '7'], level: true },
      { name: 'second tank', key: 'flash_tank_2', band: band(57, 70), states: ['11', '12', '13'], level: true },
    ],
    valves: [
      { id: 'condenser valve', point: 'condenser_valve', band: band(17, 26), branch: false },
      { id: 'tank valve', point: 'tank_valve', band: band(44, 55), branch: false },
      { id: 'second tank valve', point: 'tank_valve_2', band: band(74, 85), branch: false },
    ],
    stages: [
      { id: 'first stage', band: band(74, 85) },
      { id: 'second stage', band: band(44, 55) },
      { id: 'third stage', band: band(17, 26) },
    ],
    between: [
      ['14', '2'],
      ['9', '15'],
    ],
  };
}

/** @type {Drawing} */
export function economizerSchematic(steel, band, uid, rails) {
  const plan = planOf(steel, band);
  const { condenser, evaporator } = plan;
  const tank = /** @type {Band} */ (plan.vessels[0]?.band);
  const like = { ...steel, y: { ...steel.y, condenser, tank, evaporator } };
  return (
    vessels(steel, plan) +
    (rails === null ? '' : railLines(like, rails)) +
    pipes(steel, plan) +
    machines(steel, plan) +
    strips(steel, plan, uid) +
    numbers(steel, plan) +
    words(steel, plan)
  );
}

/**
 * @param {Steel} steel
 * @param {Drawn} plan
 * @param {string} uid
 */
function strips(steel, plan, uid) {
  const one = stripOf.bind(null, steel, uid);
  const tanks = plan.vessels.filter((vessel) => vessel.level);
  return (
    one(plan.condenser, 'condenser.level', 'condenser.level_setpoint') +
    tanks.map(({ band, key }) => one(band, `${key}.level`, `${key}.level_setpoint`)).join('') +
    plan.valves.map(({ band, point }) => one(band, `${point}.position`, null)).join('') +
    stripSpan(steel)
  );
}

/** Height at which vapour leaves a vessel. @type {(band: Band) => number} */
const vapourAt = ([a, b]) => a + (b - a) * 0.3;

/** @typedef {ReturnType<typeof planOf>} Drawn */

/**
 * @param {Steel} steel
 * @param {Drawn} plan
 */
function vessels({ column, right, tankRight }, plan) {
  const one = (/** @type {number} */ end, /** @type {Band} */ [a, b]) =>
    `<path class="vessel" d="M${r1(column)} ${r1(a)}H${r1(end - 8)}q8 0 8 8V${r1(b - 8)}q0 8 -8 8H${r1(column)}Z"/>`;
  return (
    one(right, plan.condenser) + plan.vessels.map((v) => one(tankRight, v.band)).join('') + one(right, plan.evaporator)
  );
}

/**
 * @param {Steel} steel
 * @param {Drawn} plan
 */
function pipes(steel, plan) {
  const { column, right, liquid, main, tankRight, thin, waiting, narrow, idle, off, radius: r } = steel;
  const draw = (
    /** @type {string} */ id,
    /** @type {LegKind} */ kind,
    /** @type {Point[]} */ points,
    /** @type {Point} */ hair = [0, -1],
  ) => leg(id, thin || waiting || idle ? 'before' : kind, points, { k: narrow ? 0.85 : 0.95, hair });
  const { condenser, evaporator } = plan;
  const along = (/** @type {number} */ y) =>
    /** @type {Point[]} */ ([
      [column, y],
      [right - 8, y],
    ]);
  let svg = draw('condenser', 'heat-out', along(condenser[0]).reverse());
  svg += draw('evaporator', 'heat-in', along(evaporator[1]), [0, 1]);
  // liquid: from vessel to vessel through the valves
  const down = [condenser, ...plan.vessels.map((v) => v.band), evaporator];
  const straight = plan.valves.filter((valve) => !valve.branch);
  down.slice(1).forEach((to, at) => {
    const from = /** @type {Band} */ (down[at]);
    const valve = straight.find((each) => each.band[0] >= from[1] && each.band[1] <= to[0]);
    const kind = valve === undefined ? 'split' : at === 0 ? 'throttle1' : 'throttle2';
    svg += draw(valve?.id ?? 'subcooled liquid', kind, [
      [liquid, from[1]],
      [liquid, to[0]],
    ]);
  });
  for (const { id, band } of plan.valves.filter((valve) => valve.branch)) {
    const [x, top] = [branchX(steel), (condenser[1] + band[0]) / 2];
    const end = /** @type {Band} */ (down[1])[0];
    svg += draw(id, off ? 'before' : 'throttle1', [
      [liquid, top],
      [x, top],
      [x, end],
    ]);
  }
  // gas: up through the stages; vapour joins between them
  const stops = [evaporator[0], ...[...plan.vessels].reverse().map((v) => vapourAt(v.band)), condenser[1]];
  plan.stages.forEach(({ id, band }, at) => {
    const name = off ? 'main compressor' : id;
    const y = middle(band);
    svg += draw(name, 'work', [
      [main, /** @type {number} */ (stops[at])],
      [main, y + r],
    ]);
    svg += draw(name, 'work', [
      [main, y - r],
      [main, /** @type {number} */ (stops[at + 1])],
    ]);
  });
  for (const { name, band } of plan.vessels) {
    const y = vapourAt(band);
    const id =
      name === 'subcooler' ? 'economizer vapour' : name === 'flash tank' ? 'tank vapour' : 'second tank vapour';
    svg += draw(id, off ? 'before' : 'split', [
      [tankRight, y],
      [main - 4, y],
    ]);
    const x = (tankRight + main) / 2;
    if (off) svg += `<path class="cross" d="M${r1(x - 6)} ${r1(y - 6)}l12 12m0 -12l-12 12"/>`;
  }
  return `<g class="legs${thin ? ' last' : ''}">${svg}</g>`;
}

/** Where the branch to the subcooler runs down. @param {Steel} steel */
function branchX({ liquid, tankRight, narrow }) {
  return narrow ? liquid + 42 : (liquid + tankRight) / 2 + 10;
}

/**
 * @param {Steel} steel
 * @param {Drawn} plan
 */
function machines(steel, plan) {
  const { main, liquid, radius: r, off, idle, alarm } = steel;
  const hot = (/** @type {string} */ id) =>
    alarm !== null && alarm.part === partOf(id) ? ` hot p${alarm.priority}` : '';
  const stages = plan.stages.map(({ id, band }) => {
    const y = middle(band);
    const name = off || idle ? 'main compressor' : id;
    const side = (/** @type {1 | -1} */ k) =>
      `M${r1(main + k * r * 0.86)} ${r1(y + r * 0.5)}L${r1(main + k * r * 0.42)} ${r1(y - r * 0.9)}`;
    const still = idle ? `<path class="cross" d="M${r1(main - r)} ${r1(y + r)}L${r1(main + r)} ${r1(y - r)}"/>` : '';
    return `<g class="machine${idle ? ' off' : ''}${hot(id)}" data-leg="${name}"><circle cx="${r1(main)}" cy="${r1(y)}" r="${r}"/><path d="${side(-1)}${side(1)}"/>${still}</g>`;
  });
  const valves = plan.valves.map(({ id, band, branch }) => {
    const [x, y] = [branch ? branchX(steel) : liquid, middle(band)];
    return `<g class="valve${hot(id)}" data-leg="${id}"><path d="M${r1(x - 8)} ${r1(y - 11)}h16L${r1(x - 8)} ${r1(y + 11)}h16Z"/></g>`;
  });
  return stages.join('') + valves.join('');
}

/**
 * @param {Steel} steel
 * @param {Drawn} plan
 */
function words(steel, plan) {
  const { view, id, size, column, columnWidth, narrow, main, radius, off, idle } = steel;
  const line = size * 1.24;
  const value = (/** @type {string} */ name, before = '') => runs(figureOf(view, id, name), view, { before });
  const vessel = (
    /** @type {string} */ name,
    /** @type {Band} */ band,
    /** @type {{ t: string, c?: string }[][]} */ more,
  ) => {
    const lines = [bold(name), ...more, pressure(steel, name)].filter((one) => one.length > 0);
    const y = middle(band) - ((lines.length - 1) / 2) * line + size * 0.38;
    return block(steel, name, column + columnWidth + 18, y, lines);
  };
  let svg = vessel('condenser', plan.condenser, [level(steel, 'condenser', true), water(steel, 'condenser_water')]);
  svg += vessel('evaporator', plan.evaporator, [water(steel, 'chilled_water')]);
  for (const { name, key, band, level: has } of plan.vessels) {
    const more = has
      ? [level(steel, key, false), idle || narrow ? [] : setPoint(steel, key)]
      : off || idle
        ? []
        : [value('economizer.approach', 'approach'), narrow ? [] : value('economizer.liquid_cooling', 'cools by')];
    svg += vessel(name, band, more);
  }
  for (const { id: valve, point, band, branch } of plan.valves)
    svg += valveWords(branch ? { ...steel, liquid: branchX(steel) } : steel, band, valve, point);
  const x = main - radius - 8;
  if (off || idle) {
    const first = /** @type {{ band: Band }} */ (plan.stages[0]);
    const lines = [bold(narrow ? 'stages' : 'all stages as one'), ...duty(steel, 'main_compressor', false)];
    return svg + block(steel, 'main compressor', x, middle(first.band) - line * 0.5, lines, 'end');
  }
  for (const { id: stage, band } of plan.stages) {
    const lift = value(`main_compressor.${stage.replace(' ', '_')}_lift`, narrow ? '' : 'lift');
    const name = narrow ? [bold(stage.replace(' stage', '')), bold('stage')] : [bold(stage)];
    svg += block(steel, stage, x, middle(band) - line * (narrow ? 0.5 : 0.1), [...name, lift], 'end');
  }
  const lowest = /** @type {{ band: Band }} */ (plan.vessels.at(-1));
  const all = value('main_compressor.power', narrow ? '' : 'all stages');
  return svg + text(main - 12, lowest.band[1] - size * 0.2, all, { size, anchor: 'end', cls: 'lab' });
}

/**
 * @param {Steel} steel
 * @param {Drawn} plan
 */
function numbers(steel, plan) {
  const { size, liquid, main, tankRight, off, idle, subcooled } = steel;
  if (idle) return '';
  const r = size * 0.68;
  const o = r + 6;
  const { condenser, evaporator } = plan;
  // beside the words of the valves
  const left = liquid - o;
  let svg = disc('3', left, condenser[1] + r + 3, size) + disc('6', left, evaporator[0] - r - 3, size);
  svg += disc('1', main + o, evaporator[0] - r - 4, size) + disc('10', main + o, condenser[1] + r + 4, size);
  plan.vessels.forEach(({ band, states: [into, out, vapour] }, at) => {
    if (off && subcooled) return;
    svg += disc(into, subcooled ? branchX(steel) + o : left, band[0] - r - 3, size);
    if (off) return;
    svg += disc(out, left, band[1] + r + 3, size) + disc(vapour, tankRight + r + 4, vapourAt(band) - r - 5, size);
    const [after, before] = /** @type {readonly [string, string]} */ (plan.between[plan.vessels.length - 1 - at]);
    svg += disc(after, main + o, vapourAt(band) - r - 3, size) + disc(before, main + o, vapourAt(band) + r + 5, size);
  });
  return svg;
}
