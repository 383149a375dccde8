import { describe, expect, it } from 'vitest';
import { fromSi, toSi } from '../../../agent/base/units.ts';
import { clockText, num, spanText } from '../../../agent/web/page/text.js';
import { kindOf, label, scaleOf, write } from '../../../agent/web/page/units.js';

const IP = { system: 'ip', barometer_kpa: 101.325 } as const;
const SI = { system: 'si', barometer_kpa: 101.325 } as const;

describe('a value ends at the place of its expanded uncertainty', () => {
  // GUM 7.2.6: at most two digits of the uncertainty, rounding up allowed
  it.each([
    // kind, value, uncertainty, as written
    ['ratio', 6.6432, 0.13, '6.64', '0.13'],
    ['ratio', 6.6432, 0.34, '6.6', '0.4'],
    ['ratio', 6.6432, 3.1, '7', '4'],
    ['power', 1186.4, 20.4, '1,186', '21'],
    ['power', 1186.4, 34, '1,190', '40'],
    ['power', 1186.4, 150, '1,190', '150'],
    ['power', 1186.4, 410, '1,200', '500'],
    ['power', 594.26, 0.96, '594.3', '1.0'],
    ['power', 0.04, 0.1, '0.0', '0.1'],
    ['percent', 0.0944, 0.00168, '9.4', '0.2'],
  ])('%s %d ±%d', (kind, value, uncertainty, text, plus) => {
    expect(write(kind, value, uncertainty, IP)).toMatchObject({ value: text, plus });
  });
  it('is never narrower than the uncertainty that it was given', () => {
    for (let i = 1; i < 2000; i++) {
      const u = 10 ** (-3 + (i / 2000) * 6);
      const { plus } = write('power', 1000, u, IP);
      expect(Number(plus?.replaceAll(',', ''))).toBeGreaterThanOrEqual(u * (1 - 1e-9));
    }
  });
  it('without an uncertainty says none', () => {
    expect(write('temperature', 5, null, SI)).toMatchObject({ value: '5.0', plus: null, unit: '°C' });
    expect(write('temperature', 5, 0, SI).plus).toBeNull();
  });
  it('missing stays missing, never zero', () => {
    for (const value of [null, Number.NaN, Number.POSITIVE_INFINITY])
      expect(write('power', value, 1, IP)).toMatchObject({ value: null, plus: null, unit: 'kW' });
  });
});

describe('presentation units agree with the conversions of the base room', () => {
  it.each([
    ['temperature', 'degC', 7.3, 'degF'],
    ['difference', 'K', 4.1, 'delta_degF'],
    ['pressure', 'kPa', 906.3, 'psia'],
    ['capacity', 'kW', 4171, 'ton'],
    ['mass_flow', 'kg/s', 23.9, 'lb/min'],
    ['water_flow', 'm3/s', 0.175, 'gpm'],
    ['vapour_flow', 'm3/s', 1.391, 'cfm'],
    ['enthalpy', 'kJ/kg', 244.4, 'Btu/lb'],
    ['head', 'kJ/kg', 19.7, 'ft_head'],
    ['pressure_drop', 'delta_kPa', 40, 'delta_psi'],
  ] as const)('%s', (kind, from, value, to) => {
    expect(write(kind, value, null, IP).number).toBeCloseTo(fromSi(toSi(value, from), to), 6);
  });
  it('gauge pressure by the barometer of the site, below it inches of mercury vacuum', () => {
    const high = { ...IP, barometer_kpa: 84 };
    expect(write('gauge', 906.278, null, high).number).toBeCloseTo(fromSi(906_278, 'psig', 84_000), 6);
    const vacuum = write('gauge', 40, 0.5, IP);
    expect(vacuum.unit).toBe('inHg vac');
    expect(vacuum.number).toBeCloseTo(fromSi(40_000, 'inHg_vac', 101_325), 6);
    expect(vacuum).toMatchObject({ value: '18.1', plus: '0.2' });
    expect(write('gauge', 40, 0.5, SI)).toMatchObject({ value: '−61.3', unit: 'kPa g' });
    // 40 kPa is above the barometer of a very high place only: exactly at it there is no vacuum
    expect(write('gauge', 84, null, high)).toMatchObject({ value: '0.0', unit: 'psig' });
  });
});

describe('what a name is to a reader', () => {
  it.each([
    ['condenser.pressure', 'kPa', 'gauge'],
    ['unit.capacity', 'kW', 'capacity'],
    ['unit.power', 'kW', 'power'],
    ['unit.cop', '1', 'ratio'],
    ['main_compressor.pressure_ratio', '1', 'ratio'],
    ['flash_tank.flash_fraction', '1', 'percent'],
    ['main_compressor.isentropic_head', 'kJ/kg', 'head'],
    ['economizer_compressor.suction_volume_flow', 'm3/s', 'vapour_flow'],
    ['chilled_water.flow', 'm3/s', 'water_flow'],
  ])('%s in %s', (name, unit, kind) => {
    expect(kindOf(name, unit)).toBe(kind);
  });
  it('a unit that nobody foresaw is shown as it is', () => {
    const odd = { ...IP, unit: 'rpm' };
    expect(write(kindOf('main_compressor.speed', 'rpm'), 5400, null, odd)).toMatchObject({
      value: '5,400.00',
      unit: 'rpm',
    });
    expect(label('', 'ip')).toBe('');
    expect(scaleOf('gauge', IP).shift).toBeCloseTo(-14.696, 3);
  });
});

describe('text', () => {
  it('minus is a minus sign, groups of three, no minus before zero', () => {
    expect(num(-1234.56, 1)).toBe('−1,234.6');
    expect(num(-0.04, 1)).toBe('0.0');
    expect(num(1_234_567, 0)).toBe('1,234,567');
    expect(num(1186.4, -1)).toBe('1,190');
  });
  it('spans in words', () => {
    expect([5, 89, 90, 660, 7800, 7200, 200_000].map((s) => spanText(s))).toEqual([
      '5 s',
      '89 s',
      '1 minute',
      '11 minutes',
      '2 h 10 min',
      '2 h',
      '2 days',
    ]);
    expect(spanText(660, true)).toBe('11 min');
  });
  it('time of day at the site; an unknown zone falls back to UTC', () => {
    const t = Date.parse('2026-07-14T08:42:00Z');
    expect(clockText(t, 'Europe/Amsterdam')).toBe('10:42');
    expect(clockText(t, 'America/Chicago', true)).toBe('03:42:00');
    expect(clockText(t, 'Not/AZone')).toBe('08:42');
  });
});
