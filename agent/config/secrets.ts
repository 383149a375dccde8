/**
 * `!secret file:PATH`, `!secret env:NAME` and `!secret credential:NAME`: the value stands elsewhere, and what is read
 * prints as '[secret]' wherever it goes. A relative path counts from the folder of the site file; a credential is what
 * the service manager hands to the service alone (systemd: LoadCredential=).
 */
import { dirname, join, resolve } from 'node:path';
import { type Document, isPair, isScalar, isSeq, type Scalar, type ScalarTag, visit } from 'yaml';
import { Secret } from '../site/secret.ts';

/** Longest secret, bytes: a key or a password, not a data base. */
export const SECRET_BYTES_MAX = 16 * 1024;

/** What the tag leaves in the document until it is resolved. */
class SecretPlace {
  readonly place: string;
  constructor(place: string) {
    this.place = place;
  }
}

export const secretTag: ScalarTag = {
  tag: '!secret',
  identify: (value) => value instanceof SecretPlace || value instanceof Secret,
  resolve: (text) => new SecretPlace(text),
};

export interface SecretSources {
  readonly env: Readonly<Record<string, string | undefined>>;
  readonly readFile: (path: string, bytes_max: number) => Promise<string>;
}

export interface SecretFault {
  readonly offset: number;
  readonly path: readonly (string | number)[];
  readonly message: string;
}

/** Replaces every secret's place by the secret, in the document itself. Messages name the place, never the value. */
export async function resolveSecrets(
  document: Document,
  file: string,
  sources: SecretSources,
): Promise<readonly SecretFault[]> {
  const found: { node: Scalar; path: (string | number)[] }[] = [];
  visit(document, {
    Scalar(_, node, ancestors) {
      if (node.value instanceof SecretPlace) found.push({ node, path: pathOf(ancestors, node) });
    },
  });
  const faults: SecretFault[] = [];
  for (const { node, path } of found) {
    const read = await readSecret((node.value as SecretPlace).place, file, sources);
    if (typeof read === 'string') faults.push({ offset: node.range?.[0] ?? 0, path, message: read });
    else node.value = read;
  }
  return faults;
}

/** The secret, or what is wrong. */
async function readSecret(place: string, file: string, sources: SecretSources): Promise<Secret | string> {
  const parts = /^\s*(file|env|credential):(.+?)\s*$/.exec(place);
  // What stands there may be the secret itself, so it is not repeated.
  if (parts === null)
    return 'what stands after !secret is none of file:PATH, env:NAME and credential:NAME: say where the secret is';
  const [, kind, name] = parts as unknown as [string, string, string];
  if (kind === 'env') {
    const value = sources.env[name];
    return value === undefined || value === '' ? `the environment has no ${name}: set it` : new Secret(value);
  }
  const credentials = sources.env['CREDENTIALS_DIRECTORY'];
  if (kind === 'credential' && (credentials === undefined || /[/\\]/.test(name)))
    return `there is no credential ${name}: the service manager gives them (LoadCredential= of the unit)`;
  const path = kind === 'credential' ? join(credentials as string, name) : resolve(dirname(file), name);
  try {
    // A trailing line end comes from the editor, not from the secret.
    const text = (await sources.readFile(path, SECRET_BYTES_MAX)).replace(/\r?\n$/, '');
    return text === '' ? `the file ${name} is empty` : new Secret(text);
  } catch (error) {
    return `the file ${name} cannot be read (${reasonOf(error)}): create it, readable by the agent`;
  }
}

export function reasonOf(error: unknown): string {
  const code = (error as { code?: unknown } | null)?.code;
  const known: Record<string, string> = {
    ENOENT: 'no such file',
    EACCES: 'no permission',
    EISDIR: 'it is a folder',
    EFBIG: 'too large',
    ENOTDIR: 'a part of the path is no folder',
    ELOOP: 'a link that leads to itself',
  };
  if (typeof code === 'string') return known[code] ?? code;
  return error instanceof Error ? error.message : String(error);
}

function pathOf(ancestors: readonly unknown[], node: unknown): (string | number)[] {
  return ancestors.flatMap((ancestor, index): (string | number)[] => {
    if (isPair(ancestor) && isScalar(ancestor.key)) return [String(ancestor.key.value)];
    return isSeq(ancestor) ? [ancestor.items.indexOf(ancestors[index + 1] ?? node)] : [];
  });
}
