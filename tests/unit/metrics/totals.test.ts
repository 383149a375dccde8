import { describe, expect, it } from 'vitest';
import type { Figure } from '../../../agent/base/metric.ts';
import { type MachineMinute, plantTotals } from '../../../agent/metrics/totals.ts';

const TON = 3.516852842;
const good = (value: number, uncertainty: number | null): Figure => ({
  value,
  uncertainty,
  quality: 'good',
  reason: null,
});
const gone = (reason: string): Figure => ({ value: null, uncertainty: null, quality: 'bad', reason });

/** Capacity and power independent of each other unless `ratio` says otherwise. */
function machine(
  chiller: string,
  more: Partial<MachineMinute> = {},
  figures: Record<string, Figure> = {},
): MachineMinute {
  const [Q, uQ, P, uP] = chiller === 'CH-1' ? [4000, 80, 600, 6] : [2000, 60, 320, 4];
  const k = (P / Q) * TON;
  return {
    chiller,
    rated_capacity: chiller === 'CH-1' ? 5000 : 3000,
    state: 'steady',
    economizer: 'on',
    absent: null,
    figures: {
      'unit.capacity': good(Q, uQ),
      'unit.power': good(P, uP),
      'unit.kw_per_ton': good(k, k * Math.hypot(uQ / Q, uP / P)),
      'economizer.power_saved': good(chiller === 'CH-1' ? 30 : 14, chiller === 'CH-1' ? 0.8 : 0.6),
      ...figures,
    },
    ...more,
  };
}
const STILL = {
  'unit.capacity': gone('the machine is off'),
  'unit.power': gone('the machine is off'),
  'unit.kw_per_ton': gone('the machine is off'),
  'economizer.power_saved': gone('the machine is off'),
};

describe('sums of independent machines', () => {
  const { figures, running, unknown } = plantTotals([machine('CH-1'), machine('CH-2')]);
  it('add values, and uncertainties as the root of the sum of squares (GUM 5.1.2, uncorrelated inputs)', () => {
    expect([running, unknown]).toEqual([2, []]);
    expect(figures['unit.capacity']).toEqual(good(6000, 100));
    expect(figures['unit.power']).toEqual(good(920, 7.21));
    expect(figures['economizer.power_saved']).toEqual(good(44, 1));
    expect(figures['unit.load_fraction']).toEqual(good(0.75, 0.0125));
  });
  it('power per ton is the ratio of the sums, not a mean of ratios', () => {
    const { value, uncertainty } = figures['unit.kw_per_ton']!;
    expect(value).toBeCloseTo((920 / 6000) * TON, 6);
    // GUM 5.1.6: relative uncertainties of a quotient add in squares
    expect(uncertainty! / value!).toBeCloseTo(Math.hypot(100 / 6000, Math.hypot(6, 4) / 920), 4);
    expect(figures['unit.cop']!.value).toBeCloseTo(6000 / 920, 5);
    expect(figures['unit.cop']!.uncertainty! / figures['unit.cop']!.value!).toBeCloseTo(uncertainty! / value!, 4);
  });
  it('of power and capacity from one meter keeps that they move together', () => {
    // the capacity follows from the power: the ratio alone is doubtful by its own 2 %
    const k = (600 / 4000) * TON;
    const tied = machine(
      'CH-1',
      {},
      { 'unit.capacity': good(4000, 4000 * Math.hypot(0.02, 0.01)), 'unit.kw_per_ton': good(k, k * 0.02) },
    );
    const alone = plantTotals([tied, machine('CH-2', { state: 'off' }, STILL)]).figures['unit.kw_per_ton']!;
    expect(alone.value).toBeCloseTo(k, 6);
    // three digits are kept; taken as independent it would be 0.0245
    expect(alone.uncertainty! / alone.value!).toBeCloseTo(0.02, 3);
  });
});

describe('a machine that does not run', () => {
  it.each(['off', 'standstill', 'stopping'] as const)('%s: adds nothing and is not missed', (state) => {
    const { figures, running } = plantTotals([machine('CH-1'), machine('CH-2', { state }, STILL)]);
    expect(running).toBe(1);
    expect(figures['unit.capacity']).toEqual(good(4000, 80));
    expect(figures['economizer.power_saved']).toEqual(good(30, 0.8));
    const own = machine('CH-1').figures['unit.kw_per_ton']!;
    expect(figures['unit.kw_per_ton']!.value).toBeCloseTo(own.value!, 5);
    expect(figures['unit.kw_per_ton']!.uncertainty).toBeCloseTo(own.uncertainty!, 4);
  });
  it.each(['off', 'standstill', 'stopping'] as const)(
    '%s: what its pressures still seem to give is not added',
    (state) => {
      const { figures } = plantTotals([machine('CH-1', { economizer: 'off' }), machine('CH-2', { state })]);
      expect(figures['unit.capacity']).toEqual(good(4000, 80));
      expect(figures['economizer.power_saved']).toEqual(gone('no economizer runs'));
    },
  );
  it('adds the power that it takes at standstill', () => {
    const { figures } = plantTotals([
      machine('CH-1'),
      machine('CH-2', { state: 'off' }, { ...STILL, 'unit.power': good(3, 0.4) }),
    ]);
    expect(figures['unit.power']!.value).toBe(603);
    expect(figures['unit.kw_per_ton']!.value).toBeCloseTo((603 / 4000) * TON, 5);
  });
  it('and none that runs: nothing is delivered, which is no zero', () => {
    const { figures, running } = plantTotals([
      machine('CH-1', { state: 'standstill' }, STILL),
      machine('CH-2', { state: 'off' }, STILL),
    ]);
    expect(running).toBe(0);
    for (const figure of Object.values(figures)) expect(figure).toEqual(gone('no machine runs'));
  });
});

