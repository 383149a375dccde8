import { expect, test } from 'vitest';
import type { Figure } from '../../../agent/base/metric.ts';
import { CYCLE_METRICS } from '../../../agent/cycle/metrics/definitions.ts';
import { catalogue } from '../../../agent/metrics/catalogue.ts';
import { describePayload, metricsMessage } from '../../../agent/metrics/payload.ts';
import { machine, SET_A, solved } from '../cycle/given.ts';

const MINUTE = {
  root: 'tonhour/kestrel-quay',
  chiller: 'CH-1',
  time: '2026-07-01T12:00:00Z',
  sequence: 7,
  state: 'steady',
  suspects: [['chilled_water.flow']],
};

test('uncertainty of what has one, quality of what is not good', () => {
  const figures: Record<string, Figure> = {
    'unit.cop': { value: 6.6, uncertainty: 0.2, quality: 'good', reason: null },
    'unit.power': { value: 800, uncertainty: null, quality: 'uncertain', reason: 'not steady' },
    'unit.capacity': { value: null, uncertainty: null, quality: 'bad', reason: 'no flow' },
  };
  const message = metricsMessage({ ...MINUTE, figures });
  expect(message).toMatchObject({
    sink: 'mqtt',
    address: 'tonhour/kestrel-quay/CH-1/metrics',
    retain: false,
    chiller: 'CH-1',
    sequence: 7,
  });
  expect(JSON.parse(message.payload)).toEqual({
    time: '2026-07-01T12:00:00Z',
    sequence: 7,
    state: 'steady',
    values: { 'unit.cop': 6.6, 'unit.power': 800, 'unit.capacity': null },
    uncertainty: { 'unit.cop': 0.2 },
    quality: {
      'unit.power': { quality: 'uncertain', reason: 'not steady' },
      'unit.capacity': { quality: 'bad', reason: 'no flow' },
    },
    suspects: [['chilled_water.flow']],
  });
});

test('a solved interval: every metric of the cycle is there, null ones have a reason', () => {
  const { values, quality } = JSON.parse(metricsMessage({ ...MINUTE, figures: solved(SET_A).metrics }).payload);
  expect(Object.keys(values).sort()).toEqual(CYCLE_METRICS.map(({ name }) => name).sort());
  for (const [name, value] of Object.entries(values))
    if (value === null) expect(quality[name]?.reason, name).toBeTruthy();
});

test('describe: catalogue, arrangement, refrigerant', () => {
  expect(describePayload({ machine: machine() })).toEqual({
    arrangement: 'parallel',
    refrigerant: 'R134a',
    metrics: catalogue(),
  });
});
