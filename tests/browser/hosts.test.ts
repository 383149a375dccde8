// Goal: a name of another site that was made to point at the agent ("DNS rebinding") gives its page, in a real browser
// that takes it for one origin, neither figures nor the form; by the agent's address both are there.
import { expect, test } from 'vitest';
import { ok } from '../../agent/base/result.ts';
import { launch, open } from './opened.ts';

test('a page whose name was turned to the agent reads and commands nothing', async () => {
  const browser = await launch(['--host-resolver-rules=MAP elsewhere.example 127.0.0.1']);
  const taken: string[] = [];
  const { url, page, close } = await open(browser, {
    path: '/alarms',
    plant: (plant) => {
      plant.mode = 'alarm';
    },
    command: (verb) => {
      taken.push(verb);
      return ok('stored');
    },
  });
  const form = (): Promise<number> =>
    page.evaluate(async () => {
      const body = new URLSearchParams({ verb: 'acknowledge', by: 'x' });
      return (await fetch('/alarms/CH-1/tank_level_low', { method: 'POST', body })).status;
    });
  try {
    expect(await form()).toBe(200);
    expect(taken).toEqual(['acknowledge']);
    const foreign = `http://elsewhere.example:${new URL(url).port}/alarms`;
    expect((await page.goto(foreign))?.status()).toBe(421);
    expect(await page.evaluate(() => location.origin)).toBe(new URL(foreign).origin);
    expect(await page.evaluate(async () => (await fetch('/api/site')).status)).toBe(421);
    expect(await form()).toBe(421);
    expect(taken).toEqual(['acknowledge']);
  } finally {
    await close();
    await browser.close();
  }
});
