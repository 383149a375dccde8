/** The season view in a real browser, over the year of the fixture plant: widths, looks, without JavaScript too. */
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SeasonAnswer } from '../../agent/season/plant.ts';
import type { Year } from './fixture-season.ts';
import { launch, type Opened, open } from './opened.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

async function using(
  { year = 'whole', ...how }: NonNullable<Parameters<typeof open>[1]> & { year?: Year },
  look: (opened: Opened) => Promise<void>,
): Promise<void> {
  const opened = await open(browser, {
    path: '/season/both',
    ...how,
    plant: (plant) => {
      plant.year = year;
      // The year is made before a browser waits for it.
      for (const chiller of [null, 'CH-1']) plant.season({ chiller, from: '2025-07-14', to: undefined, step: 'day' });
    },
  });
  try {
    await look(opened);
  } finally {
    await opened.close();
  }
}

const figure = (page: Page, name: string, chiller: string): Promise<string | null> =>
  page.locator(`dl.keys [data-metric="season.${name}"][data-chiller="${chiller}"]`).first().getAttribute('data-value');

describe('opens', () => {
  for (const width of [390, 900, 1280, 1920])
    for (const path of ['/season/both', '/season/ch-1?units=si'])
      it(`at ${width}, ${path}: nothing complains, nothing runs out at the side`, async () => {
        const look = width % 20 === 0 ? 'dark' : 'light';
        await using({ width, path: `${path}${path.includes('?') ? '&' : '?'}look=${look}` }, async (opened) => {
          const { page, foreign, complaints, failed } = opened;
          expect([foreign, failed, complaints]).toEqual([[], [], []]);
          expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(width);
          expect(await page.locator('h1').count()).toBe(1);
          const drawn = page.locator('.year svg:visible');
          expect(await drawn.count()).toBe(1);
          expect((await drawn.innerHTML()).includes('NaN')).toBe(false);
          expect(await page.evaluate(() => document.body.innerText)).not.toMatch(/NaN|undefined|Infinity|\[object/);
        });
      });
});

describe('figures', () => {
  it('are those that /api/season answers', async () => {
    await using({}, async ({ page, url }) => {
      const season = (await (await fetch(`${url}/api/season?from=2025-07-14`)).json()) as SeasonAnswer;
      expect(Number(await figure(page, 'kw_per_ton', 'both'))).toBe(season.plant?.kw_per_ton);
      expect(Number(await figure(page, 'cost', 'both'))).toBe(season.plant?.against?.cost);
      expect(Number(await figure(page, 'deviation', 'both'))).toBe(season.plant?.against?.deviation);
      expect(await page.locator('.verdict').innerText()).toMatch(
        /% more than clean machines would have used .* worth EUR/,
      );
      const months = page.locator('.under .months').first();
      expect(await months.locator('tbody tr').count()).toBe(season.plant?.months.length);
    });
  });
  it('one machine: bins, part load, baseline, priced work, the log, and what it may be downloaded as', async () => {
    await using({ path: '/season/ch-1' }, async ({ page, url }) => {
      const text = await page.locator('main').innerText();
      expect(text).toContain('field value, not a certified rating');
      expect(text).toContain('without pumps and tower');
      expect(text).toMatch(/CH-1 tubes cleaned 12 May 2026: avoided since/);
      expect(text).toMatch(/bi-quadratic CV 1\.\d\d %, NMBE [−\d.]+ %/);
      expect(await page.locator('.bins td.out').count()).toBeGreaterThan(2);
      const link = await page.locator('.links a', { hasText: 'days, CSV' }).getAttribute('href');
      const csv = await fetch(url + link);
      expect(csv.headers.get('content-type')).toMatch(/^text\/csv/);
      const lines = (await csv.text()).trimEnd().split('\r\n');
      expect(lines.length).toBe(1 + 366);
      expect(new Set(lines.map((line) => line.split(',').length)).size).toBe(1);
    });
  });
  it('units change in place', async () => {
    await using({}, async ({ page }) => {
      await page.locator('label', { hasText: 'SI' }).click();
      await page.locator('dl.keys', { hasText: 'Cooling per power' }).waitFor();
      expect(await page.locator('.year svg').innerHTML()).toContain('cooling per power, COP');
    });
  });
});

describe('says how little it knows', () => {
  it('five hours old: how many hours so far', async () => {
    await using({ year: 'young' }, async ({ page }) => {
      expect(await page.locator('.verdict').innerText()).toMatch(
        /^10 hours so far: .*CH-1: 0 of at least 48 steady hours/,
      );
      expect(await page.locator('.year svg').innerHTML()).toContain('dots: hours');
    });
  });
  it('without baseline and tariff: what to write into the site file', async () => {
    await using({ year: 'bare', path: '/season/ch-2' }, async ({ page }) => {
      const text = await page.locator('main').innerText();
      expect(text).toMatch(/not declared: give the days of a clean machine as baseline in the site file/);
      expect(text).toContain('no tariff in the site file');
      expect(text).not.toContain('EUR');
    });
  });
  it('a period that is none is told in words', async () => {
    await using({ path: '/season/both?from=2027-01-01&to=2027-02-01' }, async ({ page }) => {
      expect(await page.locator('.verdict').innerText()).toMatch(/A season is not answered: nothing lies between/);
    });
  });
});

describe('without JavaScript', () => {
  for (const width of [390, 1280])
    it(`at ${width}: the same page, one chart, links and the form`, async () => {
      await using({ width, live: false, options: { javaScriptEnabled: false } }, async ({ page, complaints }) => {
        expect(await page.locator('.year svg:visible').count()).toBe(1);
        await page.locator('.lead a', { hasText: 'CH-1' }).click();
        await page.waitForURL(/\/season\/ch-1\?units=ip$/);
        await page.locator('input[name=from]').fill('2026-06-01');
        await page.locator('input[name=to]').fill('2026-06-30');
        await page.locator('button', { hasText: 'Show' }).click();
        await page.waitForURL(/from=2026-06-01&to=2026-06-30/);
        expect(await page.locator('h1').innerText()).toBe('1 Jun 2026 to 30 Jun 2026');
        expect(complaints).toEqual([]);
      });
    });
});
