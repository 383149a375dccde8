/** What a site is: plain values in SI, deeply frozen. */
import type { AlarmRule } from '../alarms/rules.ts';
import type { ChillerParameters } from '../cycle/parameters.ts';
import type { RunningRule } from '../points/running.ts';
import type { ModbusSource } from './buses/modbus.ts';
import type { SitePoint } from './points.ts';
import type { Secret } from './secret.ts';

export interface SiteMqtt {
  readonly url: string;
  readonly prefix: string;
  readonly username: string | null;
  readonly password: Secret | null;
  readonly client_id: string;
}

export interface ChillerSite {
  readonly id: string;
  readonly name: string;
  readonly machine: ChillerParameters;
  readonly running: RunningRule;
  readonly source: { readonly modbus: ModbusSource };
  readonly points: readonly SitePoint[];
  /** Pa absolute, lower and upper end of the diagram. */
  readonly pressure_window: readonly [number, number];
  /** Limits to watch, compiled to catalogue units. */
  readonly alarms: readonly AlarmRule[];
}

/** SI throughout. Deeply frozen. */
export interface Site {
  readonly version: number;
  readonly id: string;
  readonly name: string;
  readonly time_zone: string;
  readonly unit_system: 'ip' | 'si';
  /** Pa absolute, and its standard uncertainty (k = 1). */
  readonly barometer: number;
  readonly barometer_uncertainty: number;
  readonly interval_s: number;
  /** Null: metrics go nowhere. */
  readonly mqtt: SiteMqtt | null;
  readonly history: { readonly folder: string };
  readonly web: { readonly host: string; readonly port: number };
  readonly chillers: readonly ChillerSite[];
}
