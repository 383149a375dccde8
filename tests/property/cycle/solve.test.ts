/** Whatever a snapshot holds, solving answers: every metric, finite or null with a reason, and never a throw. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { design } from '../../../agent/cycle/design.ts';
import { CYCLE_POINTS } from '../../../agent/cycle/inputs.ts';
import { CYCLE_METRICS } from '../../../agent/cycle/metrics/definitions.ts';
import { prepare, type Solver } from '../../../agent/cycle/solve.ts';
import type { Solution } from '../../../agent/cycle/types.ts';
import type { PointValue } from '../../../agent/points/types.ts';
import { REFRIGERANTS } from '../../../agent/refrigerant/refrigerants.ts';
import { good, machine, reason, SET_CD, solved, value } from '../../unit/cycle/given.ts';

const LEVELS = ['condenser.level', 'flash_tank.level'];
const NAMES = [...CYCLE_POINTS, 'unit.running', 'main_compressor.running', ...LEVELS];

const absurd = fc.oneof(
  fc.double(),
  fc.constantFrom(0, -1, 1e-300, 1e300, Number.NaN, Number.POSITIVE_INFINITY, 273.15, 65_535, -40),
  fc.double({ min: 200, max: 400, noNaN: true }),
  fc.double({ min: 1e3, max: 5e6, noNaN: true }),
);
const point: fc.Arbitrary<PointValue> = fc.record({
  value: fc.option(absurd, { freq: 8 }),
  u_barometer: fc.constantFrom(0, 1000),
  u: fc.option(fc.oneof(fc.double(), fc.double({ min: 0, max: 1e4, noNaN: true })), { freq: 8 }),
  quality: fc.constantFrom('good', 'good', 'uncertain', 'bad'),
  reason: fc.option(fc.constantFrom('stale', 'frozen')),
  age_s: fc.constant(1),
  spread: fc.constant(null),
  n: fc.constant(3),
  rate: fc.record({ value: absurd, u: fc.oneof(fc.constant(1e-5), fc.double({ min: 0, noNaN: true })) }),
});
const VESSEL = { liquid_area: '1.5 m2', level_range: '600 mm' };
const points = fc.dictionary(fc.constantFrom(...NAMES), point, { maxKeys: NAMES.length });
/** A good machine with a few points spoilt: reaches deeper than noise all over. */
const SOUND: Record<string, PointValue> = { ...SET_CD, 'economizer.running': good(1) };
const spoilt = fc.tuple(fc.subarray(Object.keys(SOUND)), points).map(([kept, changed]) => ({
  ...Object.fromEntries(kept.map((name) => [name, SOUND[name] as PointValue])),
  ...changed,
}));
const nearly = fc
  .tuple(fc.constantFrom(...Object.keys(SOUND)), fc.double({ min: -0.5, max: 3, noNaN: true }))
  .map(([name, factor]) => {
    const before = SOUND[name] as PointValue;
    return { ...SOUND, [name]: { ...before, value: (before.value as number) * factor } };
  });

const solvers = new Map(
  REFRIGERANTS.flatMap((refrigerant) =>
    (['simple', 'parallel', 'interstage'] as const).flatMap((arrangement) =>
      [true, false].map((flag) => {
        const parameters = machine({
          refrigerant,
          arrangement,
          motor_cooling: flag,
          matched_water_sensors: flag,
          economizer_adjustable: flag,
          vessels: flag ? { condenser: VESSEL, ...(arrangement === 'simple' ? {} : { flash_tank: VESSEL }) } : {},
        });
        return [`${refrigerant} ${arrangement} ${flag}`, must(prepare(parameters))] as const;
      }),
    ),
  ),
);

