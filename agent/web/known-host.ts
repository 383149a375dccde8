/**
 * By which name a request may ask for the page. A page of another site can let its own name point at this address
 * ("DNS rebinding"): to the browser it is then the same site, and could read the page and send its forms. The Host
 * header still says that foreign name. Names that nobody outside can make point here are taken, others must be named.
 */
import { isIP } from 'node:net';
import type { Fault } from '../base/result.ts';

/**
 * Names beside single words that public name servers never give: `.localhost` (RFC 6761), `.local` (RFC 6762),
 * `.home.arpa` (RFC 8375), `.internal` (reserved by ICANN for private use, from memory).
 */
const PRIVATE = /(?:^|\.)(?:localhost|local|home\.arpa|internal)$/;

/** `host`: the header, null in HTTP/1.0 without one, which no browser speaks. `names`: what the site calls the page. */
export function hostFault(host: string | null, names: readonly string[]): Fault | null {
  if (host === null) return null;
  const name = URL.parse(`http://${host}`)?.hostname.toLowerCase().replace(/\.$/, '') ?? '';
  if (known(name) || names.some((each) => each.toLowerCase().replace(/\.$/, '') === name)) return null;
  return {
    code: 'web_unknown_host',
    message:
      `This page is not known as '${host.slice(0, 100)}': open it by its IP address, ` +
      'or add the name to web.names of the site file.',
  };
}

function known(name: string): boolean {
  if (isIP(name.replace(/^\[(.*)\]$/, '$1')) !== 0) return true;
  return name !== '' && (!name.includes('.') || PRIVATE.test(name));
}
