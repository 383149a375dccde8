/** Goal: what a packet says follows from its figures, fits its bound, and goes where it should. */
import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import type { Figure } from '../../../agent/base/metric.ts';
import { type AlarmNotice, eventName, noticeMessage, noticeOf, priorityOf } from '../../../agent/callout/notice.ts';
import { makePacket, packetMessage } from '../../../agent/callout/packet.ts';
import { sureOf } from '../../../agent/callout/sure.ts';
import { good, input, trend } from './input.ts';
import { notice } from './notices.ts';

describe('how sure', () => {
  // By hand: (4.6 - 4)/(0.8/2) = 1.5 standard uncertainties, inside k = 2; 5.0 gives 2.5, outside (GUM).
  test.each([
    [4.6, 1.5, 'within measuring error'],
    [5.0, 2.5, 'beyond measuring error'],
    [3.8, -0.5, 'within measuring error'],
  ])('4 K, found %f K with U 0.8 K: %f', (value, distance, verdict) => {
    expect(sureOf({ value, limit: 4, unit: 'K', side: 'above' }, good(value, 0.8))).toMatchObject({
      distance,
      verdict,
    });
  });

  test('below a limit the sign turns; without uncertainty nothing is claimed', () => {
    expect(sureOf({ value: 3, limit: 4, unit: 'K', side: 'below' }, good(3, 0.8)).distance).toBe(2.5);
    expect(sureOf({ value: 3, limit: 4, unit: 'K', side: 'below' }, good(3)).verdict).toBe('no uncertainty known');
    expect(sureOf({ value: null, limit: null, unit: null, side: 'above' }, null).verdict).toBe('no limit');
  });
});

describe('causes', () => {
  const causesOf = (figures: Record<string, Figure>, trends: ReturnType<typeof trend>[]) =>
    makePacket(input({ trends }, figures)).causes;

  // Air adds its pressure and leaves the liquid as it is (Dalton): apparent subcooling rises, the liquid does not warm.
  test('air: subcooling rose, the liquid did not warm', () => {
    const [first] = causesOf({ 'condenser.subcooling': good(6), 'condenser.liquid_temperature': good(32) }, [
      trend('condenser.subcooling', 4, 6),
      trend('condenser.liquid_temperature', 32, 32),
    ]);
    expect(first).toMatchObject({ fault: 'non_condensables', says: 'for' });
  });

  // Dirt lifts condensing and liquid temperature together.
  test('dirt: the liquid warmed with the pressure', () => {
    const [first] = causesOf({ 'condenser.subcooling': good(4.2), 'condenser.liquid_temperature': good(34) }, [
      trend('condenser.subcooling', 4, 4.2),
      trend('condenser.liquid_temperature', 32, 34),
    ]);
    expect(first).toMatchObject({ fault: 'fouled_condenser_tubes', says: 'for' });
  });

  test('the same figures without a past leave the order of the trade, a sensor first', () => {
    const found = causesOf({ 'condenser.subcooling': good(6) }, []);
    expect(found[0]?.fault).toBe('sensor_drift');
    expect(found.every(({ says }) => says === 'open')).toBe(true);
  });

  test('a doubtful sensor of the condenser speaks up; one of the evaporator says nothing to it', () => {
    const bad = { value: null, uncertainty: null, quality: 'bad', reason: 'frozen', unit: 'kPa', age_s: 4 } as const;
    const of = (point: string) =>
      makePacket({ ...input(), minute: { ...input().minute, points: { [point]: bad } } }).causes[0];
    expect(of('condenser.pressure')).toMatchObject({
      fault: 'sensor_drift',
      says: 'for',
      signs: [{ name: 'condenser.pressure', seen: 'bad: frozen' }],
    });
    expect(of('oil.sump_temperature')?.says).toBe('open');
  });

  test('a sensor stands second at the latest', () => {
    const trends = [trend('condenser.subcooling', 4, 6), trend('main_compressor.discharge_superheat', 9, 5)];
    const figures = { 'condenser.subcooling': good(6), 'main_compressor.discharge_superheat': good(5) };
    expect(causesOf(figures, trends).findIndex(({ fault }) => fault === 'sensor_drift')).toBeLessThanOrEqual(1);
  });

  test('first checks: the site’s own word, then those of what the figures speak for', () => {
    const packet = makePacket(
      input({ trends: [trend('condenser.subcooling', 4, 6)] }, { 'condenser.subcooling': good(6) }),
    );
    expect(packet.first_checks[0]).toBe('Look at water flow first.');
    expect(packet.first_checks[1]).toMatch(/^At the next stop/);
    expect(packet.cautions.map(({ id }) => id)).toContain('refrigerant');
  });
});

