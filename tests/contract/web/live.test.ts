import http from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';
import { LiveStream } from '../../../agent/web/live-stream.ts';
import type { Now, PlantFigure } from '../../../agent/web/types.ts';
import { listen, type Served, serve } from './served.ts';

let room: Served;
beforeEach(async () => {
  room = await serve();
});
afterEach(() => room.stop());

describe('the live stream', () => {
  it('brings the newest minutes at once, then each completed one, in order, and the plant after them', async () => {
    const stream = await listen(room.url);
    const first = await stream.events(3);
    expect(first.map((e) => e.event)).toEqual(['minute', 'minute', 'plant']);
    expect(JSON.parse(first[0]?.data ?? '')).toEqual(JSON.parse(JSON.stringify(room.plant.now('CH-1'))));
    expect(JSON.parse(first[2]?.data ?? '')).toEqual(JSON.parse(JSON.stringify(room.plant.plant())));
    room.plant.minute();
    await stream.events(6);
    room.plant.minute();
    const all = await stream.events(9);
    expect(all.map((e) => e.event)).toEqual([
      'minute',
      'minute',
      'plant',
      'minute',
      'minute',
      'plant',
      'minute',
      'minute',
      'plant',
    ]);
    const sequences = all
      .filter((e) => e.event === 'minute')
      .map((e) => JSON.parse(e.data) as Now)
      .filter((now) => now.chiller === 'CH-1')
      .map((now) => now.sequence);
    expect(sequences).toEqual([184_203, 184_204, 184_205]);
    expect(all[3]?.id).toBe('CH-1 184204');
    expect((JSON.parse(all[8]?.data ?? '') as PlantFigure).time).toBe('2026-07-14T08:44:00.000Z');
    stream.close();
  });
  it('takes at most so many listeners, and a place that is left is free again', async () => {
    const streams = await Promise.all(Array.from({ length: LIMITS.live_listeners_max }, () => listen(room.url)));
    const refused = await fetch(`${room.url}/api/live`);
    expect(refused.status).toBe(503);
    expect(((await refused.json()) as { error: { code: string } }).error.code).toBe('web_busy');
    streams[0]?.close();
    await streams[0]?.ended;
    // the place is free once the far end has seen the close: ask until it is, each answer a round trip
    let status = 503;
    let late: Response | null = null;
    while (status === 503) {
      late = await fetch(`${room.url}/api/live`);
      status = late.status;
      if (status === 503) await late.text();
    }
    expect(status).toBe(200);
    await late?.body?.cancel();
    for (const stream of streams) stream.close();
  });
  it('ends when the room stops, and the room follows nobody then', async () => {
    const stream = await listen(room.url);
    await stream.events(2);
    expect(room.plant.followers).toBe(1);
    await room.stop();
    await stream.ended;
    expect(room.plant.followers).toBe(0);
    await expect(fetch(room.url)).rejects.toThrow();
  });
});

describe('a listener that never reads', () => {
  it('is let go once a bound of bytes waits for it, and the others still hear', async () => {
    const live = new LiveStream();
    const server = http.createServer((request, response) => live.add(request, response, {}, []));
    await new Promise<void>((resolve) => {
      server.listen(0, '127.0.0.1', resolve);
    });
    const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
    const deaf = await new Promise<http.IncomingMessage>((resolve, reject) => {
      http.get(url, resolve).on('error', reject);
    });
    deaf.pause();
    deaf.on('error', () => undefined);
    const stream = await listen(url);
    expect(live.listeners).toBe(2);
    const now = room.plant.now('CH-1')!;
    let sent = 0;
    while (live.dropped === 0 && sent < 20_000) {
      for (let i = 0; i < 20; i++) live.send(now);
      sent += 20;
      await stream.events(sent);
    }
    expect(live.dropped).toBe(1);
    expect(live.listeners).toBe(1);
    live.send(now);
    expect(await stream.events(sent + 1)).toHaveLength(sent + 1);
    live.close();
    await stream.ended;
    deaf.destroy();
    server.close();
  });
});
