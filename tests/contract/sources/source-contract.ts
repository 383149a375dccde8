/**
 * What every `Source` must do, whatever bus it reads: one suite, run against a real device server for each bus. A rig
 * brings the device and a way to build a source that reads all of the rig's points from it.
 */
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { PointName } from '../../../agent/points/dictionary.ts';
import type { RawSample, SampleSink, Source } from '../../../agent/points/types.ts';
import type { FakeTime } from '../../unit/sources/fake-time.ts';

export interface SourceRig {
  readonly time: FakeTime;
  /** Every mapped point that the device serves, with the raw value it holds now. */
  values(): ReadonlyMap<PointName, number>;
  /** A mapped point that the device holds as 'not a number'. */
  readonly notANumber: PointName;
  /** A mapped point whose address the device refuses. */
  readonly refused: PointName;
  /** A mapped fast point and an ordinary one, both settable. */
  readonly fast: PointName;
  readonly ordinary: PointName;
  set(point: PointName, raw: number): void;
  build(): Source;
  /** The device is gone: its connections with it. */
  kill(): Promise<void>;
  revive(): Promise<void>;
  /** Requests that would have changed the device. */
  writes(): number;
  close(): Promise<void>;
}

/** Keeps every sample, newest last. */
export class Keeper implements SampleSink {
  readonly samples: RawSample[] = [];

  record(sample: RawSample): void {
    this.samples.push(sample);
  }

  last(point: PointName): RawSample | undefined {
    return this.samples.findLast((sample) => sample.point === point);
  }

  of(point: PointName): RawSample[] {
    return this.samples.filter((sample) => sample.point === point);
  }
}

/**
 * Lets fake time pass in small steps, each with time for real I/O, until a condition holds; the runner's own limit ends
 * it if that never comes.
 */
export async function drive(time: FakeTime, condition: () => boolean): Promise<void> {
  while (!condition()) {
    await sleep(1);
    time.advance(10);
  }
}

