import type { Result } from '../base/result.ts';
import type { CalloutPacket } from '../callout/packet.ts';
import type { CircuitFigure } from '../cycle/circuit-figure.ts';
import type { Step } from '../season/answer.ts';
import type { SeasonAnswer } from '../season/plant.ts';

/**
 * What the web room serves, and what it needs from the rest: `agent.ts` hands it an implementation. All values in
 * catalogue units; times RFC 3339 UTC.
 */

export interface PointFigure {
  readonly value: number | null;
  readonly unit: string;
  /** Expanded, k = 2. */
  readonly uncertainty: number | null;
  readonly quality: 'good' | 'uncertain' | 'bad';
  readonly reason: string | null;
  readonly age_s: number | null;
}

/** SI, as `solve` prints them. */
export interface StateFigure {
  readonly T: number;
  readonly p: number;
  readonly h: number;
  readonly s: number;
  readonly q: number | null;
  readonly m: number | null;
}

/** Who did something to an alarm, when and why. */
export interface DeedFigure {
  readonly by: string;
  readonly time: string;
  readonly reason: string | null;
}

export interface ShelfFigure extends DeedFigure {
  readonly until: string;
}

export interface AlarmFigure {
  /** `<chiller>/<rule>` is unique; `id` is the rule. */
  readonly id: string;
  readonly chiller: string;
  /** In words of ISA-18.2. */
  readonly state:
    | 'normal'
    | 'unacknowledged'
    | 'acknowledged'
    | 'returned to normal'
    | 'latched'
    | 'shelved'
    | 'suppressed by design'
    | 'out of service';
  readonly priority: 1 | 2 | 3;
  readonly title: string;
  /** Of the state. */
  readonly since: string;
  /** Whether its condition holds, also behind a shelf. */
  readonly active: boolean;
  /** When the condition last began, and when it last ended; null: not yet. */
  readonly raised: string | null;
  readonly cleared: string | null;
  readonly acknowledged: DeedFigure | null;
  readonly shelf: ShelfFigure | null;
  /** What of the machine's state explains it, while it is suppressed by design. */
  readonly suppression: string | null;
  /** Why it is out of service; null: in service. */
  readonly out_of_service: string | null;
  readonly latching: boolean;
  /** False: shelving is refused. */
  readonly shelvable: boolean;
  readonly metric: string | null;
  readonly value: number | null;
  readonly limit: number | null;
  readonly unit: string | null;
  /** When the limit is judged, and how; null where there is none. */
  readonly condition: {
    readonly side: 'above' | 'below';
    readonly deadband: number;
    readonly on_delay_s: number;
    readonly off_delay_s: number;
    readonly when: 'running' | 'steady' | 'always';
    readonly running_for_s: number;
    readonly beyond_uncertainty: boolean;
  } | null;
  readonly cause: string;
  readonly consequence: string;
  readonly action: string;
  /** Time to act before the consequence, s; null: none is stated. */
  readonly respond_within_s: number | null;
  readonly evidence: readonly { readonly name: string; readonly found: string; readonly expected: string }[];
}

export interface LinkFigure {
  readonly state: 'connecting' | 'connected' | 'lost' | 'stopped';
  readonly since: string;
  readonly reason: string | null;
}

/** GET /api/chillers/<id>/now, and the data of each `minute` event of /api/live. `time` null: no minute solved yet. */
/** What the balances say of a minute's readings, and which sensors stand accused by the last ones. */
export interface ReconciliationFigure {
  /** Null where nothing is redundant: then nothing could be tested. */
  readonly chi_square: { readonly value: number; readonly dof: number; readonly p: number } | null;
  /** Standardized correction z of each point and assumption that the balances check. */
  readonly corrections: Readonly<Record<string, number>>;
  /** Groups of which one is off, the best explanation first; one group of one is named. */
  readonly suspects: readonly (readonly string[])[];
  readonly since: string | null;
  /** What each suspect would be off by if it alone were, unit beside it; expanded, k = 2. */
  readonly off: Readonly<
    Record<string, { readonly value: number; readonly uncertainty: number; readonly unit: string }>
  >;
}

export interface Now {
  readonly chiller: string;
  /** End of the interval. */
  readonly time: string | null;
  readonly sequence: number | null;
  readonly interval_s: number;
  /** off, starting, pull-down, load change, running, steady, low-load cycling, stopping, standstill, unknown. */
  readonly state: string;
  readonly state_since: string | null;
  readonly economizer: 'on' | 'off' | 'none' | 'unknown';
  readonly values: Readonly<Record<string, number | null>>;
  readonly uncertainty: Readonly<Record<string, number>>;
  /** Of metrics that hours and seasons add up: share of the square of the uncertainty that is new in each interval. */
  readonly random_share: Readonly<Record<string, number>>;
  /** Only what is not good. */
  readonly quality: Readonly<Record<string, { readonly quality: 'uncertain' | 'bad'; readonly reason: string }>>;
  readonly points: Readonly<Record<string, PointFigure>>;
  readonly states: Readonly<Record<string, StateFigure>>;
  readonly ghost: Readonly<Record<string, StateFigure>>;
  /** Null: no minute solved yet. */
  readonly reconciliation: ReconciliationFigure | null;
  readonly link: LinkFigure;
  readonly points_read: number;
  readonly points_mapped: number;
  readonly alarms: readonly AlarmFigure[];
}