function check(solution: Solution): void {
  expect(Object.keys(solution.metrics)).toHaveLength(CYCLE_METRICS.length);
  for (const [name, { value: found, uncertainty, quality, reason }] of Object.entries(solution.metrics)) {
    if (found === null) expect([quality, typeof reason, uncertainty], name).toEqual(['bad', 'string', null]);
    else {
      expect(Number.isFinite(found), name).toBe(true);
      expect(quality, name).not.toBe('bad');
      if (uncertainty !== null)
        expect(uncertainty >= 0 && Number.isFinite(uncertainty), `${name} ${uncertainty}`).toBe(true);
      else if (name !== 'unit.capacity_method') expect(quality, name).toBe('uncertain');
    }
    expect(reason === null, name).toBe(quality === 'good');
  }
  for (const states of [solution.states, solution.ghost])
    for (const state of Object.values(states))
      for (const [key, number] of Object.entries(state))
        expect(number === null ? key === 'q' || key === 'm' : Number.isFinite(number), key).toBe(true);
}

describe.each([
  ['noise', points, 600],
  ['a machine with points spoilt', spoilt, 600],
  ['one point anywhere', nearly, 400],
] as const)('%s', (_, arbitrary, numRuns) => {
  test('solving answers', () => {
    fc.assert(
      fc.property(fc.constantFrom(...solvers.keys()), arbitrary, (key, given) => {
        check((solvers.get(key) as Solver).solve({ time: 0, points: given }));
      }),
      { numRuns, seed: 20260701 },
    );
  });
});

test('a design of any numbers answers or names its fault', () => {
  const number = fc.oneof(absurd, fc.double({ min: 1e4, max: 3e6, noNaN: true }));
  const level = fc.record({ p: number, T: number }, { requiredKeys: [] });
  const record = fc.record(
    {
      refrigerant: fc.constantFrom(...REFRIGERANTS),
      arrangement: fc.constantFrom('simple', 'parallel', 'interstage'),
      economizer: fc.constantFrom('on', 'off'),
      evaporator: level,
      tanks: fc.array(level, { maxLength: 1 }),
      condenser: level,
      compressors: fc.array(
        fc.oneof(
          fc.record({ isentropic_efficiency: fc.double({ min: 0.01, max: 1, noNaN: true }) }),
          fc.record({ polytropic_efficiency: fc.double({ min: 0.01, max: 1, noNaN: true }) }),
        ),
        { maxLength: 2 },
      ),
      flow: number,
    },
    { requiredKeys: ['refrigerant', 'arrangement', 'compressors', 'tanks'] },
  );
  fc.assert(
    fc.property(record, (given) => {
      const answer = design(given);
      if (answer.ok) expect(Number.isFinite(answer.value.cop)).toBe(true);
      else expect(answer.fault.message).not.toBe('');
    }),
    { numRuns: 1500, seed: 20260702 },
  );
});

test('what is designed is found again from its points: any sound condition, every refrigerant', () => {
  const condition = fc.record({
    refrigerant: fc.constantFrom(...REFRIGERANTS),
    evaporator: fc.double({ min: 273, max: 285, noNaN: true }),
    lift: fc.double({ min: 15, max: 40, noNaN: true }),
    tank: fc.double({ min: 0.3, max: 0.7, noNaN: true }),
    /** Share of the way from condenser to tank temperature: beyond all of it nothing would flash. */
    cooled: fc.double({ min: 0.05, max: 0.7, noNaN: true }),
    main: fc.double({ min: 0.5, max: 0.75, noNaN: true }),
    economizer: fc.double({ min: 0.5, max: 0.7, noNaN: true }),
  });
  fc.assert(
    fc.property(condition, ({ refrigerant, evaporator, lift, tank, cooled, main, economizer }) => {
      const subcooling = cooled * (1 - tank) * lift;
      const made = must(
        design({
          refrigerant,
          arrangement: 'parallel',
          evaporator: { T: evaporator },
          tanks: [{ T: evaporator + tank * lift }],
          condenser: { T: evaporator + lift, subcooling },
          compressors: [{ isentropic_efficiency: main }, { isentropic_efficiency: economizer }],
          capacity: 3e6,
        }),
      );
      const state = (node: string) => made.states[node] as { T: number; p: number };
      const exact = (v: number): PointValue => good(v, 1e-3);
      const found = solved(
        {
          'evaporator.pressure': exact(state('1').p),
          'flash_tank.pressure': exact(state('7').p),
          'condenser.pressure': exact(state('3').p),
          'condenser.liquid_temperature': exact(state('3').T),
          'main_compressor.discharge_temperature': exact(state('2').T),
          'economizer_compressor.discharge_temperature': exact(state('8').T),
          'economizer_compressor.running': exact(1),
          'unit.power': exact(made.power),
        },
        machine({ refrigerant, suction_superheat: '0 K' }),
      );
      // small superheat at the discharge is refused, on purpose
      fc.pre(state('2').T - (evaporator + lift) > 0.5 && state('8').T - (evaporator + lift) > 0.5);
      expect(value(found, 'unit.capacity')).toBeCloseTo(3e3, 3);
      expect(value(found, 'main_compressor.isentropic_efficiency')).toBeCloseTo(main, 6);
      expect(value(found, 'economizer_compressor.isentropic_efficiency')).toBeCloseTo(economizer, 6);
      expect(value(found, 'economizer.saving_fraction')).toBeCloseTo(
        made.metrics['economizer.saving_fraction'] as number,
        8,
      );
    }),
    { numRuns: 150, seed: 20260703 },
  );
});