export function sourceContract(bus: string, prepare: () => Promise<SourceRig>): void {
  describe(`a source on ${bus}`, () => {
    let rig: SourceRig;
    let source: Source;
    let sink: Keeper;

    beforeEach(async () => {
      rig = await prepare();
      source = rig.build();
      sink = new Keeper();
    });
    afterEach(async () => {
      await source.stop();
      expect(rig.writes()).toBe(0);
      expect(rig.time.waiting).toBe(0);
      await rig.close();
    });

    const everyValue = (): boolean =>
      [...rig.values().keys()].every((point) => typeof sink.last(point)?.raw === 'number');
    const connected = (): boolean => source.status().state === 'connected';

    test('is stopped before it is started, and stop is free', async () => {
      expect(source.status()).toMatchObject({ state: 'stopped', reason: 'not started' });
      await source.stop();
      expect(rig.time.waiting).toBe(0);
    });

    test('delivers what the device holds, raw, of every point it serves', async () => {
      await source.start(sink);
      await drive(rig.time, everyValue);
      for (const [point, raw] of rig.values()) expect([point, sink.last(point)]).toMatchObject([point, { point, raw }]);
      expect(source.status()).toMatchObject({ state: 'connected', reason: null });
    });

    test('stamps samples with the wall clock, also when it is set back', async () => {
      await source.start(sink);
      await drive(rig.time, everyValue);
      const { time } = sink.last(rig.ordinary)!;
      expect(time).toBeGreaterThanOrEqual(Date.UTC(2026, 0, 1));
      expect(time).toBeLessThanOrEqual(rig.time.now());
      rig.time.stepWallClock(-86_400_000);
      const before = sink.of(rig.fast).length;
      await drive(rig.time, () => sink.of(rig.fast).length >= before + 3);
      expect(sink.last(rig.fast)!.time).toBeLessThan(time);
    });

    test('follows changes, and fast points more often than ordinary ones', async () => {
      await source.start(sink);
      await drive(rig.time, everyValue);
      for (const [point, raw] of [
        [rig.fast, 21],
        [rig.ordinary, 22],
        [rig.fast, 23],
      ] as const) {
        rig.set(point, raw);
        await drive(rig.time, () => sink.last(point)!.raw === raw);
      }
      await drive(rig.time, () => sink.of(rig.ordinary).length >= 6);
      expect(sink.of(rig.fast).length).toBeGreaterThan(sink.of(rig.ordinary).length);
    });

    test('says why there is no value: not a number, refused by the device; the others are read', async () => {
      await source.start(sink);
      await drive(
        rig.time,
        () => everyValue() && sink.last(rig.refused) !== undefined && sink.last(rig.notANumber) !== undefined,
      );
      expect(sink.last(rig.notANumber)).toMatchObject({ raw: null, reason: 'not a number' });
      expect(sink.last(rig.refused)).toMatchObject({ raw: null, reason: expect.stringMatching(/\S/) });
      expect(sink.of(rig.refused).every((sample) => sample.raw === null)).toBe(true);
      expect(connected()).toBe(true);
    });

    test('every sample has a finite value or null with a reason', async () => {
      await source.start(sink);
      await drive(rig.time, () => sink.of(rig.ordinary).length >= 3);
      await rig.kill();
      await drive(rig.time, () => source.status().state === 'lost');
      for (const sample of sink.samples) {
        if (sample.raw === null) expect(sample.reason).toMatch(/\S/);
        else expect([Number.isFinite(sample.raw), sample.reason]).toEqual([true, undefined]);
      }
    });

    test('starts without a device, says so, and reads it when it comes', async () => {
      await rig.kill();
      await source.start(sink);
      await drive(rig.time, () => source.status().state === 'lost');
      expect(source.status().reason).toMatch(/\S/);
      expect(sink.samples.every((sample) => sample.raw === null)).toBe(true);
      await rig.revive();
      await drive(rig.time, () => connected() && everyValue());
    });

    test('loses the device: says since when and why, delivers nothing old as new, and comes back by itself', async () => {
      await source.start(sink);
      await drive(rig.time, everyValue);
      const up = source.status();
      await rig.kill();
      rig.time.advance(1);
      await drive(rig.time, () => source.status().state === 'lost');
      const lost = source.status();
      expect(lost.since).toBeGreaterThan(up.since);
      expect(lost.reason).toMatch(/\S/);
      const from = sink.samples.length;
      await drive(rig.time, () => sink.samples.length > from + 20);
      expect(sink.samples.slice(from).filter((sample) => sample.raw !== null)).toEqual([]);
      expect(source.status().since).toBe(lost.since);
      rig.set(rig.ordinary, 77);
      await rig.revive();
      await drive(rig.time, () => connected() && sink.last(rig.ordinary)!.raw === 77);
      expect(source.status()).toMatchObject({ state: 'connected', reason: null });
    });

    test('delivers nothing after stop, can be stopped twice and started again', async () => {
      await source.start(sink);
      await drive(rig.time, everyValue);
      await Promise.all([source.stop(), source.stop()]);
      expect(source.status().state).toBe('stopped');
      const count = sink.samples.length;
      for (let i = 0; i < 50; i += 1) await drive(rig.time, () => true);
      rig.time.advance(60_000);
      await sleep(20);
      expect(sink.samples.length).toBe(count);
      const again = new Keeper();
      await source.start(again);
      await drive(rig.time, () =>
        [...rig.values().keys()].every((point) => typeof again.last(point)?.raw === 'number'),
      );
      expect(sink.samples.length).toBe(count);
    });

    test('stop settles at any moment of a poll, with the device there or gone', async () => {
      for (let turns = 0; turns < 12; turns += 1) {
        const one = rig.build();
        await one.start(sink);
        for (let i = 0; i < turns; i += 1) await new Promise((resolve) => setImmediate(resolve));
        if (turns === 6) await rig.kill();
        await one.stop();
        expect(one.status().state).toBe('stopped');
      }
    });

    test('counts in whole numbers that never fall', async () => {
      const seen: Readonly<Record<string, number>>[] = [];
      await source.start(sink);
      await drive(rig.time, everyValue);
      seen.push(source.status().counters);
      await rig.kill();
      await drive(rig.time, () => source.status().state === 'lost');
      seen.push(source.status().counters);
      await rig.revive();
      await drive(rig.time, connected);
      seen.push(source.status().counters);
      for (const counters of seen)
        for (const count of Object.values(counters)) expect(Number.isInteger(count)).toBe(true);
      for (const name of Object.keys(seen[0]!)) {
        expect(seen[1]![name]).toBeGreaterThanOrEqual(seen[0]![name]!);
        expect(seen[2]![name]).toBeGreaterThanOrEqual(seen[1]![name]!);
      }
      expect(seen[2]!['replies']).toBeGreaterThan(seen[0]!['replies']!);
      expect(seen[2]!['reconnects']).toBeGreaterThan(seen[0]!['reconnects']!);
    });
  });
}
