/** A browser (Debian's chromium, or `CHROMIUM`) that looks at the page served over the fixture plant. */
import { type Browser, type BrowserContext, type BrowserContextOptions, chromium, type Page } from 'playwright-core';
import type { TakeCommand } from '../../agent/web/command-routes.ts';
import { webServer } from '../../agent/web/server.ts';
import { Fixture } from './fixture.ts';

const FLAGS = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export function launch(flags: readonly string[] = []): Promise<Browser> {
  const executablePath = process.env['CHROMIUM'] ?? '/usr/bin/chromium';
  return chromium.launch({ executablePath, args: [...FLAGS, ...flags] });
}

export interface Opened {
  readonly page: Page;
  readonly context: BrowserContext;
  readonly plant: Fixture;
  readonly url: string;
  /** Requests that left this machine, console errors and warnings, uncaught errors. */
  readonly foreign: string[];
  readonly complaints: string[];
  /** Requests that came to nothing (a browser without JavaScript gives its module preloads up). */
  readonly failed: string[];
  /** Stops the agent's side alone. */
  silence(): Promise<void>;
  close(): Promise<void>;
}

export interface How {
  readonly path?: string;
  readonly width?: number;
  readonly options?: BrowserContextOptions;
  readonly plant?: (plant: Fixture) => void;
  /** Takes commands to alarms; left out: the page only reads. */
  readonly command?: TakeCommand;
  /** Wait for the modules (default); false where there is no JavaScript. */
  readonly live?: boolean;
}

/** Opens the page with the browser's clock begun at 23 s after the newest minute; it goes on until a test stops it. */
export async function open(browser: Browser, how: How = {}): Promise<Opened> {
  const { path = '/', width = 1280, options = {}, live = true } = how;
  const plant = new Fixture();
  how.plant?.(plant);
  const log = { info: () => undefined, warn: () => undefined, error: () => undefined };
  const command = how.command === undefined ? {} : { command: how.command };
  const server = webServer({ data: plant, port: 0, log, clock: () => plant.time + 23_000, ...command });
  const { url } = await server.start();
  const context = await browser.newContext({ viewport: { width, height: 900 }, ...options });
  const page = await context.newPage();
  page.setDefaultTimeout(15_000);
  const foreign: string[] = [];
  const complaints: string[] = [];
  const failed: string[] = [];
  page.on('request', (request) => {
    if (!request.url().startsWith(url)) foreign.push(request.url());
  });
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') complaints.push(message.text());
  });
  page.on('pageerror', (error) => complaints.push(error.message));
  page.on('requestfailed', (request) => failed.push(request.url()));
  await page.clock.install({ time: plant.time + 23_000 });
  await page.goto(url + path);
  if (live) await page.waitForSelector('html[data-live]');
  await page.evaluate(() => document.fonts.ready.then(() => undefined));
  return {
    page,
    context,
    plant,
    url,
    foreign,
    complaints,
    failed,
    silence: () => server.stop(),
    close: async () => {
      await context.close();
      await server.stop();
    },
  };
}
