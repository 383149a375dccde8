/**
 * A plant for looking at the page: two chillers of Kestrel Quay whose figures hang together but prove nothing (see
 * `about` in the data). What the page shows of real minutes is checked where the agent runs; here the page alone is
 * looked at.
 */

import type { Result } from '../../agent/base/result.ts';
import { joinFigures, splitFigures } from '../../agent/metrics/figures.ts';
import { plantTotals } from '../../agent/metrics/totals.ts';
import type { UnitState } from '../../agent/points/running.ts';
import type { SeasonAnswer } from '../../agent/season/plant.ts';
import type {
  AlarmFigure,
  DiagramFigure,
  HistoryFigure,
  Now,
  PlantFigure,
  SeasonQuestion,
  SiteFigure,
  WebData,
} from '../../agent/web/types.ts';
import { calloutOf } from './fixture-callout.ts';
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
  type SecondMode,
  states,
} from './fixture-figures.ts';
import { historyOf } from './fixture-history.ts';
import { seasonOf, type Year } from './fixture-season.ts';
import { SECOND, second } from './fixture-second.ts';
import { direct, silent, still } from './fixture-states.ts';

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
  second: SecondMode = 'normal';
  year: Year = 'whole';
  readonly #listeners = new Set<(now: Now) => void>();

  #guard(what: string): void {
    if (this.fail === what) throw new Error(`planted failure of ${what}`);
  }

  site(): SiteFigure {
    this.#guard('site');
    const base = { circuit: null, refrigerant: 'R-134a', pressure_window: [262, 1230] as const };
    const two =
      this.second === 'direct'
        ? { ...base, arrangement: 'simple' }
        : { circuit: null, arrangement: 'interstage', refrigerant: 'R-1233zd(E)', pressure_window: [40, 262] as const };
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
        { id: 'CH-2', rated_capacity_kw: 3165.17, ...two },
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
      random_share: {},
      quality: {},
      points: {},
      states: {},
      ghost: {},
      reconciliation: null,
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
    if (mode === 'lost') return silent(base, this.time);
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
    const running: Now = {
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
    return mode === 'standstill' ? still(running, 'off', this.time) : running;
  }

  #second(): Now {
    const base = this.#base('CH-2');
    if (this.mode === 'loading') return base;
    const mode = this.second;
    if (mode === 'direct') return direct(base);
    if (mode === 'lost') return silent(base, this.time);
    const running = second(base, mode === 'off');
    const since = new Date(this.time - 240_000).toISOString();
    if (mode === 'standstill') return still(running, 'standstill', this.time);
    if (mode === 'stopping') return { ...still(running, mode, this.time), state_since: since };
    if (mode !== 'starting') return running;
    const doubtful = Object.entries(running.values).filter(([, value]) => value !== null);
    return {
      ...running,
      state: mode,
      state_since: since,
      quality: {
        ...running.quality,
        ...Object.fromEntries(
          doubtful.map(([name]) => [name, { quality: 'uncertain' as const, reason: `not steady: ${mode}` }]),
        ),
      },
    };
  }

  plant(): PlantFigure {
    this.#guard('plant');
    const { chillers } = this.site();
    const nows = chillers.flatMap(({ id }) => this.now(id) ?? []);
    const { running, unknown, figures } = plantTotals(
      nows.map((now) => ({
        chiller: now.chiller,
        rated_capacity: chillers.find(({ id }) => id === now.chiller)?.rated_capacity_kw ?? 0,
        state: now.state as UnitState,
        economizer: now.economizer,
        figures: joinFigures(now),
        absent: now.time === null ? 'no minute solved yet' : null,
      })),
    );
    const time = nows[0]?.time ?? null;
    return { time, chillers: chillers.length, running, unknown, ...splitFigures(figures) };
  }

  diagram(chiller: string): DiagramFigure | null {
    this.#guard('diagram');
    if (!/^CH-[12]$/.test(chiller)) return null;
    if (chiller === 'CH-2' && this.second !== 'direct')
      return {
        refrigerant: 'R-1233zd(E)',
        reference: 'saturated liquid at 0 °C is 200 kJ/kg',
        critical: { T: 439.6, p: 3_623_700, h: 390_000 },
        liquid: SECOND.liquid,
        vapour: SECOND.vapour,
        isotherms: SECOND.isotherms,
      };
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
    const second = chiller === 'CH-2' && this.second !== 'direct';
    const asked = { metric, from, to, step: step_s === 0 ? 60 : step_s };
    return historyOf(this.now(chiller), { chiller, second, waiting: this.mode === 'loading' }, asked);
  }

  callout = (chiller: string, event: string) => calloutOf(this, chiller, event, this.time);

  season({ chiller, from, to, step }: SeasonQuestion): Result<SeasonAnswer> {
    this.#guard('season');
    return seasonOf(this.year, { chiller, from, to, step, now: this.time });
  }

  alarms(): readonly AlarmFigure[] {
    this.#guard('alarms');
    if (this.mode === 'loading') return [];
    const lost = (chiller: string): AlarmFigure => ({
      ...SENSOR,
      id: 'controller_lost',
      chiller,
      state: 'unacknowledged',
      priority: 2,
      title: 'controller silent',
      acknowledged: null,
      raised: new Date(this.time - 600_000).toISOString(),
      since: new Date(this.time - 600_000).toISOString(),
    });
    const first = this.mode === 'alarm' ? [SEAL, SENSOR] : this.mode === 'lost' ? [lost('CH-1')] : [SENSOR];
    return this.second === 'lost' ? [...first, lost('CH-2')] : first;
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
