/**
 * How sensors of one kind behave on both machines: stated uncertainty (k = 1), lag in s, noise as standard deviation in
 * the point's unit or share of the value. Lags and noise: common practice, no source.
 */
import type { UnitName } from '../../base/units.ts';
import type { StatedUncertainty } from '../point-map.ts';

export interface Behaviour {
  readonly uncertainty: StatedUncertainty;
  readonly lag: number;
  readonly noise: number;
}

export const absolute = (value: number, unit: UnitName): StatedUncertainty => ({ kind: 'absolute', value, unit });
export const relative = (value: number): StatedUncertainty => ({ kind: 'relative', value });

export const EXACT: Behaviour = { uncertainty: { kind: 'none' }, lag: 0, noise: 0 };
export const WATER: Behaviour = { uncertainty: absolute(0.1, 'K'), lag: 8, noise: 0.02 };
export const WELL: Behaviour = { uncertainty: absolute(0.3, 'K'), lag: 15, noise: 0.03 };
export const GAS: Behaviour = { uncertainty: absolute(0.7, 'K'), lag: 20, noise: 0.05 };
export const FLOW: Behaviour = { uncertainty: relative(0.01), lag: 3, noise: 0.004 };
export const BUNDLE: Behaviour = { uncertainty: relative(0.02), lag: 3, noise: 0.008 };
export const LEVEL: Behaviour = { uncertainty: absolute(3, '%'), lag: 2, noise: 0.3 };
export const POSITION: Behaviour = { uncertainty: absolute(1, '%'), lag: 0.5, noise: 0.05 };
export const VANES: Behaviour = { uncertainty: absolute(3, '%'), lag: 1, noise: 0.1 };
export const SPEED: Behaviour = { uncertainty: relative(0.002), lag: 0.5, noise: 0.0005 };
export const POWER: Behaviour = { uncertainty: relative(0.01), lag: 2, noise: 0.003 };
export const CURRENT: Behaviour = { uncertainty: relative(0.02), lag: 2, noise: 0.003 };
export const VOLTAGE: Behaviour = { uncertainty: relative(0.01), lag: 1, noise: 0.001 };
export const FACTOR: Behaviour = { uncertainty: relative(0.03), lag: 2, noise: 0.002 };
