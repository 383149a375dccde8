import type { ErrorCode } from './errors.ts';

/** An expected failure, as a value. `message` is one sentence for a person: what is wrong, where, and what to do. */
export interface Fault {
  readonly code: ErrorCode;
  readonly message: string;
}

/** Outcome of anything that can fail by way of its input. Programmer's errors throw instead. */
export type Result<T, E = Fault> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly fault: E };

export function ok<T>(value: T): { readonly ok: true; readonly value: T } {
  return { ok: true, value };
}

export function fail(code: ErrorCode, message: string): { readonly ok: false; readonly fault: Fault } {
  return { ok: false, fault: { code, message } };
}

/** The value, or a throw: for places where a fault would be a programmer's error (literals, shipped data, tests). */
export function must<T>(result: Result<T>): T {
  if (!result.ok) throw new Error(`${result.fault.code}: ${result.fault.message}`);
  return result.value;
}

/** Asserts what the programmer claims; a broken claim crashes and the service manager restarts the process. */
export function assert(claim: boolean, message: string): asserts claim {
  if (!claim) throw new Error(`assertion broken: ${message}`);
}
