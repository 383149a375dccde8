/** Goal: the page asks nobody for anything, carries no text unescaped, is small, and mails say the same in words. */
import { describe, expect, test } from 'vitest';
import type { AlarmReport } from '../../../agent/alarms/evaluate.ts';
import { must } from '../../../agent/base/result.ts';
import { makePacket } from '../../../agent/callout/packet.ts';
import { diagram } from '../../../agent/cycle/diagram.ts';
import { refrigerant } from '../../../agent/refrigerant/refrigerants.ts';
import { readSheet } from '../../../agent/web/assets.ts';
import { calloutDocument, calloutStyle } from '../../../agent/web/callout-document.ts';
import { alarmMail, type MailSite } from '../../../agent/web/callout-mail.ts';
import { digestMail, digestTable } from '../../../agent/web/digest-mail.ts';
import { good, input, trend } from './input.ts';
import { notice } from './notices.ts';

const STYLE = calloutStyle(readSheet);
const PICTURE = diagram(must(refrigerant('R134a')), [240e3, 1320e3]);
const SITE: MailSite = {
  id: 'kestrel-quay',
  name: 'Kestrel Quay',
  reader: { system: 'ip', time_zone: 'Europe/Lisbon', barometer_kpa: 101.3 },
  page: 'https://chillers.quay.example',
};
const EVIL = '<script>alert(1)</script>"\'&<img src=x onerror=y>';

function page(given = input(), system: 'ip' | 'si' = 'ip'): string {
  return calloutDocument(makePacket(given), { style: STYLE, diagram: PICTURE, system });
}

describe('the page', () => {
  test('asks nobody: no address but those of its own data, and a policy that allows no other', () => {
    const html = page(input({ trends: [trend('condenser.approach', 3, 5)] }));
    expect(
      [...html.matchAll(/(?:src|href|url)\s*[=(]\s*["']?([^"')\s>]+)/g)].map(([, at]) => at?.slice(0, 16)),
    ).toEqual(['data:font/woff2;', 'data:font/woff2;']);
    expect(html).not.toMatch(/https?:|<script|<link|<iframe|@import/);
    expect(html).toContain('default-src &#39;none&#39;');
  });

  test('every text that others wrote is escaped', () => {
    const base = input();
    const alarm: AlarmReport = {
      ...base.alarm,
      title: EVIL,
      cause: EVIL,
      consequence: EVIL,
      action: EVIL,
      metric: null,
      limit: null,
      evidence: [{ name: EVIL, found: EVIL, expected: EVIL }],
    };
    const bad = { value: 1, uncertainty: null, quality: 'bad', reason: EVIL, unit: EVIL, age_s: 9000 } as const;
    const html = page({
      ...base,
      alarm,
      version: EVIL,
      site: { ...base.site, name: EVIL },
      chiller: { ...base.chiller, id: EVIL, name: EVIL, refrigerant_label: EVIL, arrangement: EVIL },
      minute: {
        ...base.minute,
        points: { [EVIL]: bad, 'condenser.pressure': bad },
        state: EVIL,
        alarms: [{ ...alarm, id: 'other' }],
      },
      maintenance: [{ time: EVIL, kind: EVIL, text: EVIL, mass_kg: 3 }],
    });
    expect(html).toContain('&lt;script&gt;alert(1)');
    expect(html).not.toMatch(/<script|<img|onerror=y>/);
  });

  test('says what, how sure, causes, checks and cautions in the units of the reader', () => {
    const given = input({ trends: [trend('condenser.subcooling', 4, 6)] }, { 'condenser.subcooling': good(6) });
    const html = page(given);
    // 4.6 K and 4 K as Fahrenheit differences: x 1.8.
    expect(html).toContain('condenser approach 8.3 ±1.5 °F, above its limit of 7.2 °F');
    expect(page(given, 'si')).toContain('condenser approach 4.6 ±0.8 K, above its limit of 4.0 K');
    for (const words of [
      'Before any work',
      'First on site',
      'Air or other gas in the condenser',
      'Maintenance log',
      'Found and done',
      'ASHRAE 15',
    ])
      expect(html).toContain(words);
    expect(html).toContain('10.8 °F, was 7.2 °F');
  });

  test('is small: a quarter of a megabyte at most', () => {
    const trends = ['condenser.approach', 'condenser.subcooling', 'unit.power'].map((name) => trend(name, 1, 2));
    expect(page(input({ trends })).length).toBeLessThan(256 * 1024);
  });
});

describe('mails', () => {
  const packet = makePacket(input());

  test('of one alarm: subject with priority, machine and site; the packet in words; its name for whoever gets it twice', () => {
    const { subject, text, html } = alarmMail(notice(159), SITE, { packet, attached: true });
    expect(subject).toBe('[3] CH-1 Condenser approach high, Kestrel Quay');
    for (const words of [
      '8.3 ±1.5 °F',
      'First on site',
      'Likely causes',
      'Before any work',
      'Local codes',
      'Event CH-1/condenser-approach.159, raised.',
      'https://chillers.quay.example/callout/ch-1/condenser-approach.159',
    ])
      expect(text.replace(/\n\s*/g, ' ')).toContain(words);
    expect(html).toContain('<li>');
    expect(Math.max(...text.split('\n').map((line) => line.length))).toBeLessThanOrEqual(120);
  });

  test('that it is over: no causes, no packet', () => {
    const { subject, text } = alarmMail({ ...notice(170), change: 'cleared', state: 'normal' }, SITE, {
      packet: null,
      attached: true,
    });
    expect(subject).toBe('Over: CH-1 Condenser approach high, Kestrel Quay');
    expect(text).not.toContain('Likely causes');
    expect(text).not.toContain('Attached');
  });

  test('a title cannot end a header, nor its HTML', () => {
    const { subject, html } = alarmMail({ ...notice(1), title: `a\r\nBcc: x@y\r\n${EVIL}` }, SITE, {
      packet: null,
      attached: false,
    });
    expect(subject).not.toMatch(/[\r\n]/);
    expect(html).not.toContain('<script>');
  });

  test('of a flood: most urgent first by name, counted, and what was lost by number', () => {
    const notices = Array.from({ length: 500 }, (_, i) => notice(i + 1, { priority: i === 250 ? 1 : 3 }));
    const lost = [{ chiller: 'CH-1', priority: 2, from_sequence: 3, to_sequence: 9, count: 5 } as const];
    const { subject, text } = digestMail(notices, lost, SITE, true);
    expect(subject).toContain('500 alarm messages, first: CH-1 Condenser approach high');
    expect(text).toContain('500 raised, 0 over. CH-1: 500');
    expect(text).toMatch(/1\. \[1\]/);
    expect(text).toContain('and 460 more.');
    expect(text).toContain('CH-1, priority 2: 5, of minutes 3 to 9');
  });

  test('the table has a row for each, quoted by RFC 4180, and no formula for a spreadsheet', () => {
    const table = digestTable([notice(1), notice(2, { title: '=HYPERLINK("x"), "y"', value: null })]);
    const lines = table.split('\r\n');
    expect(lines[0]).toBe('time,chiller,event,change,priority,title,metric,value,limit,unit');
    expect(lines[1]).toBe(
      '2026-07-01T00:01:00.000Z,CH-1,condenser-approach.1,raised,3,Condenser approach high,condenser.approach,4.6,4,K',
    );
    expect(lines[2]).toContain(`"'=HYPERLINK(""x""), ""y""",condenser.approach,,4,K`);
    expect(lines).toHaveLength(4);
  });
});
