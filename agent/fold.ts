/**
 * One chiller's way from samples to the minute: the sample table, the solver, the fast window and the fold's state. The
 * same whether a controller is polled or a trend export is replayed; who calls says where the outcome goes.
 */
import type { AlarmCommand } from './alarms/commands.ts';
import { ok, type Result } from './base/result.ts';
import { fromSi } from './base/units.ts';
import { prepare, type Solver } from './cycle/solve.ts';
import { MINUTE_START, type MinuteOutcome, type MinuteState, minute } from './minute.ts';
import { pointDefinition } from './points/dictionary.ts';
import { type FastColumns, type FastWindow, fastWindow } from './points/fast-window.ts';
import { type SampleTable, sampleTable } from './points/samples.ts';
import { takeSnapshot } from './points/snapshot.ts';
import type { PointSpec, SourceStatus } from './points/types.ts';
import type { Reference } from './season/reference.ts';
import type { ChillerSite } from './site/site.ts';

export interface FoldOptions {
  readonly chiller: ChillerSite;
  /** How the samples are to be read; the points of the site file where they come from its controller. */
  readonly specs: readonly PointSpec[];
  /** Pa absolute. */
  readonly barometer: number;
  /** First part of every topic of the site: `<prefix>/<site>`. */
  readonly root: string;
  /** Where an earlier fold left off. */
  readonly state?: MinuteState;
}

/** An interval's fast samples, catalogue units. */
export interface FastFound {
  readonly point: string;
  readonly times: Float64Array;
  readonly values: Float64Array;
}

export class ChillerFold {
  readonly samples: SampleTable;
  readonly fast: FastWindow;
  readonly #options: FoldOptions;
  readonly #solver: Solver;
  #state: MinuteState;

  /** Faults: those of the solver's parameters. */
  static prepare(options: FoldOptions): Result<ChillerFold> {
    const solver = prepare(options.chiller.machine);
    return solver.ok ? ok(new ChillerFold(options, solver.value)) : solver;
  }

  private constructor(options: FoldOptions, solver: Solver) {
    this.#options = options;
    this.#solver = solver;
    this.samples = sampleTable(options.specs.map(({ name }) => name));
    this.fast = fastWindow(options.specs);
    this.#state = options.state ?? MINUTE_START;
  }

  /**
   * Folds the samples with from < time <= to in (ms since the epoch), commands to alarms, the baseline, and when a
   * sensor was last replaced.
   */
  step(
    { from, to }: { readonly from: number; readonly to: number },
    link: Pick<SourceStatus, 'state' | 'reason'>,
    {
      commands = [],
      reference = null,
      replaced = null,
    }: {
      readonly commands?: readonly AlarmCommand[];
      readonly reference?: Reference | null;
      readonly replaced?: number | null;
    } = {},
  ): MinuteOutcome {
    const { chiller, specs, barometer, root } = this.#options;
    const atmosphere = { local: barometer };
    const samples = this.samples.interval(from, to);
    this.fast.append(samples, atmosphere);
    const snapshot = takeSnapshot({ specs, samples, to, atmosphere, link });
    const solution = this.#solver.solve(snapshot, this.#state.suspicion.suspects);
    const interval_s = (to - from) / 1000;
    const columns = (point: string): FastColumns => this.fast.columns(point);
    const outcome = minute(
      this.#state,
      { snapshot, solution, link, columns, interval_s, commands, reference, replaced },
      chiller,
      root,
    );
    this.#state = outcome.state;
    return outcome;
  }

  /** Fast samples after `from` (ms), as the store keeps them. */
  fastSince(from: number): FastFound[] {
    return this.fast.points.map((point) => {
      const { times, values } = this.fast.columns(point, from);
      const { unit } = pointDefinition(point);
      return { point, times, values: values.map((value) => fromSi(value, unit)) };
    });
  }
}
