/** Some days of a machine in a store: intervals of a quarter of an hour with loads, stops, gaps and missing figures. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { must } from '../../../agent/base/result.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import { type Given, RATED_KW, recordOf } from './helpers.ts';

export const QUARTER = 900_000;

/** What the machine does in the quarter that ends at `time`; null: nothing was recorded. */
export function given(time: number): Given | null {
  const n = Math.round(time / QUARTER);
  if (n % 41 === 0) return null;
  const base = { time, interval_s: 900 };
  if (n % 17 < 4) return { ...base, state: 'standstill', economizer: 'off', power: 1.5, capacity: null };
  if (n % 23 === 0) return { ...base, capacity: null };
  const load = 0.2 + 0.85 * ((n % 29) / 29);
  const capacity = load * RATED_KW;
  const power = 60 + capacity * (0.13 + 0.03 * Math.sin(n));
  const off = n % 13 === 0;
  return {
    ...base,
    capacity,
    power,
    economizer: off ? 'off' : 'on',
    u_power: 0.01 * power + 2,
    u_capacity: 90 + 0.01 * capacity,
    u_ratio: 0.02 + 0.001 * (n % 7),
    doubts: n % 5 === 0 ? ['unit.capacity'] : [],
    more: {
      'main_compressor.lift': 18 + 14 * load,
      'main_compressor.power': off ? power : 0.93 * power,
      'economizer_compressor.power': off ? null : 0.06 * power,
      'economizer.power_saved': off ? null : 0.05 * power,
      'economizer.missed_saving': off ? 0.04 * power : null,
    },
  };
}

export function commit(
  history: History,
  { time, sequence }: { readonly time: number; readonly sequence: number },
): void {
  const what = given(time);
  if (what === null) return;
  const record = recordOf(what);
  must(
    history.commitMinute({
      chiller: 'CH-1',
      sequence,
      time,
      state: '{}',
      record,
      messages: [],
      fast: [],
      alarmEvents: [],
    }),
  );
}

/** Every quarter that ends after `from` and by `to`; gives the sequence number reached. */
export function fill(
  history: History,
  { from, to, sequence = 0 }: { readonly from: number; readonly to: number; readonly sequence?: number },
): number {
  let reached = sequence;
  for (let time = from + QUARTER; time <= to; time += QUARTER) {
    reached += 1;
    commit(history, { time, sequence: reached });
  }
  return reached;
}

export interface Place {
  readonly folder: string;
  readonly history: History;
  /** Site file whose history is that folder. */
  readonly config: string;
  remove(): void;
}

const EXAMPLE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

export function place(edit: (text: string) => string = (text) => text): Place {
  const parent = mkdtempSync(path.join(tmpdir(), 'season-'));
  const folder = path.join(parent, 'history');
  const config = path.join(parent, 'site.yaml');
  writeFileSync(config, edit(readFileSync(EXAMPLE, 'utf8').replace('folder: history', `folder: ${folder}`)));
  const history = must(openHistory({ folder }));
  const remove = (): void => {
    history.close();
    rmSync(parent, { recursive: true, force: true });
  };
  return { folder, history, config, remove };
}
