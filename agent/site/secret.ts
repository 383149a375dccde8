import { z } from 'zod';

/** A value that must not be seen: it prints, logs and serialises as '[secret]', and only `reveal` gives it. */
export class Secret {
  readonly #value: string;

  constructor(value: string) {
    this.#value = value;
  }

  reveal(): string {
    return this.#value;
  }

  toString(): string {
    return '[secret]';
  }

  toJSON(): string {
    return '[secret]';
  }
}

/**
 * A secret of the file: text, or `!secret file:PATH` or `!secret env:NAME`, which the config room has replaced by
 * then.
 */
export const secretEntry = z.union([z.instanceof(Secret), z.string().transform((text) => new Secret(text))]);
