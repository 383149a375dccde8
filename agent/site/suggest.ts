/**
 * Which point an object of a controller most likely is, by its name, description and units: a first draft for a person
 * to correct, never more. Words and abbreviations: common practice, no source.
 */
import { type Dimension, type UnitName, unitOf } from '../base/units.ts';
import { type PointName, pointDefinition } from '../points/dictionary.ts';

export interface NamedObject {
  /** Kind and instance, such as analog-input:3. */
  readonly address: string;
  readonly name: string | null;
  readonly description: string | null;
  /** The standard's name of the units. */
  readonly units: string | null;
}

export interface Suggestion {
  readonly point: PointName;
  readonly object: NamedObject;
  /** Null: the object's units say nothing that such a point can be in. */
  readonly unit: UnitName | null;
  /** Gauge or absolute is a property of the transmitter that no object tells. */
  readonly unsure: 'unit' | 'reference' | null;
}

export interface Suggestions {
  readonly points: readonly Suggestion[];
  readonly others: readonly NamedObject[];
}

/** Units of the standard as the project writes them; pressures are decided with the name. */
const UNIT_OF: Readonly<Record<string, readonly UnitName[]>> = {
  'degrees-celsius': ['degC'],
  'degrees-fahrenheit': ['degF'],
  'degrees-kelvin': ['kelvin'],
  pascals: ['Pa'],
  kilopascals: ['kPa', 'delta_kPa'],
  bars: ['bar', 'delta_bar'],
  'pounds-force-per-square-inch': ['psig', 'delta_psi'],
  'inches-of-mercury': ['inHg_vac'],
  'feet-of-water': ['ftH2O'],
  'us-gallons-per-minute': ['gpm'],
  'cubic-meters-per-hour': ['m3/h'],
  'cubic-meters-per-second': ['m3/s'],
  'liters-per-second': ['l/s'],
  kilowatts: ['kW'],
  watts: ['W'],
  megawatts: ['MW'],
  'tons-refrigeration': ['ton'],
  amperes: ['A'],
  volts: ['V'],
  percent: ['%'],
  'no-units': ['1', 'count', 'state'],
  'revolutions-per-minute': ['rpm'],
  hertz: ['Hz'],
  hours: ['h'],
  minutes: ['min'],
  seconds: ['s'],
};
const GAUGES: ReadonlySet<string> = new Set([
  'pounds-force-per-square-inch',
  'inches-of-mercury',
  'kilopascals',
  'bars',
]);

/** One idea by the words that carry it. */
const IDEAS: Readonly<Record<string, RegExp>> = {
  chilled: /^(chw|chws|chwr|chwst|chwrt|chilled|chill|ecwt|lcwt|evapw)$/,
  tower: /^(cdw|cdws|cdwr|cw|cws|cwr|cond?w|cnw|tower)$/,
  condenser: /^(cond|condenser|cnd|cdsr)$/,
  evaporator: /^(evap|evaporator|cooler)$/,
  water: /^(water|wtr|w)$/,
  tank: /^(econ|economizer|economiser|flash|tank|intermediate|interstage|intercooler)$/,
  entering: /^(ent|entering|ewt|in|inlet|return|ret|chwr|chwrt|cdws|cws|ecwt)$/,
  leaving: /^(lvg|leaving|lwt|out|outlet|supply|sup|chws|chwst|cdwr|cwr|lcwt)$/,
  flow: /^(flow|gpm|flw|fl)$/,
  drop: /^(dp|delta|diff|differential|drop|pd)$/,
  pressure: /^(p|press|pressure|prs|pr|vac|vacuum|psi|psig|psia)$/,
  temperature: /^(t|temp|temperature|tmp|ewt|lwt)$/,
  liquid: /^(liq|liquid|subcooled|drain)$/,
  level: /^(lvl|level|lev)$/,
  setpoint: /^(sp|setpoint|setpt|stpt|set|target)$/,
  valve: /^(vlv|valve|eev|exv|orifice)$/,
  position: /^(pos|position|fb|feedback|opening|open)$/,
  command: /^(cmd|command|output|demand)$/,
  vanes: /^(igv|vane|vanes|gv|pgv|prv)$/,
  speed: /^(speed|spd|rpm)$/,
  compressor: /^(comp|compressor|cmp|motor|mtr|second|first)$/,
  suction: /^(suct|suction)$/,
  discharge: /^(disch|discharge|dis|hotgas)$/,
  power: /^(kw|power|pwr|watts)$/,
  current: /^(amps|amp|current|cur|amperes)$/,
  voltage: /^(volts|volt|voltage)$/,
  factor: /^(pf|factor)$/,
  running: /^(run|running|status|sts|onoff)$/,
  mode: /^(mode)$/,
  starts: /^(starts|start|nstarts|startcount)$/,
  hours: /^(hours|hrs|hr|runhours|runhrs|rh|elapsed)$/,
  outdoor: /^(oa|oat|outdoor|outside|ambient|oda)$/,
  wetbulb: /^(wb|wetbulb|wet|oawb)$/,
  oil: /^(oil)$/,
  sump: /^(sump|reservoir)$/,
};

