/** The callout packet in a real browser: on a phone and on paper, asking nobody for anything. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { launch, type Opened, open } from './opened.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

async function packet(width: number): Promise<Opened> {
  const opened = await open(browser, {
    path: '/callout/ch-1/tank_level_low?units=ip',
    width,
    live: false,
    plant: (plant) => {
      plant.mode = 'alarm';
    },
  });
  onTestFinished(() => opened.close());
  return opened;
}

describe('callout packet', () => {
  test.each([390, 768, 1280])(
    '%i px: no sideways scrolling, nothing asked for, the typeface is inside',
    async (width) => {
      const { page, foreign, complaints, failed } = await packet(width);
      const wide = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
      expect(wide[0]).toBeLessThanOrEqual(wide[1] ?? 0);
      expect(await page.evaluate(() => [...document.fonts].filter(({ status }) => status === 'loaded').length)).toBe(2);
      expect([...foreign, ...complaints, ...failed]).toEqual([]);
      const drawn = await page.evaluate(
        () =>
          [...document.querySelectorAll('.plate svg')].filter((svg) => svg.getBoundingClientRect().width > 0).length,
      );
      expect(drawn).toBe(1);
      for (const heading of ['Before any work', 'First on site', 'Likely causes, most likely first', 'Maintenance log'])
        expect(await page.getByRole('heading', { name: heading }).count()).toBe(1);
    },
  );

  test.each([
    ['A4', '595'],
    ['Letter', '612'],
  ])('prints on %s, few pages, in black on white', async (format, points) => {
    const { page } = await packet(1280);
    const folder = mkdtempSync(join(tmpdir(), 'tonhour-paper-'));
    onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
    const file = join(folder, 'packet.pdf');
    await page.pdf({ path: file, format, preferCSSPageSize: false });
    const text = readFileSync(file, 'latin1');
    const pages = text.match(/\/Type \/Page\b/g)?.length ?? 0;
    expect(pages).toBeGreaterThanOrEqual(2);
    expect(pages).toBeLessThanOrEqual(8);
    expect(text).toMatch(new RegExp(`/MediaBox \\[0 0 ${points}`));
  });
});
