/** Minutes of the fixture plant that are not of a machine running as usual. For looking at the page only. */
import type { Now } from '../../agent/web/types.ts';
import { DATA, METRICS, metrics, n, points, SIMPLE, states } from './fixture-figures.ts';

/** What the agent answers of a chiller whose controller is silent. */
export function silent(base: Now, time: number): Now {
  const reason = (text: string): { quality: 'bad'; reason: string } => ({ quality: 'bad', reason: text });
  return {
    ...base,
    state: 'unknown',
    economizer: 'unknown',
    values: Object.fromEntries(Object.keys(METRICS).map((name) => [name, null])),
    uncertainty: {},
    quality: Object.fromEntries(Object.keys(METRICS).map((name) => [name, reason('the controller is silent')])),
    points: Object.fromEntries(
      Object.entries(points('normal')).map(([name, p]) => [name, { ...p, value: null, ...reason('no answer') }]),
    ),
    link: { state: 'lost', since: new Date(time - 660_000).toISOString(), reason: 'no reply within 1 s' },
  };
}

/** The machine after it stopped: no circuit, pressures come together, no flow. */
export function still(now: Now, state: string, time: number): Now {
  const keep = ['unit.starts', 'unit.run_hours'];
  const pressure = (now.values['evaporator.saturation_temperature'] ?? 0) < 5 ? 128 : 560;
  const saturation = pressure === 128 ? 24.4 : 19.6;
  const stood: Record<string, number> = {
    'evaporator.pressure': pressure,
    'flash_tank.pressure': pressure * 1.002,
    'condenser.pressure': pressure * 1.015,
    'chilled_water.flow': 0,
    'condenser_water.flow': 0,
    'condenser_valve.position': 0,
    'tank_valve.position': 0,
  };
  const reason = `the machine is ${state}`;
  return {
    ...now,
    state,
    state_since: new Date(time - 16_320_000).toISOString(),
    economizer: 'off',
    values: Object.fromEntries(
      Object.entries(now.values).map(([name, value]) => [
        name,
        keep.includes(name) ? value : name.endsWith('saturation_temperature') ? saturation : null,
      ]),
    ),
    quality: Object.fromEntries(
      Object.keys(now.values)
        .filter((name) => !keep.includes(name) && !name.endsWith('saturation_temperature'))
        .map((name) => [name, { quality: 'bad', reason }]),
    ),
    points: Object.fromEntries(
      Object.entries(now.points).map(([name, p]) => [name, { ...p, value: stood[name] ?? p.value }]),
    ),
    states: {},
    ghost: {},
  };
}

/** A machine of one stage without a tank. */
export function direct(base: Now): Now {
  const keep = [
    'unit.capacity',
    'unit.power',
    'unit.kw_per_ton',
    'unit.cop',
    'unit.carnot_fraction',
    'main_compressor.lift',
    'main_compressor.power',
    'evaporator.flash_fraction',
    'condenser.saturation_temperature',
    'evaporator.saturation_temperature',
    'condenser.approach',
    'evaporator.approach',
    'main_compressor.pressure_ratio',
  ];
  const scale = (name: string, value: number | null): number | null =>
    value !== null && /capacity|power$/.test(name) && !name.includes('per_ton') ? value * 0.51 : value;
  const scaled = Object.entries(metrics('off')).filter(([name]) => keep.includes(name));
  const kept = Object.entries(points('normal')).filter(
    ([name]) => !name.startsWith('flash_tank') && !name.startsWith('tank_valve') && !name.endsWith('.flow'),
  );
  return {
    ...base,
    economizer: 'none',
    values: Object.fromEntries(scaled.map(([name, [value]]) => [name, scale(name, value)])),
    uncertainty: Object.fromEntries(scaled.map(([name, [, u]]) => [name, scale(name, u) ?? u])),
    points: Object.fromEntries(kept),
    states: states({ ...DATA.off, h6: n(DATA.off, 'h3') }, SIMPLE),
  };
}
