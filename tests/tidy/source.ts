/**
 * What the checks know of a source file: its text, its syntax tree, its imports. Trees come from oxc, which reads
 * TypeScript and needs no compiler.
 */
import { parseSync } from 'oxc-parser';

export interface SourceFile {
  /** Relative to the root of the project, with forward slashes. */
  readonly path: string;
  readonly text: string;
}

/** One breach of a rule. */
export interface Finding {
  readonly path: string;
  readonly line: number;
  readonly message: string;
}

export interface Node {
  readonly type: string;
  readonly start: number;
  readonly end: number;
  readonly [key: string]: unknown;
}

export interface Import {
  readonly specifier: string;
  readonly kind: 'value' | 'type' | 'dynamic' | 're-export';
  readonly line: number;
}

export function isCode(path: string): boolean {
  return /\.(?:ts|js|cjs|mjs)$/.test(path);
}

export function show(findings: readonly Finding[]): string[] {
  return findings.map(({ path, line, message }) => `${path}:${line}: ${message}`);
}

export function lineAt(text: string, offset: number): number {
  let line = 1;
  for (let i = text.indexOf('\n'); i !== -1 && i < offset; i = text.indexOf('\n', i + 1)) line++;
  return line;
}

const trees = new WeakMap<SourceFile, Node>();

/** The syntax tree; a file that does not parse is an error and never an empty tree. */
export function treeOf(file: SourceFile): Node {
  const known = trees.get(file);
  if (known !== undefined) return known;
  const { program, errors } = parseSync(file.path, file.text);
  if (errors.length > 0) throw new Error(`${file.path}: ${errors.map(({ message }) => message).join('; ')}`);
  const tree = program as unknown as Node;
  trees.set(file, tree);
  return tree;
}

export function isNode(value: unknown): value is Node {
  return typeof value === 'object' && value !== null && typeof (value as { type?: unknown }).type === 'string';
}

/** Calls back for every node, parents first, with the chain of ancestors (nearest last). */
export function walk(root: Node, visit: (node: Node, ancestors: readonly Node[]) => void): void {
  const ancestors: Node[] = [];
  const step = (node: Node): void => {
    visit(node, ancestors);
    ancestors.push(node);
    for (const key in node) {
      const child = node[key];
      if (Array.isArray(child)) for (const item of child) isNode(item) && step(item);
      else if (isNode(child)) step(child);
    }
    ancestors.pop();
  };
  step(root);
}

function importOf(node: Node): [string, Import['kind']] | null {
  const source = node['source'];
  const specifier = isNode(source) && typeof source['value'] === 'string' ? source['value'] : null;
  const typeOnly = node['importKind'] === 'type' || node['exportKind'] === 'type';
  switch (node.type) {
    case 'ImportDeclaration':
      return specifier === null ? null : [specifier, typeOnly || allTypes(node) ? 'type' : 'value'];
    case 'ExportAllDeclaration':
    case 'ExportNamedDeclaration':
      return specifier === null ? null : [specifier, 're-export'];
    case 'ImportExpression':
      return specifier === null ? null : [specifier, 'dynamic'];
    case 'TSImportType':
      return specifier === null ? null : [specifier, 'type'];
    case 'CallExpression':
      return requireOf(node);
    default:
      return null;
  }
}

function allTypes(node: Node): boolean {
  const specifiers = node['specifiers'] as Node[];
  return specifiers.length > 0 && specifiers.every((one) => one['importKind'] === 'type');
}

function requireOf(node: Node): [string, Import['kind']] | null {
  const callee = node['callee'] as Node;
  const argument = (node['arguments'] as Node[])[0];
  if (callee.type !== 'Identifier' || callee['name'] !== 'require' || typeof argument?.['value'] !== 'string')
    return null;
  return [argument['value'], 'value'];
}

/** Every import with a literal specifier: static, type-only, re-export, `import()`, `import('x').T`, `require`. */
export function importsOf(file: SourceFile): Import[] {
  const found: Import[] = [];
  walk(treeOf(file), (node) => {
    const one = importOf(node);
    if (one !== null) found.push({ specifier: one[0], kind: one[1], line: lineAt(file.text, node.start) });
  });
  return found;
}

/** A relative specifier as a path of the project; null for packages and `node:` modules. */
export function resolve(from: string, specifier: string): string | null {
  if (!specifier.startsWith('.')) return null;
  const parts = from.split('/').slice(0, -1);
  for (const part of specifier.split('/')) {
    if (part === '..') parts.pop();
    else if (part !== '.') parts.push(part);
  }
  return parts.join('/');
}

/** `a/*.ts` against a path; `*` stands for one name, `**` for any folders. */
export function matches(pattern: string, path: string): boolean {
  const source = pattern
    .replaceAll(/[.+^${}()|[\]\\]/g, '\\$&')
    .replaceAll(/\*\*\/|\*/g, (star) => (star === '*' ? '[^/]*' : '(?:.*/)?'));
  return new RegExp(`^${source}$`).test(path);
}
