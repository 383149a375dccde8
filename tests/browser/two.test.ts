/** The page of a plant of two chillers: one with an economizer compressor, one of two stages. */
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Now, PlantFigure } from '../../agent/web/types.ts';
import type { SecondMode } from './fixture-figures.ts';
import { launch, type Opened, open } from './opened.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

async function using(how: Parameters<typeof open>[1], look: (opened: Opened) => Promise<void>): Promise<void> {
  const opened = await open(browser, { path: '/now/ch-2', ...how });
  try {
    await look(opened);
  } finally {
    await opened.close();
  }
}

const of = (second: SecondMode) => ({
  plant: (plant: Opened['plant']): void => {
    plant.second = second;
  },
});

/** Texts of a picture that stand on one another: a fifth of the line box is no letter and may overlap. */
function touching(page: Page, picture: string): Promise<string[]> {
  return page.evaluate((name) => {
    const texts = [...document.querySelectorAll<SVGTextElement>(`svg[data-picture="${name}"] text`)].map((t) => ({
      t: t.textContent,
      b: t.getBBox(),
    }));
    const out: string[] = [];
    for (const [i, a] of texts.entries())
      for (const c of texts.slice(i + 1)) {
        const w = Math.min(a.b.x + a.b.width, c.b.x + c.b.width) - Math.max(a.b.x, c.b.x);
        const h = Math.min(a.b.y + a.b.height, c.b.y + c.b.height) - Math.max(a.b.y, c.b.y);
        if (w > 1 && h > 0.3 * Math.min(a.b.height, c.b.height)) out.push(`${a.t} / ${c.t}`);
      }
    return out;
  }, picture);
}

describe('the machine of two stages', () => {
  const cases: readonly (readonly [number, readonly SecondMode[]])[] = [
    [390, ['normal', 'standstill']],
    [1280, ['normal', 'off', 'standstill', 'starting']],
    [1920, ['normal', 'off']],
  ];
  for (const [width, modes] of cases)
    for (const second of modes)
      it(`${second} at ${width}: no two texts touch, nothing runs out at the side, nothing complains`, async () => {
        await using({ width, ...of(second) }, async ({ page, complaints, foreign }) => {
          expect([complaints, foreign]).toEqual([[], []]);
          expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(width);
          for (const picture of ['steel', 'ph']) expect(await touching(page, picture), picture).toEqual([]);
          const out = await page.evaluate(() =>
            [...document.querySelectorAll('.sheet table, .glance, dl.keys')].flatMap((one) => {
              const box = one.getBoundingClientRect();
              return box.right > document.documentElement.clientWidth ? [one.className] : [];
            }),
          );
          expect(out).toEqual([]);
        });
      });
  it('carries what /api/chillers/CH-2/now and /api/site/now answer', async () => {
    await using({}, async ({ page, url }) => {
      const shown = (chiller: string): Promise<{ [name: string]: string | undefined }[]> =>
        page.evaluate(
          (id) =>
            [...document.querySelectorAll<HTMLElement>(`[data-metric][data-chiller="${id}"]`)].map((one) => ({
              ...one.dataset,
            })),
          chiller,
        );
      const now = (await (await fetch(`${url}/api/chillers/ch-2/now`)).json()) as Now;
      const figures = await shown('CH-2');
      expect(figures.length).toBeGreaterThan(60);
      for (const { metric = '', value } of figures) {
        const expected = metric in now.values ? now.values[metric] : now.points[metric]?.value;
        expect(value, metric).toBe(String(expected ?? ''));
      }
      const plant = (await (await fetch(`${url}/api/site/now`)).json()) as PlantFigure;
      const totals = await shown('plant');
      expect(totals.map(({ metric }) => metric)).toEqual([
        'unit.capacity',
        'unit.power',
        'unit.kw_per_ton',
        'economizer.power_saved',
      ]);
      for (const { metric = '', value, time } of totals)
        expect([value, time], metric).toEqual([String(plant.values[metric]), plant.time]);
    });
  });
  it('left and right walk round the circuit', async () => {
    await using({}, async ({ page }) => {
      await page.locator('svg[data-picture="steel"]').focus();
      const seen: string[] = [];
      await page.keyboard.press('Home');
      for (let i = 0; i < 10; i++) {
        seen.push((await page.locator('#read').innerText()).split(' ')[0] ?? '');
        expect(await page.locator('.num.lit').count()).toBe(2);
        await page.keyboard.press('ArrowRight');
      }
      expect(seen).toEqual(['1', '2', '9', '10', '3', '4', '5', '6', '7', '1']);
    });
  });
  it('at 1920 by 1080 all of either machine but the last hour stands without scrolling', async () => {
    for (const path of ['/now/ch-1', '/now/ch-2'])
      await using({ path, width: 1920 }, async ({ page }) => {
        const bottom = await page.evaluate(
          () => document.querySelector('.sheet')?.getBoundingClientRect().bottom ?? Number.POSITIVE_INFINITY,
        );
        expect(bottom, path).toBeLessThanOrEqual(1080);
      });
  });
});

