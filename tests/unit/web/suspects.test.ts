/** Goal: the notice says which sensors contradict each other, by how much each would be off, and what to do. */
import { expect, test } from 'vitest';
import { notice } from '../../../agent/web/page/page.js';
import { suspectWords } from '../../../agent/web/page/suspects.js';
import type { View } from '../../../agent/web/page-types.ts';
import { viewOf } from './views.ts';

const FLOW = { value: 75.7, uncertainty: 30, unit: 'kg/s' };
const TEMPERATURE = { value: 1.28, uncertainty: 0.4, unit: 'K' };

type Off = Record<string, typeof FLOW>;

/** 10:42:23 in Berlin in summer: the fixture's clock. */
function accused(suspects: readonly (readonly string[])[], off: Off, system: 'ip' | 'si' = 'si'): View {
  const view = viewOf({ system });
  const now = view.nows['CH-1'];
  if (now === undefined) throw new Error('no minute');
  const found = { chi_square: null, corrections: {}, suspects, since: '2026-07-14T08:12:00Z', off };
  return { ...view, nows: { ...view.nows, 'CH-1': { ...now, reconciliation: found } } };
}

const BOTH = {
  'chilled_water.flow': { ...FLOW },
  'condenser_water.leaving_temperature': { ...TEMPERATURE },
};
const GROUP = ['chilled_water.flow', 'condenser_water.leaving_temperature'];

test('nobody accused: no notice', () => {
  expect(suspectWords(viewOf())).toBeNull();
  expect(suspectWords(accused([], {}))).toBeNull();
});

test('one sensor is named with its size, and left out of the figures', () => {
  expect(suspectWords(accused([['condenser_water.leaving_temperature']], BOTH))).toEqual({
    title: 'Condenser water leaving temperature does not fit the other sensors',
    words: [
      'By the others it is off by 1.3 ± 0.4 K.',
      'Figures are worked out without it. Compare it with a calibrated instrument. Since 10:12.',
    ],
  });
});

test('a group stands one by one, each with what it alone would be off by, and no order among them', () => {
  expect(suspectWords(accused([GROUP], BOTH))).toEqual({
    title: 'Sensors contradict each other',
    words: [
      'One of these is off by so much, which one cannot be told:',
      'chilled water flow 80 ± 30 kg/s',
      'condenser water leaving temperature 1.3 ± 0.4 K',
      'What leans on them is marked uncertain. Compare them with calibrated instruments. Since 10:12.',
    ],
  });
});

// 1 K is 1.8 degF; 1 kg/s of water of 1000 kg/m3 is 15.85 gpm (NIST SP 811).
test('in the units of the reader', () => {
  const { words } = suspectWords(accused([GROUP], BOTH, 'ip')) ?? { words: [] };
  expect(words[2]).toBe('condenser water leaving temperature 2.3 ± 0.8 °F');
});

test('of several groups the first explains best; what is assumed says so, also without a size', () => {
  const { words } = suspectWords(accused([['chilled_water.flow'], ['assumed.main_compressor_drive']], BOTH)) ?? {
    words: [],
  };
  expect(words[2]).toBe('the assumed value of main compressor drive');
  expect(words[3]).toMatch(/calibrated instruments in this order\./);
});

test('on the page each sensor is an item of its own', () => {
  const html = notice({ ...accused([GROUP], BOTH), suspectWords });
  expect(html.match(/<span>/g)).toHaveLength(4);
  expect(html).toContain('<span>chilled water flow 80 ± 30 kg/s</span>');
});
