/**
 * Figures of the fixture plant by the mode it is in: catalogue units, expanded uncertainties. For looking at the page
 * only.
 */
import { readFileSync } from 'node:fs';
import type { AlarmFigure, PointFigure, StateFigure } from '../../agent/web/types.ts';

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

export const DATA = JSON.parse(readFileSync(new URL('./fixture-data.json', import.meta.url), 'utf8')) as Data;

export type Mode = 'normal' | 'off' | 'alarm' | 'lost' | 'loading' | 'standstill';
/** Of the second chiller: as the first, or a machine of one stage without a tank; a state of the running machine. */
export type SecondMode = 'normal' | 'off' | 'lost' | 'standstill' | 'stopping' | 'starting' | 'direct';

export const n = (row: Solved, key: string): number => row[key] as number;

export const METRICS: Record<string, string> = {
  'unit.capacity': 'kW',
  'unit.power': 'kW',
  'unit.kw_per_ton': 'kw_per_ton',
  'unit.cop': '1',
  'unit.carnot_fraction': '1',
  'unit.heat_balance_error': '1',
  'unit.load_fraction': '1',
  'unit.starts': 'count',
  'unit.run_hours': 'h',
  'economizer.power_saved': 'kW',
  'economizer.saving_fraction': '1',
  'economizer.saving_fraction_low': '1',
  'economizer.saving_fraction_high': '1',
  'economizer.refrigerating_effect_gain': '1',
  'economizer.missed_saving': 'kW',
  'economizer.missed_saving_fraction': '1',
  'condenser.heat_rejected': 'kW',
  'condenser.mass_flow': 'kg/s',
  'main_compressor.mass_flow': 'kg/s',
  'main_compressor.discharge_superheat': 'K',
  'economizer_compressor.discharge_superheat': 'K',
  'flash_tank.flash_fraction': '1',
  'flash_tank.flash_fraction_without_subcooling': '1',
  'evaporator.flash_fraction': '1',
  'condenser.subcooling': 'K',
  'subcooling.economizer_power_avoided': 'kW',
  'main_compressor.lift': 'K',
  'main_compressor.first_stage_lift': 'K',
  'main_compressor.second_stage_lift': 'K',
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
export function metrics(mode: Mode): Record<string, [number | null, number]> {
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
    'economizer.saving_fraction': [econ(n(on, 'save') / n(on, 'W0')), 0.0012],
    'economizer.saving_fraction_low': [econ(0.019), 0.0012],
    'economizer.saving_fraction_high': [econ(0.0757), 0.0012],
    'economizer.refrigerating_effect_gain': [n(r, 'gain'), n(U, 'gain')],
    'economizer.missed_saving': [off ? n(on, 'save') / 1e3 : null, n(U, 'save') / 1e3],
    'economizer.missed_saving_fraction': [off ? n(on, 'save') / n(on, 'W0') : null, 0.0012],
    'condenser.heat_rejected': [n(r, 'Qc') / 1e3, n(U, 'Qc') / 1e3],
    'condenser.mass_flow': [n(r, 'me') + n(r, 'mv'), n(U, 'me')],
    'main_compressor.mass_flow': [n(r, 'me'), n(U, 'me')],
    'main_compressor.discharge_superheat': [n(r, 'T2') - n(r, 'Tc'), 0.5],
    'economizer_compressor.discharge_superheat': [econ(n(r, 'T8') - n(r, 'Tc')), 0.6],
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
export function points(mode: Mode): Record<string, PointFigure> {
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

export function states(r: Solved, which: readonly string[]): Record<string, StateFigure> {
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

export const FULL = ['1', '2', '3', '4', '5', '6', '7', '8'];
export const DIRECT = ['1', '2', '3', '4', '6'];
export const SIMPLE = ['1', '2', '3', '6'];

/** An alarm that stands and that nobody has done anything about. */
const UNTOUCHED = {
  active: true,
  cleared: null,
  acknowledged: null,
  shelf: null,
  suppression: null,
  out_of_service: null,
  latching: false,
  shelvable: true,
  condition: null,
  respond_within_s: null,
} as const;

export const SEAL: AlarmFigure = {
  id: 'tank_level_low',
  chiller: 'CH-1',
  state: 'unacknowledged',
  priority: 1,
  title: 'liquid seal lost in the flash tank',
  ...UNTOUCHED,
  since: '2026-07-14T08:36:00Z',
  raised: '2026-07-14T08:36:00Z',
  metric: 'tank_valve.position',
  value: 0.476,
  limit: 0.03,
  unit: '1',
  condition: {
    side: 'above',
    deadband: 0,
    on_delay_s: 600,
    off_delay_s: 300,
    when: 'running',
    running_for_s: 900,
    beyond_uncertainty: false,
  },
  respond_within_s: 1800,
  cause: 'The tank valve stands open while its command is closed.',
  consequence: 'Vapour blows through to the evaporator; the economizer saves little.',
  action: 'Look whether the stem follows a hand command; look for a seized stem or a slipped coupling.',
  evidence: [{ name: 'valve position less command', found: '47.6 ±0.7 %', expected: '0.0 ±0.8 %' }],
};
export const SENSOR: AlarmFigure = {
  id: 'sensor_implausible',
  chiller: 'CH-1',
  state: 'acknowledged',
  priority: 3,
  title: 'sensor suspect',
  ...UNTOUCHED,
  since: '2026-07-12T12:20:00Z',
  raised: '2026-07-12T12:15:00Z',
  acknowledged: { by: 'duty engineer', time: '2026-07-12T12:20:00Z', reason: null },
  metric: null,
  value: null,
  limit: null,
  unit: null,
  cause: 'Condenser water leaving reads higher than the balances allow.',
  consequence: 'Approach and heat balance of the condenser are doubtful.',
  action: 'Compare the well with a calibrated thermometer.',
  evidence: [],
};
