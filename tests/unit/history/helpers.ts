/** Minutes, folders and stores for the tests of the history room. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { onTestFinished } from 'vitest';
import type { Message } from '../../../agent/base/delivery.ts';
import { must } from '../../../agent/base/result.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import type { HistoryOptions, MinuteCommit } from '../../../agent/history/types.ts';

export const START = Date.UTC(2026, 6, 1);

export function temporaryFolder(): string {
  const folder = mkdtempSync(path.join(tmpdir(), 'tonhour-history-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

export function open(options: Partial<HistoryOptions> = {}): History {
  const history = must(openHistory({ folder: options.folder ?? temporaryFolder(), now: () => START, ...options }));
  onTestFinished(() => history.close());
  return history;
}

export function message(sequence: number | null, given: Partial<Message> = {}): Message {
  const chiller = given.chiller ?? 'CH-1';
  return {
    sink: 'mqtt',
    address: `tonhour/kestrel-quay/${chiller}/metrics`,
    payload: JSON.stringify({ sequence }),
    retain: false,
    chiller,
    sequence,
    ...given,
  };
}

/** The minute of a sequence number: one metric that is the number, time one minute later each. */
export function minute(sequence: number, given: Partial<MinuteCommit> = {}): MinuteCommit {
  const chiller = given.chiller ?? 'CH-1';
  const time = START + sequence * 60_000;
  return {
    chiller,
    sequence,
    time,
    state: JSON.stringify({ count: sequence }),
    record: JSON.stringify({ sequence, values: { 'unit.power': sequence } }),
    messages: [message(sequence, { chiller })],
    fast: [],
    alarmEvents: [],
    ...given,
  };
}
