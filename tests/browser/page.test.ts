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

describe('a new minute', () => {
  it('replaces text and moves neither focus nor scroll nor selection nor elements', async () => {
    await using({}, async ({ page, plant }) => {
      await page.locator('svg[data-picture="ph"]').focus();
      await page.keyboard.press('ArrowRight');
      await page.evaluate(() => {
        window.scrollTo(0, 300);
        const caption = document.querySelector('table.g2 caption');
        if (caption !== null) getSelection()?.selectAllChildren(caption);
        for (const one of document.querySelectorAll('[data-metric]'))
          one.setAttribute('class', `${one.getAttribute('class') ?? ''}`);
        (window as unknown as { kept: Element | null }).kept = document.querySelector(
          'dl.keys [data-metric="unit.capacity"]',
        );
      });
      const read = await page.locator('#read').innerText();
      plant.shift = 500;
      plant.minute();
      await page.locator('dl.keys [data-metric="unit.capacity"] .v', { hasText: '1,328' }).waitFor();
      const after = await page.evaluate(() => ({
        focus: document.activeElement?.getAttribute('data-picture'),
        scroll: window.scrollY,
        selection: getSelection()?.toString(),
        same:
          (window as unknown as { kept: Element | null }).kept ===
          document.querySelector('dl.keys [data-metric="unit.capacity"]'),
        time: document.querySelector<HTMLElement>('dl.keys [data-metric="unit.capacity"]')?.dataset['time'],
      }));
      expect(after).toEqual({
        focus: 'ph',
        scroll: 300,
        selection: 'Economizer and flash',
        same: true,
        time: '2026-07-14T08:43:00.000Z',
      });
      expect(await page.locator('#read').innerText()).toBe(read);
    });
  });
  it('lost controller: last known values in brackets, the other chiller goes on', async () => {
    await using({}, async ({ page, plant }) => {
      plant.mode = 'lost';
      plant.minute();
      await page.locator('.notice', { hasText: 'Controller CH-1 is silent' }).waitFor();
      const key = page.locator('dl.keys [data-metric="unit.capacity"]');
      expect(await key.getAttribute('data-last')).toBe('');
      expect(await key.getAttribute('data-value')).toBe('4170.988');
      expect(await key.locator('.u').count()).toBe(0);
      expect(
        await page
          .locator('tr', { has: page.locator('#row-CH-2') })
          .locator('[data-last]')
          .count(),
      ).toBe(0);
      plant.mode = 'normal';
      plant.minute();
      await page.locator('.notice').waitFor({ state: 'detached' });
      expect(await key.getAttribute('data-last')).toBeNull();
    });
  });
  it('the first one ends the waiting', async () => {
    await using(
      {
        plant: (plant) => {
          plant.mode = 'loading';
        },
      },
      async ({ page, plant }) => {
        expect(await page.locator('.notice').innerText()).toContain('Waiting for the first solved minute');
        expect(await page.locator('.stamp').textContent()).toBe('no minute solved yet');
        plant.mode = 'normal';
        plant.minute();
        await page.locator('.num[data-state="4"]').first().waitFor();
        expect(await page.locator('.notice').count()).toBe(0);
      },
    );
  });
});

describe('when the agent falls silent', () => {
  it('the page says so after 75 s, and takes the brackets away when it is back', async () => {
    await using({}, async ({ page, plant }) => {
      await page.clock.runFor(50_000);
      expect(await page.locator('.notice').count()).toBe(0);
      expect(await page.locator('#age').innerText()).toBe('minute 10:42, 73 s old');
      await page.clock.runFor(4_000);
      await page.locator('.notice', { hasText: 'This page has lost the agent' }).waitFor();
      expect(await page.locator('#rule').getAttribute('aria-label')).toContain('no minute from the agent since 10:42');
      expect(await page.locator('dl.keys [data-last]').count()).toBe(5);
      expect(await page.locator('dl.keys .u').count()).toBe(0);
      plant.minute();
      await page.locator('.notice').waitFor({ state: 'detached' });
      expect(await page.locator('dl.keys [data-last]').count()).toBe(0);
    });
  });
  it('the same when its process is gone', async () => {
    await using({}, async ({ page, silence }) => {
      await silence();
      await page.clock.runFor(660_000);
      await page.locator('.notice', { hasText: 'Last minute received 10:42, 11 minutes ago' }).waitFor();
      expect(await page.locator('.stamp').first().textContent()).toBe('last known 10:42, 11 min old');
    });
  });
});