describe('bound', () => {
  test('what does not fit is left out from the end, and named', () => {
    const text = 'x'.repeat(LIMITS.maintenance_text_max);
    const maintenance = Array.from({ length: 500 }, () => ({
      time: '2026-01-01T00:00:00Z',
      kind: 'other',
      text,
      mass_kg: null,
    }));
    const points = Object.fromEntries(
      Array.from({ length: 900 }, (_, i) => [
        `condenser.extra_${i}`,
        { value: 1, uncertainty: null, quality: 'uncertain', reason: 'y'.repeat(60), unit: 'K', age_s: 1 } as const,
      ]),
    );
    const minute = { ...input().minute, points };
    const packet = makePacket(input({ minute, maintenance, trends: [trend('condenser.approach', 3, 5)] }));
    expect(JSON.stringify(packet).length).toBeLessThanOrEqual(LIMITS.callout_bytes_max);
    expect(packet.left_out).toEqual(['trend of condenser.approach', 'maintenance log']);
    expect(packet.first_checks.length).toBeGreaterThan(0);
  });

  test('an ordinary one has all of it', () => {
    const packet = makePacket(input({ trends: [trend('condenser.approach', 3, 5)] }));
    expect(packet.left_out).toEqual([]);
    expect(packet.trends[0]?.points).toHaveLength(30);
    expect(packet.trends[0]).toMatchObject({ name: 'condenser.approach', step_s: 120 });
  });
});

describe('messages', () => {
  test('the packet goes to the topic of its chiller, numbered by its minute, not retained', () => {
    const message = packetMessage(makePacket(input()), 'tonhour/kestrel-quay');
    expect(message).toMatchObject({
      sink: 'mqtt',
      address: 'tonhour/kestrel-quay/CH-1/callout',
      retain: false,
      sequence: 159,
    });
    expect(JSON.parse(message.payload).event).toBe('condenser-approach.159');
  });

  test('people are written to when an alarm begins or ends, and not about what they shelved', () => {
    const { change: _change, sequence: _sequence, time: _time, ...report } = notice(7);
    const at = { sequence: 7, time: '2026-07-14T08:00:00Z' };
    const told = (change: string, state: string) =>
      noticeOf({ change, report: { ...report, state } } as never, at)?.change ?? null;
    expect(told('raised', 'unacknowledged')).toBe('raised');
    expect(told('cleared', 'normal')).toBe('cleared');
    expect(told('unshelved', 'unacknowledged')).toBe('raised');
    for (const [change, state] of [
      ['raised', 'shelved'],
      ['cleared', 'shelved'],
      ['acknowledged', 'acknowledged'],
      ['shelved', 'shelved'],
      ['updated', 'unacknowledged'],
      ['unshelved', 'normal'],
      ['removed', 'out of service'],
    ] as const)
      expect([change, state, told(change, state)]).toEqual([change, state, null]);
  });

  test('its address says the priority, also of the gap record that may take its place', () => {
    const message = noticeMessage({ ...notice(7), priority: 2 } as AlarmNotice);
    expect(message).toMatchObject({ sink: 'mail', chiller: 'CH-1', sequence: 7 });
    expect(priorityOf(message.address)).toBe(2);
    expect(priorityOf('elsewhere')).toBe(1);
    expect(eventName(notice(7))).toBe('condenser-approach.7');
  });
});
