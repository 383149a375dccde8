import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { width as widthOf } from '../../agent/web/page/widths.js';
import type { Now } from '../../agent/web/types.ts';
import { launch, type Opened, open } from './opened.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

async function using(how: Parameters<typeof open>[1], look: (opened: Opened) => Promise<void>): Promise<void> {
  const opened = await open(browser, how);
  try {
    await look(opened);
  } finally {
    await opened.close();
  }
}

describe('the page opens', () => {
  for (const width of [390, 660, 900, 1280, 1920, 2560])
    for (const path of ['/', '/now/ch-2', '/alarms'])
      it(`at ${width}, ${path}: from here alone, nothing complains, nothing runs out at the side`, async () => {
        await using(
          { width, path: `${path}?look=${width % 20 === 0 ? 'dark' : 'light'}` },
          async ({ page, foreign, complaints, failed }) => {
            expect([foreign, failed]).toEqual([[], []]);
            expect(complaints).toEqual([]);
            expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(width);
          },
        );
      });
  it('the font is ours', async () => {
    await using({}, async ({ page }) => {
      expect(
        await page.evaluate(() => document.fonts.check('400 14px Sheet') && document.fonts.check('600 14px Sheet')),
      ).toBe(true);
      expect(await page.evaluate(() => [...document.fonts].filter((font) => font.status === 'loaded').length)).toBe(2);
    });
  });
  it('targets are at least 24 px, on a phone and on a desk', async () => {
    for (const width of [390, 1280])
      await using({ width }, async ({ page }) => {
        const small = await page.evaluate(() =>
          [...document.querySelectorAll('main a, header a, fieldset label')].flatMap((one) => {
            const box = one.getBoundingClientRect();
            return box.height < 24 || box.width < 24 ? [`${one.textContent} ${box.width}x${box.height}`] : [];
          }),
        );
        expect(small).toEqual([]);
      });
  });
});

describe('without JavaScript', () => {
  for (const width of [390, 1280])
    it(`at ${width}: figures, pictures, links`, async () => {
      await using({ width, live: false, options: { javaScriptEnabled: false } }, async ({ page, complaints }) => {
        await page.locator('[data-metric="unit.capacity"]').first().waitFor();
        const drawn = page.locator('svg[data-picture="ph"]:visible');
        expect(await drawn.count()).toBe(1);
        expect(await drawn.locator('[data-state="4"]').count()).toBe(1);
        await page.locator('#row-CH-2').click();
        await page.waitForURL(/\/now\/ch-2\?units=ip$/);
        await page.locator('label', { hasText: 'SI' }).click();
        await page.locator('button', { hasText: 'Apply' }).click();
        await page.waitForURL(/units=si/);
        expect(await page.locator('dl.keys').innerText()).toContain('Cooling per power');
        expect(complaints).toEqual([]);
      });
    });
});

describe('figures', () => {
  it('carry what /api/chillers/CH-1/now answers', async () => {
    await using({}, async ({ page, url }) => {
      const now = (await (await fetch(`${url}/api/chillers/CH-1/now`)).json()) as Now;
      const shown = await page.evaluate(() =>
        [...document.querySelectorAll('[data-metric][data-chiller="CH-1"]')].map((one) => ({
          ...(one as HTMLElement).dataset,
        })),
      );
      expect(shown.length).toBeGreaterThan(60);
      for (const figure of shown) {
        const name = figure['metric'] ?? '';
        const value = name in now.values ? now.values[name] : now.points[name]?.value;
        expect(figure['value'], name).toBe(value === null || value === undefined ? '' : String(value));
        expect(figure['time']).toBe(now.time);
      }
    });
  });
  it('text stands where the agent thought: the table of widths is that of the font', async () => {
    await using({}, async ({ page }) => {
      const words = [
        'economizer compressor',
        '116.7 ±0.5 psig',
        'flashes 10.4 ±0.2 %',
        'last known 10:42',
        'Btu/lb',
        '1,186',
        '−4.5 °C',
      ];
      const measured = await page.evaluate((list) => {
        const out: number[][] = [];
        for (const weight of ['400', '600'])
          out.push(
            list.map((text) => {
              const span = document.createElement('span');
              Object.assign(span.style, {
                font: `${weight} 100px Sheet`,
                position: 'absolute',
                whiteSpace: 'pre',
                fontVariantNumeric: 'tabular-nums lining-nums',
              });
              span.textContent = text;
              document.body.append(span);
              const { width } = span.getBoundingClientRect();
              span.remove();
              return width;
            }),
          );
        return out;
      }, words);
      for (const [i, word] of words.entries())
        for (const bold of [0, 1])
          expect(widthOf(word, 100, bold === 1) / (measured[bold]?.[i] ?? 0), word).toBeCloseTo(1, 1);
    });
  });
  for (const width of [390, 1280, 1920])
    it(`no two texts of the diagram touch at ${width}`, async () => {
      await using({ width }, async ({ page }) => {
        const hits = await page.evaluate(() => {
          const texts = [...document.querySelectorAll<SVGTextElement>('svg[data-picture="ph"] text')].map((t) => ({
            t: t.textContent,
            b: t.getBBox(),
          }));
          const out: string[] = [];
          for (const [i, a] of texts.entries())
            for (const c of texts.slice(i + 1)) {
              const w = Math.min(a.b.x + a.b.width, c.b.x + c.b.width) - Math.max(a.b.x, c.b.x);
              // the line box is taller than the letters: a fifth of it may overlap
              const h = Math.min(a.b.y + a.b.height, c.b.y + c.b.height) - Math.max(a.b.y, c.b.y);
              if (w > 1 && h > 0.3 * Math.min(a.b.height, c.b.height)) out.push(`${a.t} / ${c.t}`);
            }
          return out;
        });
        expect(hits).toEqual([]);
      });
    });
});
