/**
 * Goal: the season of a running agent's own records. Method: a real plant, a real agent with intervals of a second; the
 * store is read beside it, and the same rows are summed straight from SQLite.
 */
import path from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { afterEach, expect, test } from 'vitest';
import { must } from '../../../agent/base/result.ts';
import { FILE_NAME } from '../../../agent/history/open.ts';
import { HistoryReader } from '../../../agent/history/reader.ts';
import { season } from '../../../agent/season/season.ts';
import { daysOf, zoneOffsets } from '../../../agent/season/zone.ts';
import { KW_PER_TON } from '../../unit/season/helpers.ts';
import { agentFor, siteFor, startPlant, temporaryFolder } from '../agent/harness.ts';

const endings: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

interface Found {
  readonly n: number;
  readonly kws: number;
  readonly capacity: number;
  readonly first: number;
  readonly last: number;
}

test('read beside the agent: the same as SQL over its rows', async () => {
  const plant = await startPlant();
  endings.push(() => plant.stop());
  const { folder, remove } = temporaryFolder();
  endings.push(remove);
  const agent = agentFor(await siteFor({ modbusPort: plant.port, mqttUrl: null, folder }));
  const { url } = await agent.start();
  endings.push(() => agent.stop());

  const database = new DatabaseSync(path.join(folder, FILE_NAME), { readOnly: true });
  endings.push(() => database.close());
  // Used is a minute that knows both: the first may have read the water but not yet the meter.
  const sql = database.prepare(`
    SELECT count(*) AS n, min(time) AS first, max(time) AS last,
      sum((record ->> '$.values."unit.power"') * (record ->> '$.interval_s')) AS kws,
      sum((record ->> '$.values."unit.capacity"') * (record ->> '$.interval_s')) AS capacity
    FROM minute WHERE chiller = 'CH-1' AND record ->> '$.values."unit.capacity"' IS NOT NULL
      AND record ->> '$.values."unit.power"' IS NOT NULL`);
  // Each event of the live stream is a minute that is stored.
  const response = await fetch(`${url}/api/live`);
  let found = sql.get() as unknown as Found;
  for await (const _ of response.body as ReadableStream<Uint8Array>) {
    found = sql.get() as unknown as Found;
    if (found.n >= 5) break;
  }
  const span = { from: found.first - 1, to: found.last };
  const reader = must(HistoryReader.open(folder));
  endings.push(() => reader.close());
  const days = daysOf(span, zoneOffsets('Europe/Lisbon'));
  const sums = must(reader.seasonSums({ chiller: 'CH-1', spans: days }));
  const figure = season({ chiller: 'CH-1', time_zone: 'Europe/Lisbon', tariff: null, ...span, days, sums });
  expect(figure.kwh).toBeCloseTo(found.kws / 3600, 9);
  expect(figure.ton_hours).toBeCloseTo(found.capacity / 3600 / KW_PER_TON, 9);
  expect(figure.kw_per_ton).toBeCloseTo((found.kws / found.capacity) * KW_PER_TON, 9);
  expect(figure.uncertainty.kw_per_ton).toBeGreaterThan(0);
  expect(figure.economizer.minutes_on).toBeGreaterThan(0);
  expect(figure.economizer.saved.kwh).toBeGreaterThan(0);
  expect(figure.compressors.main_compressor.kwh).toBeGreaterThan(figure.compressors.economizer_compressor.kwh ?? 0);
});