test('two stages designed are found again from their points: any sound condition, every refrigerant', () => {
  const condition = fc.record({
    refrigerant: fc.constantFrom(...REFRIGERANTS),
    evaporator: fc.double({ min: 273, max: 285, noNaN: true }),
    lift: fc.double({ min: 15, max: 40, noNaN: true }),
    tank: fc.double({ min: 0.3, max: 0.7, noNaN: true }),
    cooled: fc.double({ min: 0.05, max: 0.7, noNaN: true }),
    efficiency: fc.double({ min: 0.5, max: 0.78, noNaN: true }),
    drive: fc.double({ min: 0.9, max: 1, noNaN: true }),
    open: fc.boolean(),
  });
  fc.assert(
    fc.property(condition, ({ refrigerant, evaporator, lift, tank, cooled, efficiency, drive, open }) => {
      const made = must(
        design({
          refrigerant,
          arrangement: 'interstage',
          economizer: open ? 'on' : 'off',
          evaporator: { T: evaporator },
          tanks: [{ T: evaporator + tank * lift }],
          condenser: { T: evaporator + lift, subcooling: cooled * (1 - tank) * lift },
          compressors: [{ polytropic_efficiency: efficiency, drive_efficiency: drive }],
          capacity: 3e6,
        }),
      );
      const state = (node: string) => made.states[node] as { T: number; p: number };
      // small superheat at the discharge is refused, on purpose
      fc.pre(state('10').T - (evaporator + lift) > 0.5);
      const exact = (v: number): PointValue => good(v, 1e-3);
      const found = solved(
        {
          'evaporator.pressure': exact(state('1').p),
          'flash_tank.pressure': exact(state('4').p),
          'condenser.pressure': exact(state('3').p),
          'condenser.liquid_temperature': exact(state('3').T),
          'main_compressor.discharge_temperature': exact(state('10').T),
          'economizer.running': good(open ? 1 : 0),
          'unit.power': exact(made.power),
        },
        machine({
          refrigerant,
          arrangement: 'interstage',
          suction_superheat: '0 K',
          main_compressor: { drive_efficiency: drive },
        }),
      );
      expect(value(found, 'unit.capacity')).toBeCloseTo(3e3, 3);
      expect(value(found, 'main_compressor.polytropic_efficiency')).toBeCloseTo(efficiency, 6);
      const name = open ? 'economizer.saving_fraction' : 'economizer.missed_saving_fraction';
      const saved = made.metrics[name] ?? null;
      // liquid so cold that nothing of it would flash in the tank assumed
      if (saved === null) expect(reason(found, name)).toMatch(/^nothing flashes/);
      else expect(value(found, name)).toBeCloseTo(saved, 8);
      // the economizer heats nothing and cools what the second stage draws: between the stages the mixture is cooler
      if (open) expect(found.states['9']?.T).toBeLessThanOrEqual((found.states['2']?.T as number) + 1e-9);
    }),
    { numRuns: 150, seed: 20260704 },
  );
});
