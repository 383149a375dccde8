import type { z } from 'zod';

/** What is wrong with a record as a person wrote it: `key: what`, several separated by semicolons. */
export function recordIssues(error: z.ZodError): string {
  return error.issues.map(({ path, message }) => `${keyOf(path)}${message}`).join('; ');
}

function keyOf(path: readonly PropertyKey[]): string {
  if (path.length === 0) return '';
  const words = path.map((step) => (typeof step === 'number' ? `[${step}]` : `.${String(step)}`));
  return `${words.join('').replace(/^\./, '')}: `;
}
