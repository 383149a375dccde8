/**
 * Figures of the fixture's second chiller, two stages with tank vapour between them: catalogue units, expanded
 * uncertainties. For looking at the page only.
 */
import { readFileSync } from 'node:fs';
import type { Now, PointFigure, StateFigure } from '../../agent/web/types.ts';

type Solved = Record<string, number>;

interface Data {
  readonly liquid: [number, number, number][];
  readonly vapour: [number, number, number][];
  readonly isotherms: { T: number; line: [number, number][] }[];
  readonly on: Solved;
  readonly U: Solved;
  readonly strips: Record<string, number[]>;
  readonly spark: number[];
}

export const SECOND = JSON.parse(readFileSync(new URL('./fixture-ch2.json', import.meta.url), 'utf8')) as Data;

const r = SECOND.on;
const U = SECOND.U;
const at = (row: Solved, key: string): number => row[key] as number;

function state(T: string, p: string, h: string, q: number | null, m: number | null): StateFigure {
  return { T: at(r, T), p: at(r, p), h: at(r, h), s: 1700, q, m };
}

const me = at(r, 'me');
const all = me + at(r, 'mv');

const FULL: Record<string, StateFigure> = {
  1: state('T1', 'pe', 'h1', null, me),
  2: state('T2', 'pt', 'h2', null, me),
  3: state('T3', 'pc', 'h3', null, all),
  4: state('Tt', 'pt', 'h4', at(r, 'x4'), all),
  5: state('Tt', 'pt', 'h5', 0, me),
  6: state('Te', 'pe', 'h6', at(r, 'x6'), me),
  7: state('Tt', 'pt', 'h7', 1, at(r, 'mv')),
  9: state('T9', 'pt', 'h9', null, all),
  10: state('T10', 'pc', 'h10', null, all),
};
const pick = (...numbers: string[]): Record<string, StateFigure> =>
  Object.fromEntries(numbers.map((n) => [n, FULL[n] as StateFigure]));
/** One compression from 1 to 10, one expansion from 3 to 6 through the tank. */
const PLAIN: Record<string, StateFigure> = {
  ...pick('1', '3', '4'),
  6: { ...state('Te', 'pe', 'h3', at(r, 'xd'), all) },
  10: state('T10', 'pc', 'h10n', null, all),
};

/** Value and expanded uncertainty; null where the economizer is off. */
function metrics(off: boolean): Record<string, [number | null, number]> {
  const P = at(r, off ? 'W0' : 'P') / 1e3;
  const Q = at(r, 'Q') / 1e3;
  const on = (value: number): number | null => (off ? null : value);
  const missed = (value: number): number | null => (off ? value : null);
  return {
    'unit.capacity': [Q, at(U, 'Q') / 1e3],
    'unit.power': [P, 2.9],
    'unit.load_fraction': [Q / 3165.17, 0.012],
    'unit.kw_per_ton': [(P / Q) * 3.516853, at(U, 'kwpt')],
    'unit.cop': [Q / P, 0.13],
    'unit.carnot_fraction': [0.735, 0.012],
    'unit.heat_balance_error': [-0.006, 0.017],
    'unit.starts': [212, 0],
    'unit.run_hours': [9_841, 0],
    'economizer.power_saved': [on(at(r, 'save') / 1e3), at(U, 'save') / 1e3],
    'economizer.saving_fraction': [on(at(r, 'save') / at(r, 'W0')), 0.001],
    'economizer.saving_fraction_low': [on(0.0151), 0.001],
    'economizer.saving_fraction_high': [on(0.0725), 0.001],
    'economizer.refrigerating_effect_gain': [on(at(r, 'gain')), at(U, 'gain')],
    'economizer.missed_saving': [missed(at(r, 'save') / 1e3), at(U, 'save') / 1e3],
    'economizer.missed_saving_fraction': [missed(at(r, 'save') / at(r, 'W0')), 0.001],
    'condenser.heat_rejected': [at(r, 'Qc') / 1e3, at(U, 'Qc') / 1e3],
    'condenser.mass_flow': [all, at(U, 'me')],
    'main_compressor.mass_flow': [me, at(U, 'me')],
    'main_compressor.discharge_superheat': [at(r, 'T10') - at(r, 'Tc'), 0.4],
    'flash_tank.flash_fraction': [on(at(r, 'x4')), at(U, 'x4')],
    'flash_tank.flash_fraction_without_subcooling': [on(at(r, 'x4ns')), at(U, 'x4ns')],
    'evaporator.flash_fraction': [at(r, off ? 'xd' : 'x6'), at(U, 'x6')],
    'condenser.subcooling': [at(r, 'sub'), at(U, 'sub')],
    'main_compressor.lift': [at(r, 'Tc') - at(r, 'Te'), 0.18],
    'main_compressor.first_stage_lift': [on(at(r, 'Tt') - at(r, 'Te')), 0.19],
    'main_compressor.second_stage_lift': [on(at(r, 'Tc') - at(r, 'Tt')), 0.19],
    'main_compressor.pressure_ratio': [at(r, 'pc') / at(r, 'pe'), 0.017],
    'main_compressor.isentropic_head': [(at(r, 'head') + at(r, 'head2')) / 1e3, at(U, 'head') / 1e3],
    'main_compressor.isentropic_efficiency': [off ? 0.815 : null, 0.019],
    'main_compressor.polytropic_efficiency': [0.825, 0.019],
    'main_compressor.suction_volume_flow': [at(r, 'v1'), at(U, 'v1')],
    'main_compressor.power': [P, 2.9],
    'economizer_compressor.power': [null, 0],
    'economizer_compressor.lift': [null, 0],
    'evaporator.mass_flow': [me, at(U, 'me')],
    'flash_tank.vapour_mass_flow': [on(at(r, 'mv')), at(U, 'mv')],
    'condenser.saturation_temperature': [at(r, 'Tc') - 273.15, at(U, 'Tc')],
    'evaporator.saturation_temperature': [at(r, 'Te') - 273.15, at(U, 'Te')],
    'flash_tank.saturation_temperature': [at(r, 'Tt') - 273.15, at(U, 'Tt')],
    'condenser.approach': [at(r, 'Tc') - 306.1, 0.16],
    'evaporator.approach': [279.6 - at(r, 'Te'), 0.15],
    'condenser.ua': [560, 22],
    'evaporator.ua': [880, 30],
  };
}

