// Goal: a flow gets what was published and nothing else, and what the sequence tells of it is true.
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { filterOf, published, Sequences } from '../../../nodes/lib/published.ts';
import minutesNode from '../../../nodes/minutes.ts';
import { placeOf } from '../../../nodes/site.ts';
import { place } from './host.ts';

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
const arrival = (topic: string, text: string) => ({ topic, payload: bytes(text), qos: 1, retain: false });
const minute = (sequence: number, time = `2026-06-01T12:${String(sequence).padStart(2, '0')}:00Z`): string =>
  JSON.stringify({ time, sequence, state: 'steady', values: { 'unit.power': 1 } });

describe('messages', () => {
  const told = (...texts: readonly string[]) => {
    const sequences = new Sequences();
    return texts.map((text) => published(arrival('t/k/CH-1/metrics', text), 'metrics', 't/k', sequences));
  };

  test('the payload is what was published, with chiller and kind beside it', () => {
    expect(told(minute(7))).toEqual([
      {
        ok: true,
        value: {
          topic: 't/k/CH-1/metrics',
          payload: JSON.parse(minute(7)) as unknown,
          kind: 'metrics',
          chiller: 'CH-1',
          qos: 1,
          retain: false,
          missed: 0,
          repeated: false,
        },
      },
    ]);
  });

  test('missed minutes are counted, a second delivery is marked, a store begun anew is neither', () => {
    const found = told(
      minute(1),
      minute(2),
      minute(5),
      minute(5),
      minute(4),
      minute(6),
      minute(1, '2026-06-02T00:00:00Z'),
    );
    expect(found.map((each) => each.ok && [each.value['missed'], each.value['repeated']])).toEqual([
      [0, false],
      [0, false],
      [2, false],
      [0, true],
      [0, true],
      [0, false],
      [0, false],
    ]);
  });

  test.each(['', 'null', '{"half":', 'x'.repeat(LIMITS.mqtt_payload_bytes_max + 1)])('payload %#', (text) => {
    const [found] = told(text);
    if (text === '' || text === 'null') expect(found).toMatchObject({ ok: true, value: { payload: null } });
    else expect(found).toMatchObject({ ok: false, fault: { code: 'bad_record' } });
  });

  test('filters of one chiller and of all', () => {
    expect(filterOf('t/k', 'metrics', '')).toBe('t/k/+/metrics');
    expect(filterOf('t/k', 'alarms', 'CH-2')).toBe('t/k/CH-2/alarms/+');
    expect(filterOf('t/k', 'status', 'CH-2')).toBe('t/k/status');
  });
});

describe('settings', () => {
  const good = { url: 'mqtt://127.0.0.1:1', site: 'k', prefix: '' };
  test.each([
    [{ url: 'http://x' }, /broker 'http:/],
    [{ url: 'mqtt://me:secret@x' }, /own fields/],
    [{ site: '' }, /site ''/],
    [{ site: 'a/#' }, /site/],
    [{ prefix: 'a+' }, /prefix/],
  ])('%j is refused, and no password is repeated', (wrong, words) => {
    const found = placeOf({ ...good, ...wrong }, {}, null);
    expect(found.ok ? '' : found.fault.message).toMatch(words);
    expect(found.ok ? '' : found.fault.message).not.toContain('secret');
  });

  test('a listening node without a site, or for a chiller that is no id, says so and stays quiet', () => {
    expect(place(minutesNode, { site: 'gone' }).errors.join()).toContain('no site is chosen');
    const site = { ...place(() => {}, {}).node, place: placeOf(good, {}, null) };
    expect(place(minutesNode, { site: 's', chiller: '#' }, { s: site }).errors.join()).toContain("chiller '#'");
  });
});
