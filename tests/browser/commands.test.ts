// Goal: a person acknowledges and shelves from the page in a real browser, with scripts and without, and a minute that
// comes while the name is typed takes nothing away.
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { fail, ok, type Result } from '../../agent/base/result.ts';
import { launch, open } from './opened.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

async function opened(javaScriptEnabled: boolean, answer: Result<unknown> = ok('stored')) {
  const taken: { verb: string; payload: Record<string, string> }[] = [];
  const command = (verb: string, payload: string): Result<unknown> => {
    taken.push({ verb, payload: JSON.parse(payload) as Record<string, string> });
    return answer;
  };
  const page = await open(browser, {
    path: '/alarms?units=si&look=dark',
    live: javaScriptEnabled,
    options: { javaScriptEnabled },
    plant: (plant) => {
      plant.mode = 'alarm';
    },
    command,
  });
  return { ...page, taken };
}

test.each([true, false])('scripts %s: acknowledge', async (scripts) => {
  const { page, plant, taken, complaints, close } = await opened(scripts);
  try {
    await page.getByLabel('your name').fill('duty engineer');
    if (scripts) {
      plant.minute();
      await expect.poll(() => page.locator('.clock').innerText()).toContain('10:43');
      expect(await page.getByLabel('your name').inputValue()).toBe('duty engineer');
    }
    await page.getByRole('button', { name: 'Acknowledge' }).click();
    await page.getByText('Written down').waitFor();
    expect(new URL(page.url()).search).toBe('?units=si&look=dark&sent=acknowledge');
    expect(taken.map(({ verb, payload }) => [verb, payload['by'], payload['alarm']])).toEqual([
      ['acknowledge', 'duty engineer', 'tank_level_low'],
    ]);
    expect(complaints).toEqual([]);
  } finally {
    await close();
  }
});

test('a shelf without a reason is refused, and the page says why', async () => {
  const { page, taken, close } = await opened(true, fail('alarm_command', 'shelve: reason: say why it is shelved'));
  try {
    await page.getByLabel('your name').fill('duty engineer');
    await page.getByLabel('shelve for').selectOption('24');
    await page.getByRole('button', { name: 'Shelve' }).click();
    await page.getByText('say why it is shelved').waitFor();
    expect(taken[0]?.verb).toBe('shelve');
  } finally {
    await close();
  }
});