function points(): Record<string, PointFigure> {
  const end = (name: string): number => (SECOND.strips[name]?.at(-1) ?? 0) / 100;
  const good = (value: number, unit: string, uncertainty: number | null): PointFigure => ({
    value,
    unit,
    uncertainty,
    quality: 'good',
    reason: null,
    age_s: 1.4,
  });
  return {
    'condenser.pressure': good(at(r, 'pc') / 1e3, 'kPa', at(U, 'pc') / 1e3),
    'evaporator.pressure': good(at(r, 'pe') / 1e3, 'kPa', at(U, 'pe') / 1e3),
    'flash_tank.pressure': good(at(r, 'pt') / 1e3, 'kPa', at(U, 'pt') / 1e3),
    'condenser.liquid_temperature': good(at(r, 'T3') - 273.15, 'degC', 0.16),
    'main_compressor.discharge_temperature': good(at(r, 'T10') - 273.15, 'degC', 0.4),
    'chilled_water.entering_temperature': good(11.75, 'degC', 0.11),
    'chilled_water.leaving_temperature': good(6.45, 'degC', 0.11),
    'chilled_water.flow': good(0.097, 'm3/s', 0.0015),
    'condenser_water.entering_temperature': good(27.75, 'degC', 0.11),
    'condenser_water.leaving_temperature': good(32.95, 'degC', 0.11),
    'condenser_water.flow': good(0.1129, 'm3/s', 0.0018),
    'condenser.level': good(end('condenser_level'), '1', 0.01),
    'condenser.level_setpoint': good(0.38, '1', null),
    'flash_tank.level': good(end('tank_level'), '1', 0.01),
    'flash_tank.level_setpoint': good(0.5, '1', null),
    'condenser_valve.position': good(end('condenser_valve'), '1', 0.005),
    'tank_valve.position': good(end('tank_valve'), '1', 0.005),
  };
}

/** The running machine, with its vapour line open or closed. */
export function second(base: Now, off: boolean): Now {
  const figures = metrics(off);
  const quality: Record<string, { quality: 'bad'; reason: string }> = {};
  for (const [name, [value]] of Object.entries(figures))
    if (value === null)
      quality[name] = {
        quality: 'bad',
        reason: name.startsWith('economizer_compressor')
          ? 'this arrangement has no economizer compressor'
          : name.includes('missed')
            ? 'the economizer is on: nothing is missed'
            : name.endsWith('isentropic_efficiency')
              ? 'over both stages it has no meaning, their flows differ: see the polytropic one'
              : 'the economizer is off',
      };
  return {
    ...base,
    economizer: off ? 'off' : 'on',
    values: Object.fromEntries(Object.entries(figures).map(([name, [value]]) => [name, value])),
    uncertainty: Object.fromEntries(
      Object.entries(figures).flatMap(([name, [value, u]]) => (value === null ? [] : [[name, u]])),
    ),
    quality,
    points: points(),
    states: off ? PLAIN : FULL,
    ghost: off ? FULL : PLAIN,
  };
}
