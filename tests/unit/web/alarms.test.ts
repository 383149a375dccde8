/** Goal: the alarms view says of each state who, since when, until when and why, and what is to be done. */
import { expect, test } from 'vitest';
import { alarmsMain, shownAlarm } from '../../../agent/web/page/alarms.js';
import type { View } from '../../../agent/web/page-types.ts';
import type { AlarmFigure } from '../../../agent/web/types.ts';
import { SEAL } from '../../browser/fixture-figures.ts';
import { viewOf } from './views.ts';

const DESK = { sent: null, refused: null };
/** 10:42:23 in Berlin in summer: the fixture's clock. */
const BASE = viewOf({ page: 'alarms' });

function text(alarm: Partial<AlarmFigure>, view: Partial<View> = {}): string {
  const html = alarmsMain({ ...BASE, alarms: [{ ...SEAL, ...alarm }], desk: DESK, ...view });
  return html.replaceAll(/<[^>]*>/g, ' ').replaceAll(/\s+/g, ' ');
}

test.each<[Partial<AlarmFigure>, readonly RegExp[]]>([
  [{}, [/Unacknowledged active, 1/, /unacknowledged , active since 10:36, 6 min/, /respond within 30 min/]],
  [
    {
      state: 'acknowledged',
      acknowledged: { by: 'duty engineer', time: '2026-07-14T08:40:00Z', reason: 'on the way' },
    },
    [/Acknowledged active, 1/, /acknowledged , by duty engineer 10:40: on the way; active since 10:36/],
  ],
  [
    { state: 'returned to normal', active: false, cleared: '2026-07-14T08:40:00Z' },
    [/until 10:40, 4 min/, /returned to normal , 10:40, 2 min ago; began 10:36; still to be acknowledged/],
  ],
  [
    { state: 'latched', active: false, cleared: '2026-07-14T08:40:00Z', latching: true },
    [/Latched until acknowledged, 1/, /over since 10:40; began 10:36; stays until it is acknowledged/],
  ],
  [
    {
      state: 'shelved',
      shelf: {
        by: 'service contractor',
        time: '2026-07-14T08:38:00Z',
        reason: 'leak check booked',
        until: '2026-07-15T04:00:00Z',
      },
    },
    [
      /by service contractor, leak check booked; active/,
      /shelved , until 15 Jul 06:00 by service contractor: leak check booked; active since 10:36/,
    ],
  ],
  [
    { state: 'suppressed by design', active: false, raised: null, suppression: 'the machine does not run' },
    [/suppressed by design , since 10:36: the machine does not run/],
  ],
  [
    { state: 'out of service', active: false, raised: null, out_of_service: 'sensor dismantled' },
    [/Out of service by the site file, 1/, /out of service , since 10:36: sensor dismantled/],
  ],
])('%j', (alarm, said) => {
  for (const one of said) expect(text(alarm)).toMatch(one);
});

test('a limit is said in the units of the person, with what it takes to cross it', () => {
  const approach: Partial<AlarmFigure> = {
    metric: 'condenser.approach',
    unit: 'K',
    value: 4.5,
    limit: 4,
    condition: {
      side: 'above',
      deadband: 0.5,
      on_delay_s: 1800,
      off_delay_s: 1800,
      when: 'steady',
      running_for_s: 900,
      beyond_uncertainty: true,
    },
  };
  // 4 K are 7.2 degF of difference (NIST SP 811).
  expect(text(approach)).toContain('limit: above 7.2 °F by more than its uncertainty for 30 min, in steady operation');
  expect(text(approach, { system: 'si' })).toContain('limit: above 4.0 K by more than its uncertainty');
});

test('the form offers what can be done, and none where the page takes no commands', () => {
  const buttons = (alarm: Partial<AlarmFigure>): string[] => {
    const html = alarmsMain({ ...BASE, alarms: [{ ...SEAL, ...alarm }], desk: DESK });
    return [...html.matchAll(/<button name="verb" value="(\w+)"/g)].map(([, verb]) => verb ?? '');
  };
  const shelf = { by: 'x', time: '2026-07-14T08:38:00Z', reason: 'y', until: '2026-07-15T04:00:00Z' };
  expect(buttons({})).toEqual(['acknowledge', 'shelve']);
  expect(buttons({ shelvable: false })).toEqual(['acknowledge']);
  expect(buttons({ state: 'acknowledged' })).toEqual(['shelve']);
  expect(buttons({ state: 'shelved', shelf })).toEqual(['shelve', 'unshelve']);
  expect(buttons({ state: 'acknowledged', shelvable: false })).toEqual([]);
  expect(buttons({ state: 'out of service' })).toEqual([]);
  expect(text({}, { desk: null })).not.toContain('Acknowledge or shelve');
});

test('what was sent is told until a later minute shows it', () => {
  const sent = { desk: { sent: 'acknowledge', refused: null } };
  expect(text({}, { ...sent, served: '2026-07-14T08:42:30Z' })).toContain('Written down acknowledge');
  expect(text({}, { ...sent, served: '2026-07-14T08:41:30Z' })).not.toContain('Written down');
});

test('the alarm asked for is shown; one that is over is said to be normal', () => {
  expect(shownAlarm([SEAL], null)?.id).toBe(SEAL.id);
  expect(shownAlarm([SEAL], `ch-1/${SEAL.id}`)?.id).toBe(SEAL.id);
  expect(shownAlarm([SEAL], 'ch-1/other')).toBeNull();
  expect(text({}, { alarm: 'ch-1/other' })).toContain('This alarm is normal ch-1/other stands no more');
  expect(alarmsMain({ ...BASE, alarms: [] })).toContain('Every alarm is normal');
});

test('hostile words of a person are text', () => {
  const evil = '<img src=x onerror=alert(1)>"\'&';
  const html = alarmsMain({
    ...BASE,
    desk: { sent: null, refused: evil },
    alarms: [
      { ...SEAL, state: 'shelved', shelf: { by: evil, time: SEAL.since, reason: evil, until: SEAL.since } },
      { ...SEAL, id: evil, acknowledged: { by: evil, time: SEAL.since, reason: evil }, state: 'acknowledged' },
      { ...SEAL, id: 'x', suppression: evil, out_of_service: evil, state: 'out of service' },
    ],
  });
  expect(html).not.toContain('<img');
});
