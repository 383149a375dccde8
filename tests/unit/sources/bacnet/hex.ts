/** Bytes as hexadecimal text, blanks ignored. */
export function bytes(text: string): Uint8Array {
  const packed = text.replace(/\s/g, '');
  return Uint8Array.from({ length: packed.length / 2 }, (_, i) => Number.parseInt(packed.slice(2 * i, 2 * i + 2), 16));
}

export function hex(octets: ArrayLike<number>): string {
  return Array.from(octets, (octet) => octet.toString(16).padStart(2, '0')).join('');
}
