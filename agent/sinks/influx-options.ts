/** What the sink of a time-series store is told, the check of it that needs no network, and where it writes. */
import type { Outbox } from '../base/delivery.ts';
import { type Fault, fail, ok, type Result } from '../base/result.ts';

/** Bounds a test may lower; each defaults to its namesake in LIMITS. */
export interface InfluxLimits {
  readonly backoff_ms_min: number;
  readonly backoff_ms_max: number;
  readonly influx_batch_messages_max: number;
  readonly influx_batch_bytes_max: number;
  readonly influx_answer_ms_max: number;
  readonly influx_refusals_max: number;
  readonly influx_pause_ms_max: number;
  readonly influx_farewell_ms_max: number;
}

/** One of the two ways of writing, and who asks. */
export type InfluxWrite =
  | { readonly api: 'v2'; readonly bucket: string; readonly organisation: string | null; readonly token: string | null }
  | {
      readonly api: 'v1';
      readonly database: string;
      readonly retention_policy: string | null;
      readonly login: { readonly username: string; readonly password: string } | null;
    };

export interface InfluxOptions {
  readonly outbox: Outbox;
  /** `http://` or `https://`, without user, password and query. */
  readonly url: string;
  readonly write: InfluxWrite;
  /** Tag `site` of every line. */
  readonly site: string;
  readonly measurement: string;
  readonly now?: () => number;
  /** 0 to 1; spreads the returns of many gateways. */
  readonly random?: () => number;
  readonly report?: (fault: Fault) => void;
  readonly checkpoint?: (name: 'after_send' | 'after_acknowledge') => void;
  readonly limits?: Partial<InfluxLimits>;
}

export function checkOptions({ url, write }: InfluxOptions): Result<void> {
  const address = URL.canParse(url) ? new URL(url) : null;
  if (address === null || !['http:', 'https:'].includes(address.protocol))
    return fail('influx_options', `address of the store '${url}': write http://host:port or https://host:port`);
  if (address.username !== '' || address.password !== '')
    return fail('influx_options', 'address of the store: give login or token by their own keys, not within it');
  if ((write.api === 'v2' ? write.bucket : write.database) === '')
    return fail('influx_options', `the store needs a ${write.api === 'v2' ? 'bucket' : 'database'} to write to`);
  return ok(undefined);
}

/** Path and query below the address; stamps are in milliseconds. */
export function writePath(write: InfluxWrite): string {
  const given: Record<string, string | null> =
    write.api === 'v2'
      ? { org: write.organisation ?? '', bucket: write.bucket }
      : { db: write.database, rp: write.retention_policy };
  const query = new URLSearchParams({ precision: 'ms' });
  for (const [key, value] of Object.entries(given)) if (value !== null) query.set(key, value);
  return `${write.api === 'v2' ? '/api/v2/write' : '/write'}?${query}`;
}

/** Header that says who asks; none where nobody must. Kept out of the address, which servers write into their logs. */
export function authorization(write: InfluxWrite): { readonly authorization?: string } {
  if (write.api === 'v2') return write.token === null ? {} : { authorization: `Token ${write.token}` };
  if (write.login === null) return {};
  const { username, password } = write.login;
  return { authorization: `Basic ${Buffer.from(`${username}:${password}`).toString('base64')}` };
}

/** An address fit for a log. */
export function shownAddress({ url, write }: Pick<InfluxOptions, 'url' | 'write'>): string {
  const where = write.api === 'v2' ? `bucket ${write.bucket}` : `database ${write.database}`;
  return `the store ${new URL(url).origin}, ${where},`;
}