/** Ideas that all must be there, and some that must not; the first that fits an object's kind of value wins. */
const RULES: readonly (readonly [PointName, all: string, none?: string])[] = [
  ['outdoor.wet_bulb_temperature', 'outdoor wetbulb'],
  ['outdoor.temperature', 'outdoor', 'wetbulb'],
  ['oil.sump_temperature', 'oil sump'],
  ['oil.supply_temperature', 'oil temperature', 'sump'],
  ['oil.supply_pressure', 'oil pressure'],
  ['chilled_water.pressure_drop', 'chilled drop'],
  ['condenser_water.pressure_drop', 'tower drop'],
  ['chilled_water.flow', 'chilled flow'],
  ['condenser_water.flow', 'tower flow'],
  ['chilled_water.entering_temperature', 'chilled entering', 'setpoint tower'],
  ['chilled_water.leaving_temperature', 'chilled leaving', 'setpoint tower'],
  ['condenser_water.entering_temperature', 'tower entering', 'setpoint'],
  ['condenser_water.leaving_temperature', 'tower leaving', 'setpoint'],
  ['condenser.level_setpoint', 'condenser level setpoint', 'tank'],
  ['flash_tank.level_setpoint', 'tank level setpoint'],
  ['condenser.level', 'condenser level', 'setpoint valve tank'],
  ['flash_tank.level', 'tank level', 'setpoint valve'],
  ['condenser_valve.position', 'condenser valve position'],
  ['condenser_valve.command', 'condenser valve command'],
  ['tank_valve.position', 'tank valve position'],
  ['tank_valve.command', 'tank valve command'],
  ['condenser.liquid_temperature', 'liquid', 'level tank'],
  ['economizer_compressor.suction_temperature', 'tank compressor suction'],
  ['economizer_compressor.discharge_temperature', 'tank compressor discharge'],
  ['economizer_compressor.power', 'tank compressor power'],
  ['economizer_compressor.running', 'tank compressor running', 'hours starts'],
  ['main_compressor.suction_temperature', 'suction', 'pressure tank'],
  ['main_compressor.discharge_temperature', 'discharge', 'pressure tank'],
  ['main_compressor.vane_position', 'vanes', 'setpoint'],
  ['main_compressor.speed', 'speed', 'setpoint tank'],
  ['evaporator.pressure', 'evaporator pressure', 'water tower drop'],
  ['flash_tank.pressure', 'tank pressure'],
  ['condenser.pressure', 'condenser pressure', 'water drop'],
  ['flash_tank.temperature', 'tank', 'compressor level valve pressure'],
  ['main_compressor.run_hours', 'hours', 'tank'],
  ['main_compressor.starts', 'starts', 'tank'],
  ['main_compressor.power_factor', 'factor'],
  ['main_compressor.voltage', 'voltage'],
  ['main_compressor.current', 'current', 'tank'],
  ['main_compressor.power', 'compressor power', 'tank'],
  ['unit.power', 'power', 'compressor tank factor'],
  ['main_compressor.running', 'compressor running', 'hours starts tank'],
  ['unit.running', 'running', 'hours starts compressor tank'],
  ['unit.operating_mode', 'mode'],
];

