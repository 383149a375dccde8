/**
 * A plant for looking at the page: two chillers of Kestrel Quay whose figures hang together but prove nothing (see `about` in the data).
 * What the page shows of real minutes is checked where the agent runs; here the page alone is looked at.
 */
import { readFileSync } from 'node:fs';
import type {
  AlarmFigure,
  DiagramFigure,
  HistoryFigure,
  Now,
  PointFigure,
  SiteFigure,
  StateFigure,
  WebData,
} from '../../agent/web/types.ts';

type Solved = Record<string, number>;
interface Data {
  readonly liquid: [number, number, number][];
  readonly vapour: [number, number, number][];
  readonly isotherms: { T: number; line: [number, number][] }[];
  readonly on: Solved;
  readonly off: Solved;
  readonly U: Solved;
  readonly strips: Record<string, number[]>;
  readonly spark: number[];
}

const DATA = JSON.parse(readFileSync(new URL('./fixture-data.json', import.meta.url), 'utf8')) as Data;

export type Mode = 'normal' | 'off' | 'alarm' | 'lost' | 'loading' | 'standstill';

const n = (row: Solved, key: string): number => row[key] as number;

const METRICS: Record<string, string> = {
  'unit.capacity': 'kW',
  'unit.power': 'kW',
  'unit.kw_per_ton': 'kw_per_ton',
  'unit.cop': '1',
  'unit.carnot_fraction': '1',
  'unit.heat_balance_error': '1',
  'economizer.power_saved': 'kW',
  'economizer.saving_fraction': '1',
  'economizer.saving_fraction_low': '1',
  'economizer.saving_fraction_high': '1',
  'economizer.refrigerating_effect_gain': '1',
  'economizer.missed_saving': 'kW',
  'flash_tank.flash_fraction': '1',
  'flash_tank.flash_fraction_without_subcooling': '1',
  'evaporator.flash_fraction': '1',
  'condenser.subcooling': 'K',
  'subcooling.economizer_power_avoided': 'kW',
  'main_compressor.lift': 'K',
  'economizer_compressor.lift': 'K',
  'main_compressor.pressure_ratio': '1',
  'economizer_compressor.pressure_ratio': '1',
  'main_compressor.isentropic_head': 'kJ/kg',
  'economizer_compressor.isentropic_head': 'kJ/kg',
  'main_compressor.isentropic_efficiency': '1',
  'economizer_compressor.isentropic_efficiency': '1',
  'main_compressor.polytropic_efficiency': '1',
  'economizer_compressor.polytropic_efficiency': '1',
  'main_compressor.suction_volume_flow': 'm3/s',
  'economizer_compressor.suction_volume_flow': 'm3/s',
  'main_compressor.power': 'kW',
  'economizer_compressor.power': 'kW',
  'evaporator.mass_flow': 'kg/s',
  'flash_tank.vapour_mass_flow': 'kg/s',
  'condenser.saturation_temperature': 'degC',
  'evaporator.saturation_temperature': 'degC',
  'flash_tank.saturation_temperature': 'degC',
  'condenser.approach': 'K',
  'evaporator.approach': 'K',
  'condenser.ua': 'kW/K',
  'evaporator.ua': 'kW/K',
};