describe('a sum that lacks a running machine', () => {
  it('is missing and says which machine and why, never the rest alone', () => {
    const { figures } = plantTotals([
      machine('CH-1'),
      machine('CH-2', {}, { 'unit.capacity': gone('chilled_water.flow is bad') }),
    ]);
    const reason = 'CH-2 missing: chilled_water.flow is bad';
    for (const name of ['unit.capacity', 'unit.kw_per_ton', 'unit.cop', 'unit.load_fraction'])
      expect(figures[name], name).toEqual(gone(reason));
    expect(figures['unit.power']).toEqual(good(920, 7.21));
  });
  it('so is one of a machine that nobody hears: it may run', () => {
    const silent = machine('CH-2', { state: 'unknown' }, STILL);
    const { figures, running, unknown } = plantTotals([machine('CH-1'), silent]);
    expect([running, unknown]).toEqual([1, ['CH-2']]);
    for (const figure of Object.values(figures))
      expect(figure.reason).toBe('CH-2 missing: whether it runs is not known');
  });
  it('so is one of a machine whose minute is not the present one, whatever it says', () => {
    const { figures, running, unknown } = plantTotals([
      machine('CH-1', { absent: 'no minute solved yet' }),
      machine('CH-2', { absent: 'no minute solved yet' }),
    ]);
    expect([running, unknown]).toEqual([0, ['CH-1', 'CH-2']]);
    for (const figure of Object.values(figures)) expect(figure.reason).toBe('CH-1, CH-2 missing: no minute solved yet');
  });
  it('a figure that the machine does not have at all is missed by its name', () => {
    const { figures } = plantTotals([{ ...machine('CH-1'), figures: {} }]);
    expect(figures['unit.capacity']).toEqual(gone('CH-1 missing: unit.capacity is not among its figures'));
  });
});

describe('quality', () => {
  it('is the worst of the machines, with the machine in the reason', () => {
    const doubtful: Figure = { value: 2000, uncertainty: 60, quality: 'uncertain', reason: 'not steady: load change' };
    const { figures } = plantTotals([
      machine('CH-1'),
      machine('CH-2', { state: 'load change' }, { 'unit.capacity': doubtful }),
    ]);
    const said = { quality: 'uncertain', reason: 'CH-2: not steady: load change' };
    expect(figures['unit.capacity']).toMatchObject({ value: 6000, uncertainty: 100, ...said });
    expect(figures['unit.kw_per_ton']).toMatchObject(said);
    expect(figures['unit.power']!.quality).toBe('good');
  });
  it('without one uncertainty there is none of the sum, and it is doubtful', () => {
    const { figures } = plantTotals([machine('CH-1'), machine('CH-2', {}, { 'unit.power': good(320, null) })]);
    const said = { uncertainty: null, quality: 'uncertain', reason: 'CH-2 gives no uncertainty' };
    expect(figures['unit.power']).toEqual({ value: 920, ...said });
    expect(figures['unit.kw_per_ton']).toMatchObject(said);
  });
});

describe('what the economizers save', () => {
  const saves = (...machines: MachineMinute[]): Figure => plantTotals(machines).figures['economizer.power_saved']!;
  const off = { 'economizer.power_saved': gone('the economizer is off') };
  it('one that is off saves nothing, which is known', () => {
    expect(saves(machine('CH-1'), machine('CH-2', { economizer: 'off' }, off))).toEqual(good(30, 0.8));
    expect(saves(machine('CH-1'), machine('CH-2', { economizer: 'none' }, off))).toEqual(good(30, 0.8));
    expect(saves(machine('CH-1', { economizer: 'off' }, off))).toEqual(gone('no economizer runs'));
    expect(saves(machine('CH-1', { economizer: 'none' }, off))).toEqual(gone('no machine has an economizer'));
  });
  it('one of which nobody knows is missed', () => {
    const unknown = machine(
      'CH-2',
      { economizer: 'unknown' },
      { 'economizer.power_saved': gone('the points do not say') },
    );
    expect(saves(machine('CH-1'), unknown)).toEqual(gone('CH-2 missing: the points do not say'));
  });
});
