import type { Result as AnyResult } from '../../base/result.ts';

/** What was read, or in one phrase what is wrong with the bytes. */
export type Result<T> = AnyResult<T, string>;

export function ok<T>(value: T): Result<T> {
  return { ok: true, value };
}

export function fail(fault: string): Result<never> {
  return { ok: false, fault };
}