/** Value and expanded uncertainty of every metric, catalogue units. */
function metrics(mode: Mode): Record<string, [number | null, number]> {
  const off = mode === 'off';
  const r = off ? DATA.off : DATA.on;
  const on = DATA.on;
  const U = DATA.U;
  const econ = (value: number): number | null => (off ? null : value);
  return {
    'unit.capacity': [n(r, 'Q') / 1e3, n(U, 'Q') / 1e3],
    'unit.power': [n(r, 'P') / 1e3, 5.6],
    'unit.kw_per_ton': [n(r, 'kwpt'), n(U, 'kwpt')],
    'unit.cop': [n(r, 'Q') / n(r, 'P'), 0.13],
    'unit.carnot_fraction': [0.732, 0.012],
    'unit.heat_balance_error': [off ? null : 0.011, 0.017],
    'economizer.power_saved': [econ(n(on, 'save') / 1e3), n(U, 'save') / 1e3],
    'economizer.saving_fraction': [n(on, 'save') / n(on, 'W0'), 0.0012],
    'economizer.saving_fraction_low': [0.019, 0.0012],
    'economizer.saving_fraction_high': [0.0757, 0.0012],
    'economizer.refrigerating_effect_gain': [n(r, 'gain'), n(U, 'gain')],
    'economizer.missed_saving': [off ? n(on, 'save') / 1e3 : null, n(U, 'save') / 1e3],
    'flash_tank.flash_fraction': [econ(n(r, 'x4')), n(U, 'x4')],
    'flash_tank.flash_fraction_without_subcooling': [econ(n(r, 'x4ns')), n(U, 'x4ns')],
    'evaporator.flash_fraction': [n(r, off ? 'xd' : 'x6'), n(U, 'x6')],
    'condenser.subcooling': [n(r, 'sub'), n(U, 'sub')],
    'subcooling.economizer_power_avoided': [econ(12.1), 0.5],
    'main_compressor.lift': [n(r, 'Tc') - n(r, 'Te'), 0.18],
    'economizer_compressor.lift': [econ(n(r, 'Tc') - n(r, 'Tt')), 0.19],
    'main_compressor.pressure_ratio': [n(r, 'pc') / n(r, 'pe'), 0.014],
    'economizer_compressor.pressure_ratio': [econ(n(r, 'pc') / n(r, 'pt')), 0.009],
    'main_compressor.isentropic_head': [n(r, 'head') / 1e3, n(U, 'head') / 1e3],
    'economizer_compressor.isentropic_head': [econ(n(r, 'headE') / 1e3), n(U, 'headE') / 1e3],
    'main_compressor.isentropic_efficiency': [0.83, 0.018],
    'economizer_compressor.isentropic_efficiency': [econ(0.74), 0.032],
    'main_compressor.polytropic_efficiency': [0.842, 0.018],
    'economizer_compressor.polytropic_efficiency': [econ(0.751), 0.032],
    'main_compressor.suction_volume_flow': [n(r, 'v1'), n(U, 'v1')],
    'economizer_compressor.suction_volume_flow': [econ(n(r, 'v7')), n(U, 'v7')],
    'main_compressor.power': [n(r, 'Wm') / 1e3, 5.3],
    'economizer_compressor.power': [econ(n(r, 'We') / 1e3), 0.7],
    'evaporator.mass_flow': [n(r, 'me'), n(U, 'me')],
    'flash_tank.vapour_mass_flow': [econ(n(r, 'mv')), n(U, 'mv')],
    'condenser.saturation_temperature': [n(r, 'Tc') - 273.15, n(U, 'Tc')],
    'evaporator.saturation_temperature': [n(r, 'Te') - 273.15, n(U, 'Te')],
    'flash_tank.saturation_temperature': [n(r, 'Tt') - 273.15, n(U, 'Tt')],
    'condenser.approach': [n(r, 'Tc') - 306.75, 0.43],
    'evaporator.approach': [279.9 - n(r, 'Te'), 0.17],
    'condenser.ua': [985, 61],
    'evaporator.ua': [1240, 38],
  };
}

/** Value, unit, expanded uncertainty. */
function points(mode: Mode): Record<string, PointFigure> {
  const r = mode === 'off' ? DATA.off : DATA.on;
  const at = (name: string): number => (DATA.strips[name]?.at(-1) ?? 0) / 100;
  const good = (value: number, unit: string, uncertainty: number | null): PointFigure => ({
    value,
    unit,
    uncertainty,
    quality: 'good',
    reason: null,
    age_s: 1.2,
  });
  return {
    'condenser.pressure': good(n(r, 'pc') / 1e3, 'kPa', 3.3),
    'evaporator.pressure': good(n(r, 'pe') / 1e3, 'kPa', 1.6),
    'flash_tank.pressure': good(n(r, 'pt') / 1e3, 'kPa', 2.5),
    'condenser.liquid_temperature': good(n(r, 'T3') - 273.15, 'degC', 0.16),
    'main_compressor.discharge_temperature': good(n(r, 'T2') - 273.15, 'degC', 0.4),
    'chilled_water.entering_temperature': good(12.45, 'degC', 0.11),
    'chilled_water.leaving_temperature': good(6.75, 'degC', 0.11),
    'chilled_water.flow': good(0.1748, 'm3/s', 0.0026),
    'condenser_water.entering_temperature': good(28, 'degC', 0.11),
    'condenser_water.leaving_temperature': {
      ...good(33.6, 'degC', 0.41),
      quality: 'uncertain',
      reason: 'sensor 2.4 standard uncertainties high',
    },
    'condenser_water.flow':
      mode === 'off'
        ? { ...good(0, 'm3/s', null), value: null, quality: 'bad', reason: 'signal open' }
        : good(0.2043, 'm3/s', 0.0031),
    'condenser.level': good(at('condenser_level'), '1', 0.01),
    'condenser.level_setpoint': good(0.415, '1', null),
    'flash_tank.level': good(mode === 'alarm' ? 0.012 : at('tank_level'), '1', 0.01),
    'flash_tank.level_setpoint': good(0.5, '1', null),
    'condenser_valve.position': good(at('condenser_valve'), '1', 0.005),
    'tank_valve.position': good(mode === 'alarm' ? 0.476 : at('tank_valve'), '1', 0.005),
  };
}

