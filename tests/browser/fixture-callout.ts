/** The packet of an alarm that the fixture plant shows, made by the room that makes the real ones. */
import type { AlarmReport } from '../../agent/alarms/evaluate.ts';
import { fail, ok, type Result } from '../../agent/base/result.ts';
import type { CalloutPacket } from '../../agent/callout/packet.ts';
import { makePacket } from '../../agent/callout/packet.ts';
import { catalogue } from '../../agent/metrics/catalogue.ts';
import { joinFigures } from '../../agent/metrics/figures.ts';
import { POINTS } from '../../agent/points/dictionary.ts';
import type { WebData } from '../../agent/web/types.ts';

const TRENDS = ['flash_tank.level', 'tank_valve.position', 'unit.capacity', 'unit.power'];

export function calloutOf(data: WebData, id: string, event: string, time: number): Result<CalloutPacket> {
  const found = data.now(id);
  const { catalogue: _units, chillers, version, demo: _demo, ...site } = data.site();
  const chiller = chillers.find((each) => each.id === id);
  const alarm = data.alarms().find((each) => each.chiller === id && event.split('.')[0] === each.id);
  if (found?.time == null || chiller === undefined || alarm === undefined)
    return fail('callout_unknown', `${id} has raised no alarm '${event}'`);
  const { reconciliation: _judged, ...now } = found;
  const unitOf = (name: string) => catalogue()[name]?.unit ?? POINTS[name]?.unit ?? null;
  return ok(
    makePacket({
      version,
      made: time,
      site,
      chiller: { ...chiller, name: id, refrigerant: 'R134a', refrigerant_label: chiller.refrigerant },
      alarm: alarm as AlarmReport,
      minute: {
        ...now,
        time: found.time,
        sequence: now.sequence ?? 0,
        state_since: now.state_since ?? found.time,
        figures: joinFigures(now),
        standstill: null,
        alarms: data.alarms().filter((each) => each.chiller === id) as AlarmReport[],
      },
      trends: TRENDS.flatMap((name) => {
        const found = data.history(id, name, time - 10_800_000, time, 120);
        if (found === null) return [];
        const buckets = found.points.map(({ time: end, ...rest }) => ({ time: Date.parse(end), ...rest }));
        return [{ name, unit: found.unit, step_s: found.step_s, buckets }];
      }),
      maintenance: [
        { time: '2026-05-04T09:00:00Z', kind: 'tubes_cleaned', text: 'condenser, all passes', mass_kg: null },
      ],
      units: unitOf,
    }),
  );
}
