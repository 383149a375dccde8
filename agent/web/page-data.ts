/** Gathers what one view shows from the agent's data: minutes, last known minutes, thinned history. */

import { shownAlarm } from './page/alarms.js';
import { around } from './page/alarms-record.js';
import { TREND_SI, TRENDS } from './page/trends.js';
import type { PageData, PageName, Series } from './page-types.ts';
import type { AlarmFigure, DiagramFigure, Now, SiteFigure, WebData } from './types.ts';

const STRIPS = ['condenser.level', 'flash_tank.level', 'condenser_valve.position', 'tank_valve.position'];
const HALF_HOUR = 1_800_000;
const HOUR = 3_600_000;

/** Keeps the newest minute of each chiller that its controller answered, to show when it falls silent. */
export class LastKnown {
  readonly #minutes = new Map<string, Now>();

  see(now: Now): void {
    const heard = Object.values(now.points).some(({ value }) => value !== null);
    if (now.time !== null && now.link.state !== 'lost' && heard) this.#minutes.set(now.chiller, now);
  }

  all(): Record<string, Now> {
    return Object.fromEntries(this.#minutes);
  }
}

/** Digits that a picture can show: less to send. */
function short(value: number | null, digits = 5): number | null {
  return value === null ? null : Number(value.toPrecision(digits));
}

interface Span {
  /** Milliseconds since the epoch. */
  readonly to: number;
  readonly span: number;
  readonly step_s: number;
  /** The mean alone, for a line without axes. */
  readonly mean?: boolean;
  /** Significant digits. */
  readonly digits?: number;
}

/** One history, thinned by least and greatest; null where there is none. */
function historyOf(data: WebData, id: string, metric: string, { to, span, step_s, mean, digits }: Span): Series | null {
  const start = to - span;
  const found = data.history(id, metric, start, to, step_s);
  if (found === null) return null;
  const points = found.points.map((p): Series['points'][number] => {
    const s = Math.round((Date.parse(p.time) - start) / 1000);
    return mean ? [s, short(p.mean), short(p.mean)] : [s, short(p.least, digits), short(p.greatest, digits)];
  });
  return { unit: found.unit, start, points };
}

/** Told of a history that could not be read: the page is shown without it. */
export type Unread = (metric: string, error: unknown) => void;

/** Strips of the last half hour, trends of the last hour, and each chiller's power per ton. */
export function seriesOf(
  data: WebData,
  site: SiteFigure,
  chosen: string,
  to: number,
  unread: Unread,
): { series: Record<string, Series>; sparks: Record<string, Series> } {
  const series: Record<string, Series> = {};
  const sparks: Record<string, Series> = {};
  const add = (into: Record<string, Series>, key: string, id: string, name: string, span: Span): void => {
    try {
      const found = historyOf(data, id, name, span);
      if (found !== null) into[key] = found;
    } catch (error) {
      unread(name, error);
    }
  };
  for (const name of STRIPS) add(series, name, chosen, name, { to, span: HALF_HOUR, step_s: 15, digits: 4 });
  const step_s = Math.max(20, site.interval_s);
  for (const [, name] of [...TRENDS, TREND_SI]) add(series, name, chosen, name, { to, span: HOUR, step_s });
  for (const { id } of site.chillers) add(sparks, id, id, 'unit.kw_per_ton', { to, span: HOUR, step_s, mean: true });
  return { series, sparks };
}

/** The catalogue's units alone: the page needs no more. */
function lean(site: SiteFigure): SiteFigure {
  const catalogue = Object.fromEntries(
    Object.entries(site.catalogue).map(([name, { unit }]) => [name, { unit, meaning: '', formula: '' }]),
  );
  return { ...site, catalogue };
}

/** A dome to the tens of J/kg and Pa that a pixel can show. */
function lessOf(diagram: DiagramFigure | null): DiagramFigure | null {
  if (diagram === null) return null;
  const tens = (x: number): number => Math.round(x / 10) * 10;
  const edge = (rows: DiagramFigure['liquid']): DiagramFigure['liquid'] =>
    rows.map(([h, p, T]) => [tens(h), tens(p), Math.round(T * 10) / 10]);
  const isotherms = diagram.isotherms.map((one) => ({
    T: one.T,
    line: one.line.map(([h, p]): [number, number] => [tens(h), tens(p)]),
  }));
  return { ...diagram, liquid: edge(diagram.liquid), vapour: edge(diagram.vapour), isotherms };
}

/** What the alarm whose record is shown watches, around its beginning. */
function watchedSeries(
  data: WebData,
  shown: AlarmFigure | null,
  clock: number,
  unread: Unread,
): Record<string, Series> {
  if (shown === null || shown.metric === null) return {};
  const { from, to } = around(shown, clock);
  try {
    const found = historyOf(data, shown.chiller, shown.metric, { to, span: to - from, step_s: 60 });
    return found === null ? {} : { [shown.metric]: found };
  } catch (error) {
    unread(shown.metric, error);
    return {};
  }
}

/** An alarm as the other views name it. */
function briefly(alarm: AlarmFigure): AlarmFigure {
  const words = { cause: alarm.priority === 1 ? alarm.cause : '', consequence: '', action: '', evidence: [] };
  const deeds = { raised: null, cleared: null, acknowledged: null, shelf: null, respond_within_s: null };
  return { ...alarm, ...words, ...deeds, value: null, limit: null, unit: null, condition: null };
}

export interface Asked {
  readonly chosen: string;
  /** Wall clock, ms. */
  readonly clock: number;
  readonly page: PageName;
  /** `<chiller>/<id>`; left out: none by name. */
  readonly alarm?: string | null;
  /** Left out: the page takes no commands. */
  readonly desk?: PageData['desk'];
}

export function pageData(
  data: WebData,
  last: LastKnown,
  { chosen, clock, page, alarm = null, desk = null }: Asked,
  unread: Unread,
): PageData {
  const site = data.site();
  const nows: Record<string, Now> = {};
  for (const chiller of site.chillers) {
    const now = data.now(chiller.id);
    if (now === null) continue;
    // The alarms stand once, beside the machines.
    nows[chiller.id] = { ...now, alarms: [] };
    last.see(now);
  }
  const lost = Object.entries(last.all()).filter(([id]) => nows[id]?.link.state === 'lost');
  const to = nows[chosen]?.time === null || nows[chosen] === undefined ? clock : Date.parse(nows[chosen].time);
  const alarms = data.alarms();
  const watched = page === 'alarms' ? watchedSeries(data, shownAlarm(alarms, alarm), clock, unread) : {};
  return {
    site: lean(site),
    chosen,
    nows,
    last: Object.fromEntries(lost),
    plant: data.plant(),
    diagram: page === 'now' ? lessOf(data.diagram(chosen)) : null,
    ...(page === 'now' ? seriesOf(data, site, chosen, to, unread) : { series: watched, sparks: {} }),
    alarms: page === 'alarms' ? alarms : alarms.map(briefly),
    alarm,
    desk,
    season: null,
    served: new Date(clock).toISOString(),
  };
}
