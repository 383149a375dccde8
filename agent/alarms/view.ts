/** What the alarms look at. */
import type { Figure } from '../base/metric.ts';
import type { LinkState } from '../points/types.ts';
import type { AlarmCommand } from './commands.ts';

export interface Evidence {
  readonly name: string;
  readonly found: string;
  readonly expected: string;
}

/** What the alarms see of one interval. */
export interface AlarmView {
  readonly chiller: string;
  readonly time: number;
  readonly interval_s: number;
  /** Null: nobody knows. */
  readonly running: boolean | null;
  readonly steady: boolean;
  readonly running_for_s: number;
  /** Metrics and points by name, catalogue units. */
  readonly figures: Readonly<Record<string, Figure>>;
  readonly link: { readonly state: LinkState; readonly reason: string | null };
  /** Points that cannot be right while the link stands: name and reason. */
  readonly implausible: readonly { readonly name: string; readonly reason: string }[];
  /** Sensors of which one contradicts the balances, minute after minute: name and by how much. */
  readonly suspects: readonly { readonly name: string; readonly reason: string }[];
  /** What people commanded of this chiller's alarms since the last interval, in order. */
  readonly commands: readonly AlarmCommand[];
}
