/**
 * The files that a replay writes. Under other names until they are whole: a replay that was ended leaves none behind.
 */
import { closeSync, mkdirSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import type { MinuteOutcome } from '../minute.ts';
import type { ValvesPayload } from '../valves/payload.ts';

const PART_CHARACTERS = 256 * 1024;

/** Lines gathered into parts: a write a minute would be most of the work. */
class LineFile {
  readonly #file: number;
  #waiting: string[] = [];
  #length = 0;

  constructor(path: string) {
    this.#file = openSync(path, 'w');
  }

  line(text: string): void {
    this.#waiting.push(text, '\n');
    this.#length += text.length + 1;
    if (this.#length >= PART_CHARACTERS) this.#write();
  }

  close(): void {
    this.#write();
    closeSync(this.#file);
  }

  #write(): void {
    const bytes = Buffer.from(this.#waiting.join(''));
    for (let done = 0; done < bytes.length; ) done += writeSync(this.#file, bytes, done);
    this.#waiting = [];
    this.#length = 0;
  }
}

export const MINUTES = 'minutes.ndjson';
export const ALARMS = 'alarms.ndjson';
export const SUMMARY = 'summary.json';
export const REPORT = 'report.html';
const ALL = [MINUTES, ALARMS, SUMMARY, REPORT];

const partOf = (folder: string, name: string): string => join(folder, `${name}.part`);

export class ReplayFiles {
  readonly #folder: string;
  readonly #minutes: LineFile;
  readonly #alarms: LineFile;
  #closed = false;

  /** Throws what the file system says. */
  constructor(folder: string) {
    mkdirSync(folder, { recursive: true });
    this.#folder = folder;
    this.#minutes = new LineFile(partOf(folder, MINUTES));
    this.#alarms = new LineFile(partOf(folder, ALARMS));
  }

  /**
   * One line: the chiller's id, then what MQTT would carry of its figures and its level loops. Gives the loops back.
   */
  minute(chiller: string, { record, messages, events }: MinuteOutcome): ValvesPayload['loops'] {
    const payload = (kind: string): string =>
      messages.find(({ sink, address }) => sink === 'mqtt' && address.endsWith(`/${kind}`))?.payload ?? '{}';
    const { loops } = JSON.parse(payload('valves')) as ValvesPayload;
    // The figures' payload as it is: a subscriber of the broker would read the same digits.
    this.#minutes.line(
      `{"chiller":${JSON.stringify(chiller)},${payload('metrics').slice(1, -1)},"loops":${JSON.stringify(loops)}}`,
    );
    const { sequence } = record;
    for (const { change, report } of events) this.#alarms.line(JSON.stringify({ sequence, change, ...report }));
    return loops;
  }

  /** Summary and report, and every file under its own name. */
  finish(summary: object, report: string): void {
    this.#close();
    for (const [name, text] of [
      [SUMMARY, `${JSON.stringify(summary, null, 2)}\n`],
      [REPORT, report],
    ] as const) {
      const file = new LineFile(partOf(this.#folder, name));
      file.line(text.trimEnd());
      file.close();
    }
    for (const name of ALL) renameSync(partOf(this.#folder, name), join(this.#folder, name));
  }

  /** What is not whole goes. */
  abandon(): void {
    this.#close();
    for (const name of ALL) rmSync(partOf(this.#folder, name), { force: true });
  }

  #close(): void {
    if (this.#closed) return;
    this.#closed = true;
    this.#minutes.close();
    this.#alarms.close();
  }
}
