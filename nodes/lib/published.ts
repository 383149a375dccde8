/** What an agent publishes, as a flow gets it: the same payload, and what a subscriber can tell from its sequence. */
import { LIMITS } from '../../agent/base/limits.ts';
import { fail, ok, type Result } from '../../agent/base/result.ts';
import type { FlowMessage } from './runtime.ts';

export const KINDS = ['metrics', 'valves', 'alarms', 'callout', 'status'] as const;
export type Kind = (typeof KINDS)[number];

/** Topic filter of one kind, of one chiller or ('') of all. */
export function filterOf(root: string, kind: Kind, chiller: string): string {
  if (kind === 'status') return `${root}/status`;
  return `${root}/${chiller === '' ? '+' : chiller}/${kind}${kind === 'alarms' ? '/+' : ''}`;
}

export interface Arrival {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly qos: number;
  readonly retain: boolean;
}

interface Sequenced {
  readonly sequence: number;
  readonly time: string;
}

/** Follows the sequence of each chiller: bounded by the chillers that one agent may have. */
export class Sequences {
  readonly #last = new Map<string, Sequenced>();

  /** `missed`: minutes published in between that never came; `repeated`: this one was here before. */
  note(chiller: string, { sequence, time }: Sequenced): { readonly missed: number; readonly repeated: boolean } {
    const last = this.#last.get(chiller);
    // A lower number at a later time is a store that was begun anew.
    const repeated = last !== undefined && sequence <= last.sequence && time <= last.time;
    if (!repeated) {
      if (last === undefined && this.#last.size >= LIMITS.chillers_max) this.#last.clear();
      this.#last.set(chiller, { sequence, time });
    }
    const missed = last === undefined || sequence <= last.sequence ? 0 : sequence - last.sequence - 1;
    return { missed, repeated };
  }
}

/** The message of a flow. A retained topic that was cleared has the payload null. Faults: `bad_record`. */
export function published(arrival: Arrival, kind: Kind, root: string, sequences: Sequences): Result<FlowMessage> {
  const { topic, payload: bytes, qos, retain } = arrival;
  if (bytes.length > LIMITS.mqtt_payload_bytes_max)
    return fail('bad_record', `${topic}: ${bytes.length} bytes, more than ${LIMITS.mqtt_payload_bytes_max}`);
  const payload = bytes.length === 0 ? null : parsed(bytes);
  if (payload === undefined) return fail('bad_record', `${topic}: not JSON, so not from an agent`);
  const message: FlowMessage = { topic, payload, kind, qos, retain };
  if (kind === 'status') return ok(message);
  const chiller = topic.slice(root.length + 1).split('/')[0] as string;
  const sequenced = kind === 'metrics' || kind === 'valves' ? sequenceOf(payload) : null;
  return ok({ ...message, chiller, ...(sequenced === null ? {} : sequences.note(chiller, sequenced)) });
}

function parsed(bytes: Uint8Array): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    return undefined;
  }
}

function sequenceOf(payload: unknown): Sequenced | null {
  const { sequence, time } = (payload ?? {}) as Partial<Sequenced>;
  return typeof sequence === 'number' && typeof time === 'string' ? { sequence, time } : null;
}