describe('from one chiller to the other', () => {
  it('by keyboard: tab to its row, enter', async () => {
    await using({ path: '/now/ch-1' }, async ({ page }) => {
      await page.locator('#row-CH-1').focus();
      await page.keyboard.press('Tab');
      await page.keyboard.press('Enter');
      await page.waitForURL(/\/now\/ch-2\?units=ip$/);
      await page.waitForSelector('html[data-live]');
      expect(await page.locator('h1').innerText()).toBe('CH-2');
      expect(await page.locator('[aria-current="true"]').innerText()).toBe('CH-2');
    });
  });
  it('whatever the case of its name, and without JavaScript', async () => {
    for (const path of ['/now/CH-2', '/now/ch-2'])
      await using({ path, live: false, options: { javaScriptEnabled: false } }, async ({ page, complaints }) => {
        expect(await page.locator('h1').innerText()).toBe('CH-2');
        expect(await page.locator('tr.plant [data-metric="unit.capacity"]').innerText()).toBe('1,798 ±23 tons');
        await page.locator('#row-CH-1').click();
        await page.waitForURL(/\/now\/ch-1\?units=ip$/);
        expect(await page.locator('h1').innerText()).toBe('CH-1');
        expect(complaints).toEqual([]);
      });
  });
});

describe('one controller lost', () => {
  it('leaves the page of the other as it is, and the plant without a sum until it is back', async () => {
    await using({ path: '/now/ch-1' }, async ({ page, plant }) => {
      const key = page.locator('dl.keys [data-metric="unit.capacity"]');
      const total = page.locator('tr.plant [data-metric="unit.capacity"]');
      expect(await total.innerText()).toBe('1,798 ±23 tons');
      plant.second = 'lost';
      plant.shift = 500;
      plant.minute();
      await page.locator('dl.keys [data-metric="unit.capacity"] .v', { hasText: '1,328' }).waitFor();
      await page.locator('tr.plant', { hasText: 'CH-2 missing' }).waitFor();
      expect(await page.locator('.notice').count()).toBe(0);
      expect(await key.getAttribute('data-last')).toBeNull();
      expect(await page.locator('.picture .last').count()).toBe(0);
      expect(await total.getAttribute('data-value')).toBe('');
      const row = page.locator('tr', { has: page.locator('#row-CH-2') });
      expect(await row.locator('.state').innerText()).toBe('not known');
      expect(await row.locator('[data-last]').count()).toBeGreaterThan(3);
      expect(await row.locator('.al').innerText()).toContain('controller silent');
      expect(await page.locator('nav').innerText()).toContain('Alarms 2');
      plant.second = 'normal';
      plant.minute();
      await page.locator('tr.plant [data-metric="unit.capacity"] .v', { hasText: '1,940' }).waitFor();
      expect(await row.locator('[data-last]').count()).toBe(0);
    });
  });
  it('its own page shows what was last known, of a machine that stood still too', async () => {
    await using(of('standstill'), async ({ page, plant }) => {
      expect(await page.locator('dl.keys .still').count()).toBe(5);
      plant.second = 'lost';
      plant.minute();
      await page.locator('.notice', { hasText: 'Controller CH-2 is silent' }).waitFor();
      expect(await page.locator('svg[data-picture="steel"]').textContent()).toContain('[4.1]');
      expect(await page.locator('.stamp').first().textContent()).toContain('last known 10:42');
    });
  });
  it('that never answered: nothing is called last known', async () => {
    await using(of('lost'), async ({ page }) => {
      expect(await page.locator('.notice').innerText()).toContain('Controller CH-2 has not answered yet');
      expect(await page.locator('.stamp').textContent()).toBe('no answer yet');
      expect(await page.locator('section.one').innerText()).not.toMatch(/last known|last answer|\[/i);
      expect(await page.locator('.blank').count()).toBe(0);
    });
  });
});
