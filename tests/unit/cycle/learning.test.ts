/**
 * Goal: what is learned of the main compressor from steady minutes, and what the economizer's saving is told by it.
 * Method: a compressor whose efficiency is a hill known exactly (invented data, shaped as a curve that a maker prints:
 * flow and head over their design values), so that the ratio at any two flows is known without the code under test;
 * minutes are made from it with noise of a fixed seed. That s_r = 1 - (1 - s) r has r = eta without/eta with is checked
 * by powers added up by hand.
 */
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import type { Figure } from '../../../agent/base/metric.ts';
import {
  type LearnedEfficiency,
  type LearningInput,
  NOTHING_LEARNED,
  nextLearned,
} from '../../../agent/cycle/learning/learner.ts';
import { learnedFigures } from '../../../agent/cycle/learning/metrics.ts';
import type { EconomizerState } from '../../../agent/cycle/types.ts';
import { machine } from './given.ts';

const SOUND = 146;
const T0 = Date.UTC(2026, 5, 1);
const RATIO = 'economizer.efficiency_ratio';

/** Invented: best at 1.5 m3/s and 17 kJ/kg, falling off on either side. */
function hill(flow: number, head: number): number {
  return 0.83 - 0.25 * (flow / 1.5 - 1) ** 2 - 0.05 * (head / 17e3 - 1) ** 2;
}