function states(r: Solved, which: readonly string[]): Record<string, StateFigure> {
  const T: Record<string, string> = { 1: 'T1', 2: 'T2', 3: 'T3', 4: 'Tt', 5: 'Tt', 6: 'Te', 7: 'Tt', 8: 'T8' };
  const p: Record<string, string> = { 1: 'pe', 2: 'pc', 3: 'pc', 4: 'pt', 5: 'pt', 6: 'pe', 7: 'pt', 8: 'pc' };
  const off = n(r, 'We') === 0;
  const q: Record<string, number> = { 4: n(r, 'x4'), 5: 0, 6: n(r, off ? 'xd' : 'x6'), 7: 1 };
  const m = (k: string): number =>
    k === '7' || k === '8' ? n(r, 'mv') : k === '3' || k === '4' ? n(r, 'me') + n(r, 'mv') : n(r, 'me');
  return Object.fromEntries(
    which.map((k) => [
      k,
      { T: n(r, T[k] ?? ''), p: n(r, p[k] ?? ''), h: n(r, `h${k}`), s: 1700, q: q[k] ?? null, m: m(k) },
    ]),
  );
}

const FULL = ['1', '2', '3', '4', '5', '6', '7', '8'];
const DIRECT = ['1', '2', '3', '4', '6'];
const SIMPLE = ['1', '2', '3', '6'];

const SEAL: AlarmFigure = {
  id: 'tank_level_low',
  chiller: 'CH-1',
  state: 'unacknowledged',
  priority: 1,
  title: 'liquid seal lost in the flash tank',
  since: '2026-07-14T08:36:00Z',
  metric: 'tank_valve.position',
  value: 0.476,
  limit: 0.03,
  unit: '1',
  cause: 'The tank valve stands open while its command is closed.',
  consequence: 'Vapour blows through to the evaporator; the economizer saves little.',
  action: 'Look whether the stem follows a hand command; look for a seized stem or a slipped coupling.',
  evidence: [{ name: 'valve position less command', found: '47.6 ±0.7 %', expected: '0.0 ±0.8 %' }],
};
const SENSOR: AlarmFigure = {
  id: 'sensor_implausible',
  chiller: 'CH-1',
  state: 'acknowledged',
  priority: 3,
  title: 'sensor suspect',
  since: '2026-07-12T12:20:00Z',
  metric: null,
  value: null,
  limit: null,
  unit: null,
  cause: 'Condenser water leaving reads higher than the balances allow.',
  consequence: 'Approach and heat balance of the condenser are doubtful.',
  action: 'Compare the well with a calibrated thermometer.',
  evidence: [],
};

export class Fixture implements WebData {
  mode: Mode = 'normal';
  /** End of the newest minute, ms. */
  time = Date.parse('2026-07-14T08:42:00Z');
  sequence = 184_203;
  demo = true;
  /** Shifts the capacity of CH-1, kW, so that a new minute differs. */
  shift = 0;
  trouble_: string | null = null;
  fail: string | null = null;
  chillers = 2;
  readonly #listeners = new Set<(now: Now) => void>();

