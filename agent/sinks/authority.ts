/** Certificates, for every sink that speaks TLS: an authority of the site file, and what a failed handshake says. */
import { X509Certificate } from 'node:crypto';

const BLOCK = /-----BEGIN CERTIFICATE-----.*?-----END CERTIFICATE-----/gs;

/**
 * What is wrong with the PEM text of an authority; null: each of its certificates can be read. TLS itself passes over
 * what it cannot read, and trusts nobody then.
 */
export function authorityFault(pem: string): string | null {
  const blocks = pem.match(BLOCK) ?? [];
  if (blocks.length === 0) return 'holds no whole certificate in PEM';
  for (const [index, block] of blocks.entries()) {
    try {
      new X509Certificate(block);
    } catch {
      return `certificate ${index + 1} of ${blocks.length} cannot be read: copy the PEM file anew`;
    }
  }
  return null;
}

/** Whether a connection failed in its handshake or for its certificate (codes and words of Node and OpenSSL). */
export function isTlsError({ code, message }: { readonly code?: unknown; readonly message?: string }): boolean {
  return /CERT|SIGNATURE|ERR_TLS|SSL|certificate/.test(`${message ?? ''} ${String(code ?? '')}`);
}