/**
 * GET /api/site/now, and the data of each `plant` event of /api/live: the machines together, taken as independent.
 * Sums and ratios by the name that the quantity has at each machine; what lacks a running machine is null and its
 * reason begins with `<chiller> missing:`.
 */
export interface PlantFigure {
  /** End of the newest interval; null: no minute solved yet. */
  readonly time: string | null;
  readonly chillers: number;
  /** How many are known to run. */
  readonly running: number;
  /** Chillers of which nobody knows whether they run. */
  readonly unknown: readonly string[];
  readonly values: Readonly<Record<string, number | null>>;
  readonly uncertainty: Readonly<Record<string, number>>;
  /** Only what is not good. */
  readonly quality: Readonly<Record<string, { readonly quality: 'uncertain' | 'bad'; readonly reason: string }>>;
}

export interface ChillerFigure {
  readonly id: string;
  readonly arrangement: string;
  /** Only of arrangements that the page does not know by itself. */
  readonly circuit: CircuitFigure | null;
  readonly refrigerant: string;
  readonly rated_capacity_kw: number;
  /** kPa absolute, fixed per machine: the diagram's pressure window. */
  readonly pressure_window: readonly [number, number];
}

/** GET /api/site */
export interface SiteFigure {
  readonly id: string;
  readonly name: string;
  readonly time_zone: string;
  readonly unit_system: 'ip' | 'si';
  /** kPa absolute, the zero of gauge pressures shown to people. */
  readonly barometer_kpa: number;
  readonly interval_s: number;
  readonly version: string;
  /** True in the demo: the page says that the plant is emulated. */
  readonly demo: boolean;
  readonly chillers: readonly ChillerFigure[];
  readonly catalogue: Readonly<
    Record<string, { readonly unit: string; readonly meaning: string; readonly formula: string }>
  >;
}

/** GET /api/chillers/<id>/diagram: SI; enthalpy in the equation's own reference state, named in `reference`. */
export interface DiagramFigure {
  readonly refrigerant: string;
  readonly reference: string;
  readonly critical: { readonly T: number; readonly p: number; readonly h: number };
  /** Rows of [h, p, T]. */
  readonly liquid: readonly (readonly [number, number, number])[];
  readonly vapour: readonly (readonly [number, number, number])[];
  readonly isotherms: readonly { readonly T: number; readonly line: readonly (readonly [number, number])[] }[];
}

/** One bucket of a trend: least, greatest and mean of what fell into it. */
export interface TrendPoint {
  readonly time: string;
  readonly least: number | null;
  readonly greatest: number | null;
  readonly mean: number | null;
}

/**
 * GET /api/chillers/<id>/history?metric=&from=&to=&step= ; `metric` may also name a point; step in seconds, 0 gives
 * the stored resolution.
 */
export interface HistoryFigure {
  readonly chiller: string;
  readonly metric: string;
  readonly unit: string;
  readonly step_s: number;
  readonly points: readonly TrendPoint[];
}

/** What is asked of seasons, as it is written: a date is a whole local day of the site. */
export interface SeasonQuestion {
  /** Null: all machines, and the plant. */
  readonly chiller: string | null;
  /** Left out: from the first of this month, to now. */
  readonly from: string | undefined;
  readonly to: string | undefined;
  readonly step: Step;
}

/**
 * What the web room asks of the agent. Everything answers at once from memory or the store, and never waits on the
 * outbox.
 */
export interface WebData {
  site(): SiteFigure;
  now(chiller: string): Now | null;
  plant(): PlantFigure;
  diagram(chiller: string): DiagramFigure | null;
  history(chiller: string, metric: string, from: number, to: number, step_s: number): HistoryFigure | null;
  /** Fault `usage`: what was asked is not understood; others: the store cannot be read. */
  season(question: SeasonQuestion): Result<SeasonAnswer>;
  alarms(): readonly AlarmFigure[];
  /** `event`: `<alarm>` for the last time that it was raised, or `<alarm>.<sequence>`. Fault `callout_unknown`. */
  callout(chiller: string, event: string): Result<CalloutPacket>;
  /** Null while healthy, else what is wrong; /healthz answers 503 with it. */
  trouble(): string | null;
  /** The agent's own metrics, OpenMetrics text. */
  openMetrics(): string;
  /** Calls back with each completed minute; returns the way to end it. */
  follow(listener: (now: Now) => void): () => void;
}