describe('by keyboard', () => {
  it('left and right walk the states in either picture, in both at once', async () => {
    await using({}, async ({ page }) => {
      for (const picture of ['steel', 'ph']) {
        await page.locator(`svg[data-picture="${picture}"]`).focus();
        for (const [key, state, words] of [
          ['Home', '1', 'main compressor suction'],
          ['ArrowRight', '2', 'main compressor discharge'],
          ['End', '8', 'economizer compressor discharge'],
          ['ArrowRight', '1', 'main compressor suction'],
          ['ArrowLeft', '8', 'economizer compressor discharge'],
        ] as const) {
          await page.keyboard.press(key);
          expect(await page.locator('#read').innerText()).toMatch(new RegExp(`^${state} ${words}: `));
          expect(await page.locator(`.num.lit[data-state="${state}"]`).count()).toBe(2);
          expect(await page.locator('.num.lit').count()).toBe(2);
        }
      }
    });
  });
  it('tab order: skip link, name and views, units, look, chillers, schematic, diagram', async () => {
    await using({}, async ({ page }) => {
      const seen: string[] = [];
      for (let i = 0; i < 10; i++) {
        await page.keyboard.press('Tab');
        seen.push(
          await page.evaluate(() => {
            const on = document.activeElement;
            return on?.id || on?.getAttribute('data-picture') || on?.textContent || '';
          }),
        );
      }
      expect(seen).toEqual([
        'To the figures',
        'Tonhour',
        'Now',
        'Alarms 1 open',
        'units-ip',
        'look-auto',
        'row-CH-1',
        'row-CH-2',
        'steel',
        'ph',
      ]);
    });
  });
  it('pointing at a leg lights it in both pictures and says what it carries', async () => {
    await using({}, async ({ page }) => {
      await page.locator('svg[data-picture="steel"] .machine[data-leg="economizer compressor"]').hover();
      expect(await page.locator('#read').innerText()).toBe('economizer compressor takes 34.0 ±0.7 kW');
      expect(await page.locator('svg[data-picture="ph"] .leg.lit[data-leg="economizer compressor"]').count()).toBe(1);
    });
  });
});

describe('choices', () => {
  it('the address wins over the stored choice, which wins over the site', async () => {
    await using({}, async ({ page, url }) => {
      const keys = (): Promise<string> => page.locator('dl.keys').innerText();
      expect(await keys()).toContain('Power per ton');
      await page.locator('label', { hasText: 'SI' }).click();
      expect(await keys()).toContain('Cooling per power');
      expect(new URL(page.url()).searchParams.get('units')).toBe('si');
      await page.goto(`${url}/`);
      await page.waitForSelector('html[data-live]');
      expect(await keys()).toContain('Cooling per power');
      await page.goto(`${url}/?units=ip`);
      await page.waitForSelector('html[data-live]');
      expect(await keys()).toContain('Power per ton');
    });
  });
  it('look: auto follows the system, a choice stays before the first paint', async () => {
    await using({ options: { colorScheme: 'dark' } }, async ({ page, url }) => {
      const ground = (): Promise<string> => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
      expect(await ground()).toBe('rgb(18, 23, 26)');
      await page.locator('label', { hasText: 'light' }).click();
      expect(await ground()).toBe('rgb(228, 231, 227)');
      await page.goto(`${url}/alarms`);
      expect(await page.evaluate(() => document.documentElement.dataset['look'])).toBe('light');
    });
  });
});