/** mulberry32: small, seeded, good enough for noise. */
function random(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

function figure(value: number, uncertainty = 0): Figure {
  return { value, uncertainty, quality: 'good', reason: null };
}

interface Told {
  readonly flow: number;
  readonly head: number;
  readonly efficiency: number;
  readonly economizer: EconomizerState;
  readonly without?: number;
  readonly steady?: boolean;
  readonly quality?: Figure['quality'];
  readonly arrangement?: 'parallel' | 'interstage';
  readonly more?: Record<string, unknown>;
  readonly replaced?: number | null;
  readonly air?: number;
}

function minute(at: number, told: Told): LearningInput {
  const { flow, head, efficiency, economizer, without = null, steady = true, quality = 'good' } = told;
  const method = 'chilled_water' as const;
  const operating = { method, flow, without, head, sound: SOUND, efficiency, apart: 0, air: told.air ?? 0 };
  const name = told.arrangement === 'interstage' ? 'polytropic' : 'isentropic';
  return {
    solution: { economizer, operating },
    figures: {
      'main_compressor.suction_volume_flow': figure(flow, 0.05 * flow),
      'main_compressor.isentropic_head': figure(head / 1e3, 0.4),
      [`main_compressor.${name}_efficiency`]: { ...figure(efficiency, 0.09), quality },
      'economizer.saving_fraction': figure(0.05, 0.008),
      'economizer.refrigerating_effect_gain': figure(0.09, 0.008),
    },
    parameters: machine({ arrangement: told.arrangement ?? 'parallel', ...told.more }),
    steady,
    interval_s: 60,
    time: T0 + 60_000 * at,
    replaced: told.replaced ?? null,
  };
}

function fold(minutes: readonly Told[], before: LearnedEfficiency = NOTHING_LEARNED, from = 0): LearnedEfficiency {
  return minutes.reduce(
    // as the store keeps it between two minutes
    (state, told, i) => JSON.parse(JSON.stringify(nextLearned(state, minute(from + i, told)))),
    before,
  );
}

/** Minutes over flows from `low` to `high` and back, head following the flow, efficiencies with noise. */
function sweep(
  n: number,
  {
    low,
    high,
    economizer,
    more = {},
  }: { low: number; high: number; economizer: EconomizerState; more?: Partial<Told> },
): Told[] {
  const noise = random(41);
  return Array.from({ length: n }, (_, i) => {
    const flow = low + (high - low) * (0.5 - 0.5 * Math.cos((2 * Math.PI * i) / 180));
    const head = 13e3 + 3e3 * flow + 400 * Math.sin(i / 37);
    const efficiency = hill(flow, head) * (1 + 0.004 * (noise() + noise() + noise() - 1.5));
    return { flow, head, efficiency, economizer, ...more };
  });
}

const HERE = { flow: 1.2, head: 16.7e3, without: 1.32 };
const TRUE_RATIO = hill(HERE.without, HERE.head) / hill(HERE.flow, HERE.head);
const now = (more: Partial<Told> = {}): LearningInput =>
  minute(1e4, { ...HERE, efficiency: hill(HERE.flow, HERE.head), economizer: 'on', ...more });
const told = (state: LearnedEfficiency, of: LearningInput = now()): Record<string, Figure> =>
  learnedFigures(state.cells, of);
const ratio = (state: LearnedEfficiency, of?: LearningInput): Figure => told(state, of)[RATIO] as Figure;

describe('a compressor whose hill is known', () => {
  const learned = fold(sweep(900, { low: 0.9, high: 1.8, economizer: 'on' }));

  test('efficiency at the larger flow over that at the present one, within its uncertainty, which is small', () => {
    // 0.83 - 0.25 x 0.12^2 over 0.83 - 0.25 x 0.2^2; the head's term is the same in both
    expect(TRUE_RATIO).toBeCloseTo(0.8264 / 0.82, 4);
    const { value, uncertainty, quality } = ratio(learned);
    expect(Math.abs((value as number) - TRUE_RATIO)).toBeLessThan(uncertainty as number);
    // a ratio the wrong way round would be off by 0.015
    expect(uncertainty).toBeLessThan(0.004);
    expect(value).toBeGreaterThan(1);
    expect(quality).toBe('good');
  });

  test('beyond the top of the hill the ratio is under 1: the larger flow costs efficiency', () => {
    const there = { flow: 1.55, head: 17.65e3, without: 1.7 };
    const real = hill(there.without, there.head) / hill(there.flow, there.head);
    expect(real).toBeLessThan(0.9985);
    const { value, uncertainty } = ratio(learned, now({ ...there, efficiency: hill(there.flow, there.head) }));
    expect(Math.abs((value as number) - real)).toBeLessThan(uncertainty as number);
    expect(uncertainty).toBeLessThan(0.004);
  });

  test('what a sensor is wrong by all along cancels in the ratio', () => {
    const wrong = sweep(900, { low: 0.9, high: 1.8, economizer: 'on' }).map((each) => ({
      ...each,
      efficiency: each.efficiency * 1.03,
      flow: each.flow * 0.98,
    }));
    const { value } = ratio(fold(wrong), now({ flow: HERE.flow * 0.98, without: HERE.without * 0.98 }));
    expect(value).toBeCloseTo(ratio(learned).value as number, 3);
  });

  test('bounds: power without economizer added up by hand at the efficiency of the larger flow', () => {
    const figures = told(learned);
    const { value, uncertainty } = figures[RATIO] as { value: number; uncertainty: number };
    // with: 950 kW at eta(now); without at eta(now): 1000 kW; without at the larger flow: 1000 kW eta(now)/eta(larger)
    const saving = (larger: number): number => 1 - 950 / (1000 / larger);
    const [low, high] = ['low', 'high'].map((side) => figures[`economizer.saving_fraction_${side}`] as Figure);
    expect(low?.value).toBeCloseTo(saving(value + uncertainty), 9);
    expect(high?.value).toBeCloseTo(saving(value - uncertainty), 9);
    // the compressor runs better at the larger flow: the economizer saves less than 5 %
    expect(((low?.value as number) + (high?.value as number)) / 2).toBeLessThan(0.05);
    expect(low?.uncertainty).toBeCloseTo(0.008 * (value + uncertainty), 9);
    expect(figures['economizer.efficiency_ratio_minutes']?.value).toBeGreaterThan(60);
  });

  test('a flow that was never seen at this head is refused, and the default stands in', () => {
    const far = now({ flow: 1.75, without: 1.93, head: 18.2e3 });
    const figures = told(learned, far);
    expect(figures[RATIO]).toMatchObject({ value: null, quality: 'bad' });
    expect(figures[RATIO]?.reason).toBe(
      'not learned, 0.97 to 1.03 stand in: the larger flow without economizer was not seen steady at this head for long enough',
    );
    expect(figures).not.toHaveProperty(['economizer.saving_fraction_low']);
    expect(ratio(learned, now({ head: 25e3 })).value).toBeNull();
    expect(ratio(NOTHING_LEARNED).value).toBeNull();
  });

  test('the site file wins', () => {
    const given = now({ more: { efficiency_ratio: { low: 0.99, high: 1.01 } } });
    expect(ratio(learned, given)).toMatchObject({
      value: null,
      reason: 'the site file gives efficiency_ratio, which holds',
    });
    expect(told(learned, given)).not.toHaveProperty(['economizer.saving_fraction_low']);
  });

  test('with the economizer off there is no ratio, for the reason that its saving has', () => {
    const off = now({ economizer: 'off' });
    const gone: Figure = { value: null, uncertainty: null, quality: 'bad', reason: 'the economizer is off' };
    const figures = learnedFigures(learned.cells, {
      ...off,
      figures: { ...off.figures, 'economizer.saving_fraction': gone },
    });
    expect(figures[RATIO]?.reason).toBe('the economizer is off');
  });

  test('a sensor replaced: what was learned with the one before is forgotten', () => {
    const after = nextLearned(learned, now({ replaced: T0 + 60_000 * 900 }));
    expect(after.cells).toEqual([]);
    expect(nextLearned(after, now({ replaced: T0 + 60_000 * 900 })).since).toBe(T0 + 60_000 * 900);
  });

  test('memory is bounded, and a year without a visit forgets', () => {
    const wide = Array.from({ length: 4000 }, (_, i): Told => {
      const [flow, head] = [0.3 + 0.012 * (i % 400), 9e3 + 1500 * Math.floor(i / 400)];
      return { flow, head, efficiency: 0.8, economizer: 'on' };
    });
    const state = fold(wide);
    expect(state.cells.length).toBe(LIMITS.learned_cells_max);
    expect(JSON.stringify(state).length).toBeLessThan(LIMITS.learned_cells_max * 160);
    const later = fold(sweep(30, { low: 1, high: 1, economizer: 'on' }), learned, 60 * 24 * 402);
    expect(later.cells.length).toBeLessThan(5);
  });
});

describe('minutes that teach', () => {
  const good = sweep(300, { low: 0.9, high: 1.8, economizer: 'on' });
  const learned = fold(good);
  const wrong = { ...HERE, efficiency: 0.6, economizer: 'on' } as const;
  const many = (more: Partial<Told>): Told[] => Array.from({ length: 60 }, () => ({ ...wrong, ...more }));

  test('are steady: those that are not teach nothing', () => {
    expect(fold(many({ steady: false }), learned, 300).cells).toEqual(learned.cells);
    // the check sees what it looks for
    expect(fold(many({}), learned, 300).cells).not.toEqual(learned.cells);
  });

  test('are good: doubtful ones teach nothing', () => {
    expect(fold(many({ quality: 'uncertain' }), learned, 300).cells).toEqual(learned.cells);
    expect(fold(many({ economizer: 'unknown' }), learned, 300).cells).toEqual(learned.cells);
  });

  test('come after ten others since the economizer came on or went off, or since the machine moved', () => {
    const off = many({ economizer: 'off' });
    expect(fold(off.slice(0, 10), learned, 300).cells).toEqual(learned.cells);
    expect(fold(off.slice(0, 11), learned, 300).cells).not.toEqual(learned.cells);
    const moved = fold(many({ steady: false }).slice(0, 1), learned, 300);
    expect(fold(many({}).slice(0, 10), moved, 301).cells).toEqual(learned.cells);
  });
});

describe('vapour that joins between the stages loads the second one', () => {
  const staged = { arrangement: 'interstage' } as const;
  const on = sweep(400, { low: 0.9, high: 1.8, economizer: 'on', more: staged });
  /** Without the vapour of the tank the same machine runs 1 % worse. */
  const off = sweep(400, { low: 0.9, high: 1.8, economizer: 'off', more: staged }).map((each) => ({
    ...each,
    efficiency: 0.99 * each.efficiency,
  }));
  const asked = (more: Partial<Told> = {}): LearningInput => now({ ...staged, ...more });

  test('minutes with it on say nothing of the machine without it', () => {
    expect(ratio(fold(on), asked()).reason).toContain('with the economizer off for long enough');
  });

  test('with minutes of both kinds the ratio has both: larger flow, and no vapour', () => {
    const learned = fold(off, fold(on), 400);
    const { value, uncertainty } = ratio(learned, asked());
    expect(Math.abs((value as number) - 0.99 * TRUE_RATIO)).toBeLessThan(uncertainty as number);
    expect(uncertainty).toBeLessThan(0.006);
  });

  test('air that was another one on the other days makes it less sure than knowing nothing: the default stands in', () => {
    const learned = fold(off, fold(on), 60 * 24 * 3);
    expect(ratio(learned, asked({ air: 0.02 })).reason).toMatch(/^learned to no better than .* 0.97 to 1.03 stand in$/);
  });
});
