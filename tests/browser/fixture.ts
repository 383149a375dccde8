/**
 * A plant for looking at the page: two chillers of Kestrel Quay whose figures hang together but prove nothing (see
 * `about` in the data). What the page shows of real minutes is checked where the agent runs; here the page alone is
 * looked at.
 */
import type { AlarmFigure, DiagramFigure, HistoryFigure, Now, SiteFigure, WebData } from '../../agent/web/types.ts';
import {
  DATA,
  DIRECT,
  FULL,
  METRICS,
  type Mode,
  metrics,
  n,
  points,
  SEAL,
  SENSOR,
  SIMPLE,
  states,
} from './fixture-figures.ts';

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
    for (const name of off ? [] : ['economizer.missed_saving', 'economizer.missed_saving_fraction'])
      quality[name] = { quality: 'bad', reason: 'the economizer runs' };
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
