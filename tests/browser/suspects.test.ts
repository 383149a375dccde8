// Goal: the notice of sensors that contradict each other comes with the minute that accuses them, its module fetched
// then and not before; a page opened later has it at once.
import { expect, test } from 'vitest';
import { launch, open } from './opened.ts';

const FOUND = {
  chi_square: null,
  corrections: {},
  suspects: [['chilled_water.flow', 'condenser_water.flow']],
  since: '2026-07-14T08:12:00Z',
  off: { 'chilled_water.flow': { value: 75.7, uncertainty: 30, unit: 'kg/s' } },
};

test('it comes with the minute that accuses them', async () => {
  const browser = await launch();
  const { page, plant, url, complaints, close } = await open(browser);
  const fetched: string[] = [];
  page.on('request', (request) => fetched.push(new URL(request.url()).pathname));
  const notice = page.getByText('Sensors contradict each other');
  try {
    expect(await notice.count()).toBe(0);
    const healthy = plant.now.bind(plant);
    plant.now = (id) => {
      const now = healthy(id);
      return now === null ? null : { ...now, reconciliation: FOUND };
    };
    plant.minute();
    await notice.waitFor();
    expect(await page.locator('.notice').innerText()).toContain('chilled water flow 10,000 ± 4,000 lb/min');
    expect(fetched.filter((path) => path.endsWith('/suspects.js'))).toHaveLength(1);
    await page.goto(url);
    await page.waitForSelector('html[data-live]');
    expect(await notice.count()).toBe(1);
    expect(complaints).toEqual([]);
  } finally {
    await close();
    await browser.close();
  }
});
