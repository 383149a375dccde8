/**
 * A few hours of a machine with a fault, as the agent would have kept them: the emulated plant runs headless, each of
 * its minutes goes through the solver and the fold into a real store. What comes of it are alarms raised by themselves.
 */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { must } from '../../../agent/base/result.ts';
import { toSi, type UnitName } from '../../../agent/base/units.ts';
import { Callouts } from '../../../agent/callouts.ts';
import { loadSite } from '../../../agent/config/load.ts';
import { prepare } from '../../../agent/cycle/solve.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import { continued, MINUTE_START, type MinuteOutcome, minute } from '../../../agent/minute.ts';
import type { PointValue, Snapshot } from '../../../agent/points/types.ts';
import type { ChillerSite, Site } from '../../../agent/site/site.ts';
import { toStored } from '../../../agent/stored-minute.ts';

const MAIN = new URL('../../../agent/main.ts', import.meta.url).pathname;
const SITE_FILE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

export interface Story {
  readonly folder: string;
  readonly site: Site;
  readonly history: History;
  readonly callouts: Callouts;
  readonly outcomes: readonly MinuteOutcome[];
  close(): void;
}

interface Told {
  readonly chiller?: 'CH-1' | 'CH-2';
  readonly faults: readonly string[];
  readonly minutes: number;
  /** Site file as it is, or with its alarms changed. */
  readonly change?: (chiller: ChillerSite) => ChillerSite;
}

interface Line {
  readonly time: string;
  readonly points: Record<string, { value: number | null; unit: string; u?: number }>;
}

function snapshotOf({ time, points }: Line): Snapshot {
  const seen = { age_s: 2, spread: null, n: 12 };
  const values = Object.entries(points).map(([name, { value, unit, u = 0 }]): [string, PointValue] => {
    if (value === null) return [name, { ...seen, value: null, u: null, quality: 'bad', reason: 'no value' }];
    // Catalogue units are read straight: a difference has the same factor, and no zero.
    const si = toSi(value, unit as UnitName);
    return [
      name,
      { ...seen, value: si, u: Math.abs(toSi(value + u, unit as UnitName) - si), quality: 'good', reason: null },
    ];
  });
  return { time: Date.parse(time), points: Object.fromEntries(values) };
}

export async function tell({ chiller: id = 'CH-1', faults, minutes, change = (each) => each }: Told): Promise<Story> {
  const folder = mkdtempSync(path.join(tmpdir(), 'tonhour-story-'));
  const file = path.join(folder, 'record.ndjson');
  const wishes = faults.flatMap((fault) => ['--fault', fault]);
  const start = ['--start', '2026-07-14T06:00:00Z', '--hour', '13', '--duration', String(minutes * 60)];
  execFileSync(process.execPath, [MAIN, 'plant', '--chiller', id, ...start, '--record', file, ...wishes], {
    stdio: 'pipe',
  });
  const read = await loadSite(SITE_FILE, { env: {} });
  if (!read.ok) throw new Error(JSON.stringify(read.fault));
  const site: Site = {
    ...read.value,
    chillers: read.value.chillers.map((each) => (each.id === id ? change(each) : each)),
  };
  const chiller = site.chillers.find((each) => each.id === id) as ChillerSite;
  const history = must(openHistory({ folder }));
  const solver = must(prepare(chiller.machine));
  let state = continued(MINUTE_START) ?? MINUTE_START;
  const outcomes: MinuteOutcome[] = [];
  const lines = readFileSync(file, 'utf8').trim().split('\n');
  for (const line of lines) {
    const snapshot = snapshotOf(JSON.parse(line) as Line);
    const input = {
      snapshot,
      solution: solver.solve(snapshot),
      link: { state: 'connected', reason: null } as const,
      columns: () => ({ times: new Float64Array(0), values: new Float64Array(0) }),
      interval_s: 60,
    };
    const outcome = minute(state, input, chiller, `tonhour/${site.id}`);
    state = outcome.state;
    outcomes.push(outcome);
    must(
      history.commitMinute({
        chiller: id,
        sequence: outcome.record.sequence,
        time: snapshot.time,
        state: JSON.stringify(state),
        record: JSON.stringify(toStored(outcome.record)),
        messages: [],
        fast: [],
        alarmEvents: outcome.events.map(({ change: what, report }) => ({
          id: report.id,
          time: snapshot.time,
          state: report.state,
          priority: report.priority,
          detail: JSON.stringify({ change: what, ...report }),
        })),
      }),
    );
  }
  const end = Date.parse(outcomes.at(-1)?.record.time ?? '');
  return {
    folder,
    site,
    history,
    outcomes,
    callouts: new Callouts({ site, version: '0.0.0-test', events: history.events, now: () => end }),
    close: () => {
      history.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
