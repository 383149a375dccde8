/**
 * What a child prints, as lines, so slowly that a flood of it costs the agent nothing: past a budget of bytes its pipe
 * is not read until the next second, and it waits; past a number of lines the rest is counted.
 */
import type { Readable } from 'node:stream';
import { LIMITS } from '../base/limits.ts';
import type { Timers } from './timers.ts';

const PERIOD_MS = 1000;
/** Longest line that is kept, characters. */
const LINE_MAX = 500;

export interface OutputOptions {
  readonly timers: Timers;
  readonly line: (text: string) => void;
  /** Lines that the last second had too many. */
  readonly dropped: (count: number) => void;
}

/** Reads the stream until it ends; returns the way to stop. */
export function readOutput(stream: Readable, { timers, line, dropped }: OutputOptions): () => void {
  let [bytes, lines, surplus, rest] = [0, 0, 0, ''];
  let cancel: (() => void) | null = null;
  const period = (): void => {
    cancel = null;
    if (surplus > 0) dropped(surplus);
    [bytes, lines, surplus] = [0, 0, 0];
    stream.resume();
  };
  const tell = (text: string): void => {
    lines += 1;
    if (lines > LIMITS.node_red_lines_per_s_max) surplus += 1;
    else if (text.trim() !== '') line(text.slice(0, LINE_MAX));
  };
  const onData = (chunk: Buffer): void => {
    cancel ??= timers.after(PERIOD_MS, period);
    bytes += chunk.length;
    const parts = (rest + chunk.toString('utf8')).split('\n');
    rest = (parts.pop() ?? '').slice(-LINE_MAX);
    for (const part of parts) tell(part);
    if (bytes > LIMITS.node_red_output_bytes_per_s_max) stream.pause();
  };
  stream.on('data', onData);
  stream.on('error', () => {});
  return () => {
    cancel?.();
    stream.off('data', onData);
    if (surplus > 0) dropped(surplus);
    stream.destroy();
  };
}