  #guard(what: string): void {
    if (this.fail === what) throw new Error(`planted failure of ${what}`);
  }

  site(): SiteFigure {
    this.#guard('site');
    const base = { refrigerant: 'R-134a', pressure_window: [262, 1230] as const };
    return {
      id: 'kestrel-quay',
      name: 'Kestrel Quay',
      time_zone: 'Europe/Amsterdam',
      unit_system: 'ip',
      barometer_kpa: 101.325,
      interval_s: 60,
      version: '0.1.0',
      demo: this.demo,
      chillers: [
        { id: 'CH-1', arrangement: 'parallel', rated_capacity_kw: 5275.28, ...base },
        { id: 'CH-2', arrangement: 'simple', rated_capacity_kw: 3165.17, ...base },
      ].slice(0, this.chillers),
      catalogue: Object.fromEntries(
        Object.entries(METRICS).map(([name, unit]) => [name, { unit, meaning: name, formula: '' }]),
      ),
    };
  }

  now(chiller: string): Now | null {
    this.#guard('now');
    if (chiller === 'CH-1') return this.#first();
    return chiller === 'CH-2' ? this.#second() : null;
  }

  #base(chiller: string): Now {
    const waiting = this.mode === 'loading';
    return {
      chiller,
      time: waiting ? null : new Date(this.time).toISOString(),
      sequence: waiting ? null : this.sequence,
      interval_s: 60,
      state: waiting ? 'unknown' : 'steady',
      state_since: waiting ? null : new Date(this.time - 7_800_000).toISOString(),
      economizer: 'unknown',
      values: {},
      uncertainty: {},
      quality: {},
      points: {},
      states: {},
      ghost: {},
      link: { state: 'connected', since: '2026-07-14T02:00:00Z', reason: null },
      points_read: 22,
      points_mapped: 24,
      alarms: this.alarms().filter((alarm) => alarm.chiller === chiller),
    };
  }

  #first(): Now {
    const { mode } = this;
    const base = this.#base('CH-1');
    if (mode === 'loading') return base;
    if (mode === 'lost') {
      const values = Object.fromEntries(Object.keys(METRICS).map((name) => [name, null]));
      const quality = Object.fromEntries(
        Object.keys(METRICS).map((name) => [name, { quality: 'bad' as const, reason: 'the controller is silent' }]),
      );
      const silent = Object.fromEntries(
        Object.entries(points('normal')).map(([name, p]) => [
          name,
          { ...p, value: null, quality: 'bad' as const, reason: 'no answer' },
        ]),
      );
      const link = {
        state: 'lost' as const,
        since: new Date(this.time - 660_000).toISOString(),
        reason: 'no reply within 1 s',
      };
      return { ...base, state: 'unknown', values, quality, points: silent, link };
    }
    const off = mode === 'off';
    const all = metrics(mode);
    all['unit.capacity'] = [(all['unit.capacity']?.[0] ?? 0) + this.shift, all['unit.capacity']?.[1] ?? 1];
    const quality: Record<string, { quality: 'uncertain' | 'bad'; reason: string }> = {};
    for (const [name, [value]] of Object.entries(all))
      if (value === null)
        quality[name] = {
          quality: 'bad',
          reason: name === 'unit.heat_balance_error' ? 'needs condenser water flow' : 'the economizer is off',
        };
    quality['condenser.approach'] = { quality: 'uncertain', reason: 'depends on the suspect sensor' };
    quality['condenser.ua'] = { quality: 'uncertain', reason: 'depends on the suspect sensor' };
    if (!off) quality['economizer.missed_saving'] = { quality: 'bad', reason: 'the economizer runs' };
    return {
      ...base,
      economizer: off ? 'off' : 'on',
      values: Object.fromEntries(Object.entries(all).map(([name, [value]]) => [name, value])),
      uncertainty: Object.fromEntries(
        Object.entries(all).flatMap(([name, [value, u]]) => (value === null ? [] : [[name, u]])),
      ),
      quality,
      points: points(mode),
      states: off ? states(DATA.off, DIRECT) : states(DATA.on, FULL),
      ghost: off ? states(DATA.on, FULL) : states({ ...DATA.on, h6: n(DATA.on, 'h3'), x6: n(DATA.on, 'xd') }, DIRECT),
    };
  }

  #second(): Now {
    const base = this.#base('CH-2');
    if (this.mode === 'loading') return base;
    const half = metrics('off');
    const keep = [
      'unit.capacity',
      'unit.power',
      'unit.kw_per_ton',
      'unit.cop',
      'unit.carnot_fraction',
      'main_compressor.lift',
      'main_compressor.power',
      'evaporator.flash_fraction',
      'condenser.saturation_temperature',
      'evaporator.saturation_temperature',
      'condenser.approach',
      'evaporator.approach',
      'main_compressor.pressure_ratio',
    ];
    const scale = (name: string, value: number | null): number | null =>
      value !== null && /capacity|power$/.test(name) && !name.includes('per_ton') ? value * 0.51 : value;
    const scaled = Object.entries(half).filter(([name]) => keep.includes(name));
    const all = points('normal');
    const kept = Object.fromEntries(
      Object.entries(all).filter(
        ([name]) => !name.startsWith('flash_tank') && !name.startsWith('tank_valve') && !name.endsWith('.flow'),
      ),
    );
    return {
      ...base,
      economizer: 'none',
      values: Object.fromEntries(scaled.map(([name, [value]]) => [name, scale(name, value)])),
      uncertainty: Object.fromEntries(scaled.map(([name, [, u]]) => [name, scale(name, u) ?? u])),
      points: kept,
      states: states({ ...DATA.off, h6: n(DATA.off, 'h3') }, SIMPLE),
    };
  }

  diagram(chiller: string): DiagramFigure | null {
    this.#guard('diagram');
    if (!/^CH-[12]$/.test(chiller)) return null;
    return {
      refrigerant: 'R-134a',
      reference: 'saturated liquid at 0 °C is 200 kJ/kg',
      critical: { T: 374.21, p: 4_059_280, h: 389_640 },
      liquid: DATA.liquid,
      vapour: DATA.vapour,
      isotherms: DATA.isotherms,
    };
  }

  history(chiller: string, metric: string, from: number, to: number, step_s: number): HistoryFigure | null {
    this.#guard('history');
    const now = this.now(chiller);
    const strip = {
      'condenser.level': 'condenser_level',
      'flash_tank.level': 'tank_level',
      'condenser_valve.position': 'condenser_valve',
      'tank_valve.position': 'tank_valve',
    }[metric];
    const unit = METRICS[metric] ?? now?.points[metric]?.unit ?? (strip === undefined ? undefined : '1');
    if (unit === undefined) return null;
    const step = step_s === 0 ? 60 : step_s;
    const count = Math.floor((to - from) / 1000 / step);
    const ends = DATA.on;
    const middle = {
      'unit.capacity': n(ends, 'Q') / 1e3,
      'unit.cop': 6.64,
      'main_compressor.lift': n(ends, 'Tc') - n(ends, 'Te'),
      'flash_tank.flash_fraction': n(ends, 'x4'),
      'chilled_water.leaving_temperature': 6.75,
    }[metric];
    const series =
      strip !== undefined
        ? (DATA.strips[strip] ?? []).map((v) => v / 100)
        : DATA.spark.map((v) =>
            middle === undefined ? v : middle * (1 + (v - n(ends, 'kwpt')) * (metric === 'unit.capacity' ? 0.8 : 0.6)),
          );
    const points = Array.from({ length: count }, (_, i) => {
      const time = new Date(to - (count - 1 - i) * step * 1000).toISOString();
      const a = Math.floor((i / count) * series.length);
      const part = series.slice(a, Math.max(a + 1, Math.floor(((i + 1) / count) * series.length)));
      if (this.mode === 'loading' || part.length === 0) return { time, least: null, greatest: null, mean: null };
      return {
        time,
        least: Math.min(...part),
        greatest: Math.max(...part),
        mean: part.reduce((x, y) => x + y, 0) / part.length,
      };
    });
    return { chiller, metric, unit, step_s: step, points };
  }

  alarms(): readonly AlarmFigure[] {
    this.#guard('alarms');
    if (this.mode === 'loading') return [];
    if (this.mode === 'alarm') return [SEAL, SENSOR];
    if (this.mode === 'lost')
      return [
        {
          ...SENSOR,
          id: 'controller_lost',
          state: 'unacknowledged',
          priority: 2,
          title: 'controller silent',
          since: new Date(this.time - 600_000).toISOString(),
        },
      ];
    return [SENSOR];
  }

  trouble(): string | null {
    return this.trouble_;
  }

  openMetrics(): string {
    return '# TYPE tonhour_minutes counter\ntonhour_minutes_total 12\n# EOF\n';
  }

  follow(listener: (now: Now) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  get followers(): number {
    return this.#listeners.size;
  }

  /** One more minute: tells everyone who follows. */
  minute(): void {
    this.time += 60_000;
    this.sequence++;
    for (const chiller of this.site().chillers) {
      const now = this.now(chiller.id);
      if (now !== null) for (const listener of this.#listeners) listener(now);
    }
  }
}
