/** Reports of changes to a subscriber of another stack. */
import { afterEach, describe, expect, test } from 'vitest';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import type { ForeignClient, ObjectId } from './bacnet-client.ts';
import { DEVICE, endAll, idOf, pointOf, readOne, still } from './bacnet-still.ts';

afterEach(endAll);

describe('reports of changes', () => {
  interface Report {
    readonly header: { readonly sender: unknown; readonly expectingReply: boolean };
    readonly service: number;
    readonly invokeId: number;
    readonly payload: {
      readonly subscriberProcessId: number;
      readonly monitoredObjectId: ObjectId;
      readonly values: { property: { id: number }; value: { value: unknown }[] }[];
    };
  }

  function listen(client: ForeignClient, confirmed: boolean): Report[] {
    const reports: Report[] = [];
    client.on(confirmed ? 'covNotify' : 'covNotifyUnconfirmed', (message) => {
      const report = message as Report;
      reports.push(report);
      if (confirmed) client.simpleAckResponse(report.header.sender, 1, report.invokeId);
    });
    return reports;
  }

  test.each([false, true])(
    'confirmed %s: at once, after a change beyond the increment, and no more when ended',
    async (confirmed) => {
      const { plant, table, server, client, to } = await still();
      const point = pointOf('main_compressor.starts');
      const reports = listen(client, confirmed);
      await client.subscribeCov(to, idOf(point), 7, false, confirmed, 60);
      await expect.poll(() => reports.length).toBe(1);
      const { payload } = reports[0]!;
      expect(payload.subscriberProcessId).toBe(7);
      expect(payload.monitoredObjectId).toEqual(idOf(point));
      expect(payload.values[0]!.value[0]!.value).toBe(CH2.history.starts);
      server.tick();
      const sensor = plant.sensors.get(point.name)!;
      sensor.raw = CH2.history.starts + 1;
      table.update(plant.sensors);
      server.tick();
      await expect.poll(() => reports.length).toBe(2);
      expect(reports[1]!.payload.values[0]!.value[0]!.value).toBe(CH2.history.starts + 1);
      sensor.objectFault = { reliability: 1, outOfService: false };
      table.update(plant.sensors);
      server.tick();
      await expect.poll(() => reports.length).toBe(3);
      expect(reports[2]!.payload.values[1]!.value[0]!.value).toMatchObject({ value: [0b10] });
      await client.subscribeCov(to, idOf(point), 7, true, confirmed, 0);
      sensor.raw += 5;
      table.update(plant.sensors);
      server.tick();
      await readOne(client, to, DEVICE, 'OBJECT_NAME');
      expect(reports).toHaveLength(3);
    },
  );

  test('a change within the increment is not reported; more subscribers than there is room for are refused', async () => {
    const { plant, table, server, client, to } = await still();
    const point = pointOf('unit.power');
    const reports = listen(client, false);
    await client.subscribeCov(to, idOf(point), 1, false, false, 60);
    await expect.poll(() => reports.length).toBe(1);
    plant.sensors.get(point.name)!.raw += 0.5 * point.object.covIncrement;
    table.update(plant.sensors);
    server.tick();
    for (const process of [2, 3, 4]) await client.subscribeCov(to, idOf(point), process, false, false, 60);
    await expect(client.subscribeCov(to, idOf(point), 5, false, false, 60)).rejects.toThrow(/Class:3/);
    expect(reports.filter(({ payload }) => payload.subscriberProcessId === 1)).toHaveLength(1);
    await expect(client.subscribeCov(to, { type: 0, instance: 999 }, 6, false, false, 60)).rejects.toThrow(/Class:1/);
  });
});
