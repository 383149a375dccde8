import http from 'node:http';
import { brotliDecompressSync, gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Served, serve } from './served.ts';

let room: Served;
beforeAll(async () => {
  room = await serve();
});
afterAll(() => room.stop());

interface Raw {
  readonly status: number;
  readonly headers: http.IncomingHttpHeaders;
  readonly body: Buffer;
}

/** As it comes over the wire: nothing unpacked. */
function raw(path: string, headers: Record<string, string> = {}): Promise<Raw> {
  return new Promise((resolve, reject) => {
    http
      .get(room.url + path, { headers }, (response) => {
        const parts: Buffer[] = [];
        response.on('data', (part: Buffer) => parts.push(part));
        response.on('end', () =>
          resolve({ status: response.statusCode ?? 0, headers: response.headers, body: Buffer.concat(parts) }),
        );
      })
      .on('error', reject);
  });
}

const assetsOf = (html: string): string[] => [
  ...new Set([...html.matchAll(/(?:href|src)="(\/page\/[^"]+)"/g)].map((m) => m[1] as string)),
];

describe('the page without JavaScript', () => {
  it('holds every figure of /now as an element with the same value', async () => {
    const html = (await raw('/now/ch-1')).body.toString();
    const now = room.plant.now('CH-1')!;
    const found = [
      ...html.matchAll(
        /data-metric="([^"]+)" data-chiller="CH-1" data-value="([^"]*)" data-unit="([^"]*)" data-quality="([a-z]+)" data-time="([^"]*)"/g,
      ),
    ];
    expect(new Set(found.map((m) => m[1])).size).toBeGreaterThan(45);
    for (const [, name = '', value = '', unit, quality, time] of found) {
      const point = now.points[name];
      const expected = name in now.values ? now.values[name] : point?.value;
      expect(value, name).toBe(expected === null || expected === undefined ? '' : String(expected));
      expect(unit, name).toBe(room.plant.site().catalogue[name]?.unit ?? point?.unit);
      expect(quality, name).toBe(now.quality[name]?.quality ?? point?.quality ?? 'good');
      expect(time).toBe(now.time);
    }
  });
  it('has pictures for wide and narrow windows, refreshes itself, and says what it is', async () => {
    const html = (await raw('/')).body.toString();
    expect(html).toContain('<noscript><meta http-equiv="refresh" content="60"></noscript>');
    expect(html).toMatch(/class="drawn wideone".*data-picture="ph".*class="drawn narrowone".*data-picture="ph"/s);
    expect(html).toContain('Tonhour never writes to a controller and is not a safety function.');
    expect(html).toContain('the plant is emulated');
    expect(html.split('<h1').length - 1).toBe(1);
    expect(html).not.toMatch(/ style="/);
    for (const table of html.split('<table').slice(1)) expect(table).toMatch(/^[^>]*><caption/);
  });
  it('outside the demo does not speak of an emulated plant', async () => {
    room.plant.demo = false;
    expect((await raw('/')).body.toString()).not.toContain('emulated');
    room.plant.demo = true;
  });
  it('takes units and look from the address', async () => {
    const html = (await raw('/?units=si&look=dark')).body.toString();
    expect(html).toContain('data-look="dark"');
    expect(html).toContain('kPa g');
    expect(html).not.toContain('psig');
    expect(html).toContain('href="/now/ch-2?units=si&amp;look=dark"');
  });
  it('lists the alarms', async () => {
    const html = (await raw('/alarms')).body.toString();
    expect(html).toContain('sensor suspect');
    expect(html).toContain('Before opening anything:');
  });
});

describe('what a first load weighs', () => {
  it('is at most 110 kB compressed', async () => {
    const page = await raw('/', { 'accept-encoding': 'br' });
    expect(page.headers['content-encoding']).toBe('br');
    const html = brotliDecompressSync(page.body).toString();
    let sum = page.body.length;
    const at = assetsOf(html)[0]?.replace(/[^/]+$/, '') ?? '';
    const fonts = [400, 600].map((weight) => `${at}sheet-${weight}.woff2`);
    const paths = new Set([...assetsOf(html), ...fonts]);
    for (const path of paths) {
      const one = await raw(path, { 'accept-encoding': 'br' });
      expect(one.status, path).toBe(200);
      sum += one.body.length;
    }
    expect(paths.size).toBeGreaterThan(20);
    expect(sum).toBeLessThanOrEqual(110_000);
  });
});

describe('static parts', () => {
  it('are compressed as the client takes them, and not sent twice', async () => {
    const html = (await raw('/')).body.toString();
    const script = assetsOf(html).find((path) => path.endsWith('/live.js')) ?? '';
    const plain = await raw(script);
    const br = await raw(script, { 'accept-encoding': 'gzip, br' });
    const gz = await raw(script, { 'accept-encoding': 'gzip' });
    expect(plain.headers['content-type']).toBe('text/javascript; charset=utf-8');
    expect(brotliDecompressSync(br.body).equals(plain.body)).toBe(true);
    expect(gunzipSync(gz.body).equals(plain.body)).toBe(true);
    expect(plain.headers['cache-control']).toContain('immutable');
    const again = await raw(script, { 'if-none-match': plain.headers.etag ?? '' });
    expect([again.status, again.body.length]).toEqual([304, 0]);
    const old = await raw(script.replace(/\/page\/[^/]+/, '/page/earlier'));
    expect(old.headers['cache-control']).toBe('no-cache');
  });
  it('come from here alone', async () => {
    const html = (await raw('/')).body.toString();
    expect(html).not.toMatch(/(?:src|href|action)="(?:https?:)?\/\//);
    for (const path of assetsOf(html).filter((one) => one.endsWith('.css'))) {
      expect((await raw(path)).body.toString(), path).not.toMatch(/url\(["']?(?:https?:|\/\/)|@import/);
    }
  });
});
