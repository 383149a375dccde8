/**
 * Goal: `season` tells what the machine took against its declared baseline, what work was worth, and how much is still
 * missing. Method: hours of an independent machine in a real store.
 */
import { PassThrough, Readable } from 'node:stream';
import { describe, expect, onTestFinished, test } from 'vitest';
import type { Command } from '../../../agent/commands/io.ts';
import { command as log } from '../../../agent/commands/log.ts';
import { command as season } from '../../../agent/commands/season.ts';
import type { ChillerSeason } from '../../../agent/season/answer.ts';
import { filled } from '../../unit/season/filled.ts';
import type { Story } from '../../unit/season/year.ts';

async function run(command: Command, ...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const [out, err] = [new PassThrough(), new PassThrough()];
  const code = await command.run(args, { in: Readable.from([]), out, err, stop: new AbortController().signal });
  return { code, out: String(out.read() ?? ''), err: String(err.read() ?? '') };
}

describe('season against a baseline', () => {
  const story: Story = {
    from: Date.UTC(2025, 7, 31, 23),
    to: Date.UTC(2025, 10, 1),
    factor: (_, time) => (time > Date.UTC(2025, 9, 2) ? 1.03 : 1),
  };
  const declared = { from: '2025-09-01', to: '2025-09-30' };
  const PERIOD = ['--from', '2025-10-10', '--to', '2025-10-24'];

  test('deviation, cost and the test of the fit, as JSON and as text; work is priced beside its entry', async () => {
    const other = filled(story, declared);
    onTestFinished(() => other.remove());
    const done = [
      '--chiller',
      'CH-1',
      '--kind',
      'tubes_cleaned',
      '--text',
      'brushed',
      '--time',
      '2025-10-20T09:00:00Z',
    ];
    expect((await run(log, '--config', other.config, ...done)).code).toBe(0);
    const found = JSON.parse(
      (await run(season, '--config', other.config, '--chiller', 'CH-1', '--json', ...PERIOD)).out,
    ) as ChillerSeason;
    expect(found.baseline?.fits.map(({ mode, model }) => [mode, model !== null])).toEqual([['on', true]]);
    expect(found.against?.deviation).toBeGreaterThan(0.005);
    expect(found.against?.cost).toBeCloseTo(0.14 * (found.against?.kwh_more ?? 0), 9);
    const { out } = await run(season, '--config', other.config, '--chiller', 'CH-1', ...PERIOD);
    expect(out).toMatch(/Against the clean machine .*: \d\.\d+ ± 0\.\d+ %, [\d ]+ ± [\d ]+ kWh, [\d ]+ ± [\d ]+ EUR/);
    expect(out).toMatch(/Baseline, economizer on: .* on \d+ steady hours, CV \d\.\d\d %, NMBE -?0\.\d\d %/);
    expect(out).toMatch(
      /tubes_cleaned: brushed\n +[23]\.\d+ % against the declared machine before, [23]\.\d+ % since; avoided since: -?\d+ ± \d+ kWh/,
    );
    expect(out).toMatch(/Since tubes_cleaned of 2025-10-20T09:00:00Z: level 1\.0\d+ ± 0\.00\d+ of the declared one/);
  });

  test('too few hours: how many there are', async () => {
    const other = filled({ ...story, to: Date.UTC(2025, 8, 2) }, declared);
    onTestFinished(() => other.remove());
    const { out } = await run(
      season,
      '--config',
      other.config,
      '--chiller',
      'CH-1',
      '--from',
      '2025-09-01',
      '--to',
      '2025-09-02',
    );
    expect(out).toMatch(/Baseline: none\. Economizer on: 2\d of at least 48 steady hours so far\./);
  });
});
