import { describe, expect, test } from 'vitest';
import { simple } from '../../../agent/cycle/arrangements/simple.ts';
import type { CycleContext, Quantity } from '../../../agent/cycle/context.ts';
import { type Input, type Interval, Table } from '../../../agent/cycle/interval.ts';
import { Ledger } from '../../../agent/cycle/ledger.ts';
import { machine, R134a } from './given.ts';

function interval(quantities: readonly Quantity[], inputs: readonly Input[]): Interval {
  return {
    parameters: machine(),
    refrigerant: R134a,
    table: new Table(quantities, simple.on, null),
    inputs,
    inputIndex: new Map(inputs.map(({ name }, index) => [name, index])),
    economizing: false,
    economizingFrom: [],
    economizingDoubt: null,
    given: new Map(),
  };
}

const input = (name: string, value: number, reason: string | null = null): Input => ({
  name,
  value,
  u: 1,
  barometer: 0,
  random: 0,
  reason,
});
const A = input('a', 2);
const B = input('b', 3);
const LOST = input('lost', Number.NaN, 'lost is bad: open circuit');

test('an entry is computed once, and again only where the shifted input reaches it', () => {
  const count = { sum: 0, twice: 0 };
  const quantities: Quantity[] = [
    { name: 'sum', compute: (c) => c.point('a') + c.figure('twice') },
    {
      name: 'twice',
      compute(c) {
        count.twice += 1;
        return 2 * c.point('b');
      },
    },
  ];
  const given = interval(quantities, [A, B]);
  const base = new Ledger(given);
  expect(base.entry('sum')).toBe(8);
  expect(base.entry('sum')).toBe(8);
  expect(count.twice).toBe(1);
  const byA = new Ledger(given, { base, by: new Map([[0, 1]]) });
  expect(byA.entry('sum')).toBe(9);
  expect(count.twice).toBe(1);
  expect(base.dependsOn('twice', 0)).toBe(false);
  expect(base.dependsOn('twice', 1)).toBe(true);
  const byB = new Ledger(given, { base, by: new Map([[1, 1]]) });
  expect(byB.entry('sum')).toBe(10);
  expect(count.twice).toBe(2);
  expect(base.inputsOf('sum').map(({ name }) => name)).toEqual(['a', 'b']);
});

describe('what is missing', () => {
  const quantities: Quantity[] = [
    { name: 'gone', compute: (c) => 2 * c.point('lost') },
    { name: 'leaning', compute: (c) => 1 + c.figure('gone') },
    { name: 'either', compute: (c) => (c.has('gone') ? c.figure('gone') : c.point('a')) },
    { name: 'endless', compute: (c) => 1 / (c.point('a') - 2) },
    { name: 'unmapped', compute: (c) => c.point('nowhere') },
    { name: 'wordless', compute: (c) => c.missing('') },
    { name: 'told', compute: (c: CycleContext) => c.missing('for this reason') },
  ];
  const ledger = new Ledger(interval(quantities, [A, LOST]));

  test.each([
    ['gone', 'lost is bad: open circuit'],
    ['leaning', 'lost is bad: open circuit'],
    ['endless', 'the points give no finite figure'],
    ['unmapped', 'nowhere is not measured'],
    ['wordless', 'the points give no finite figure'],
    ['told', 'for this reason'],
  ])('%s: %s', (name, missing) => {
    expect(ledger.entry(name)).toEqual({ missing });
    expect(ledger.why(name)).toBe(missing);
  });

  test('asking whether leaves no reason behind', () => {
    expect(ledger.entry('either')).toBe(2);
    expect(ledger.inputsOf('either').map(({ name }) => name)).toEqual(['a']);
  });
});

test('doubts travel to all that lean on them and to nothing else', () => {
  const quantities: Quantity[] = [
    {
      name: 'shaky',
      compute(c) {
        c.doubt('seen once');
        return c.point('a');
      },
    },
    { name: 'leaning', compute: (c) => c.figure('shaky') },
    { name: 'firm', compute: (c) => c.point('a') },
  ];
  const ledger = new Ledger(interval(quantities, [A]));
  for (const name of ['firm', 'leaning']) ledger.entry(name);
  expect(ledger.doubtsOf('leaning')).toEqual(['seen once']);
  expect(ledger.doubtsOf('firm')).toEqual([]);
});

describe('programmer’s errors throw', () => {
  test('a name given twice', () => {
    const one: Quantity = { name: 'one', compute: () => 1 };
    expect(() => new Table([one, one], simple.on, null)).toThrow('one is defined once');
  });
  test('a quantity that leads back to itself', () => {
    const quantities: Quantity[] = [
      { name: 'egg', compute: (c) => c.figure('hen') },
      { name: 'hen', compute: (c) => c.figure('egg') },
    ];
    expect(() => new Ledger(interval(quantities, [])).entry('egg')).toThrow('does not lead back to itself');
  });
  test('a name nobody defined', () => {
    expect(() => new Ledger(interval([], [])).entry('nothing')).toThrow('nothing is a quantity');
  });
});
