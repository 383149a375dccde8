import { open } from 'node:fs/promises';

/**
 * Text of a file of at most `bytes_max` bytes; throws what the file system says, or `EFBIG`. Never reads more than
 * the bound.
 */
export async function readFileBounded(path: string, bytes_max: number): Promise<string> {
  const handle = await open(path, 'r');
  try {
    // One byte more than allowed tells a file that is too large, also where the size is not known beforehand (pipes).
    const buffer = new Uint8Array(bytes_max + 1);
    let filled = 0;
    while (filled < buffer.length) {
      const { bytesRead } = await handle.read(buffer, filled, buffer.length - filled, null);
      if (bytesRead === 0) break;
      filled += bytesRead;
    }
    if (filled > bytes_max) throw Object.assign(new Error(`larger than ${bytes_max} bytes`), { code: 'EFBIG' });
    return new TextDecoder('utf-8', { fatal: false }).decode(buffer.subarray(0, filled));
  } finally {
    await handle.close();
  }
}