/** Each point once, in the order of the dictionary's rules; every object that is none of them in `others`. */
export function suggestPoints(objects: readonly NamedObject[]): Suggestions {
  const taken = new Map<PointName, Suggestion>();
  const others: NamedObject[] = [];
  for (const object of objects) {
    const suggestion = suggestionFor(object, taken);
    if (suggestion === null) others.push(object);
    else taken.set(suggestion.point, suggestion);
  }
  const order = RULES.map(([point]) => point);
  const points = [...taken.values()].sort((a, b) => order.indexOf(a.point) - order.indexOf(b.point));
  return { points, others };
}

function suggestionFor(object: NamedObject, taken: ReadonlyMap<PointName, Suggestion>): Suggestion | null {
  const ideas = ideasIn(`${object.name ?? ''} ${object.description ?? ''}`);
  for (const [point, all, none = ''] of RULES) {
    if (taken.has(point)) continue;
    if (!all.split(' ').every((idea) => ideas.has(idea))) continue;
    if (none.split(' ').some((idea) => ideas.has(idea))) continue;
    const { dimension } = pointDefinition(point);
    if (!kindFits(object, dimension)) continue;
    const unit = unitFor(object, dimension, ideas.has('vacuum'));
    if (unit === null && object.units !== null && object.units !== 'no-units') continue;
    return { point, object, ...unsureOf(unit, dimension, object.units) };
  }
  return null;
}

function unsureOf(
  unit: UnitName | null,
  dimension: Dimension,
  units: string | null,
): Pick<Suggestion, 'unit' | 'unsure'> {
  if (dimension === 'state' || dimension === 'count') return { unit, unsure: null };
  if (unit === null) return { unit, unsure: 'unit' };
  return { unit, unsure: dimension === 'pressure' && GAUGES.has(units ?? '') ? 'reference' : null };
}

/** Every idea that the words of a text carry; capitals within a word begin a new one. */
function ideasIn(text: string): ReadonlySet<string> {
  const parted = text.replace(/([a-z0-9])([A-Z])/g, '$1 $2').toLowerCase();
  const parts = parted.split(/[^a-z0-9]+/).map((part) => part.replace(/\d+$/, ''));
  const joined = parts.slice(1).map((part, index) => `${parts[index]}${part}`);
  const ideas = new Set<string>();
  for (const [idea, form] of Object.entries(IDEAS))
    if ([...parts, ...joined].some((part) => form.test(part))) ideas.add(idea);
  if (parts.some((part) => part === 'vac' || part === 'vacuum')) ideas.add('vacuum');
  // Water of a vessel is the water that runs through it.
  if (ideas.has('water') && ideas.has('condenser')) ideas.add('tower');
  if (ideas.has('water') && ideas.has('evaporator')) ideas.add('chilled');
  return ideas;
}

function kindFits({ address }: NamedObject, dimension: Dimension): boolean {
  const discrete = address.startsWith('binary') || address.startsWith('multi-state');
  return discrete === (dimension === 'state');
}

function unitFor({ units }: NamedObject, dimension: Dimension, vacuum: boolean): UnitName | null {
  if (dimension === 'state') return 'state';
  const known = (UNIT_OF[units ?? ''] ?? []).filter((unit) => unitOf(unit).dimension === dimension);
  if (dimension === 'pressure' && vacuum && units === 'inches-of-mercury') return 'inHg_vac';
  return known[0] ?? null;
}
