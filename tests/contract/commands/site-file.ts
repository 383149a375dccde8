/** A site file of one chiller for the verbs that need one on disk, placed on ports and folders of the test. */
import { readFileSync, writeFileSync } from 'node:fs';
import { type AddressInfo, createServer } from 'node:net';
import path from 'node:path';
import { parseDocument } from 'yaml';

const EXAMPLE = new URL('../../../config/kestrel-quay.yaml', import.meta.url).pathname;

export interface SiteFileWishes {
  readonly folder: string;
  readonly webPort: number;
  readonly modbusPort: number;
  readonly mqttUrl: string | null;
  /** Further changes: where, and what there is to be. */
  readonly more?: readonly (readonly [path: readonly (string | number)[], value: unknown])[];
}

/** Its path; the history lies in `<folder>/history`. Intervals of a second. */
export function writeSiteFile({ folder, webPort, modbusPort, mqttUrl, more = [] }: SiteFileWishes): string {
  const document = parseDocument(readFileSync(EXAMPLE, 'utf8'));
  document.deleteIn(['chillers', 1]);
  document.setIn(['interval_s'], 1);
  document.setIn(['history', 'folder'], path.join(folder, 'history'));
  document.setIn(['web', 'port'], webPort);
  for (const [key, value] of Object.entries({ port: modbusPort, poll_s: 0.5, fast_s: 0.5, timeout_ms: 500 }))
    document.setIn(['chillers', 0, 'source', 'modbus', key], value);
  if (mqttUrl === null) document.deleteIn(['mqtt']);
  else document.setIn(['mqtt', 'url'], mqttUrl);
  for (const [at, value] of more) document.setIn(at, value);
  const file = path.join(folder, 'site.yaml');
  writeFileSync(file, String(document));
  return file;
}

export async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', () => resolve()));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}
