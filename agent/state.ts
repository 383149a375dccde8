/** The fold's state as the store keeps it, with the version that it was written in. */
import { fail, ok, type Result } from './base/result.ts';
import { continued, MINUTE_START, type MinuteState } from './minute.ts';

/**
 * Raised when a state of before would be read wrongly, not when something is added to it: what an earlier version did
 * not know begins anew. 0: before states said their version.
 */
export const STATE_VERSION = 1;

export interface KeptState {
  readonly state: MinuteState;
  /** That it was written in. */
  readonly version: number;
}

export function stateText(state: MinuteState): string {
  return JSON.stringify({ version: STATE_VERSION, ...state });
}

/** Null text: there is none yet. Faults: `history_corrupt`, and `history_newer` where a newer agent wrote it. */
export function readState(text: string | null, chiller: string): Result<KeptState> {
  if (text === null) return ok({ state: MINUTE_START, version: STATE_VERSION });
  const { version = 0, ...rest } = (parsed(text) ?? {}) as { readonly version?: unknown };
  if (typeof version === 'number' && version > STATE_VERSION)
    return fail(
      'history_newer',
      `the stored state of ${chiller} is of version ${version}, this agent knows up to ${STATE_VERSION}: install the agent that wrote it, or name another history folder`,
    );
  const state = typeof version === 'number' ? continued(rest) : null;
  if (state === null) return fail('history_corrupt', `the stored state of ${chiller} cannot be read`);
  return ok({ state, version: version as number });
}

function parsed(text: string): object | null {
  try {
    const value = JSON.parse(text) as unknown;
    return typeof value === 'object' && !Array.isArray(value) ? value : null;
  } catch {
    return null;
  }
}
