import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
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
      // Until here the browser's clock went on by itself; the page counts from the agent's.
      await page.clock.pauseAt(plant.time + 73_000);
      expect(await page.locator('.notice').count()).toBe(0);
      const age = Number(/^minute 10:42, (\d+) s old$/.exec(await page.locator('#age').innerText())?.[1]);
      expect(age).toBeGreaterThan(50);
      expect(age).toBeLessThan(75);
      await page.clock.runFor((77 - age) * 1000);
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
      for (let i = 0; i < 11; i++) {
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
        'Season',
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
