import type { MetricDefinition } from '../../base/metric.ts';
import type { CycleContext } from '../context.ts';

export interface CycleMetric extends MetricDefinition<CycleContext> {
  /** Has a meaning while the chiller stands still. */
  readonly whenStopped?: true;
  /**
   * Shown as measured, before readings are brought into agreement with the balances: it compares ways to measure, which
   * afterwards are one.
   */
  readonly asMeasured?: true;
  /**
   * No straight line over its uncertainty, which then needs more than a slope: always, or while it depends on the input
   * named.
   */
  readonly curved?: true | string;
  /** Hours and seasons add it up: what of its uncertainty is new in each interval is told apart. */
  readonly summed?: true;
  /** Published only while this quantity exceeds its own expanded uncertainty. */
  readonly onlyIfSure?: string;
}
