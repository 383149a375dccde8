/**
 * Pure rooms: the same input gives the same output. No clock, no randomness, no timers, no I/O, nothing asynchronous,
 * no variable that outlives a call.
 */
import { type RoomTable, roomOf } from './imports.ts';
import { type Finding, isCode, isNode, lineAt, type Node, type SourceFile, treeOf, walk } from './source.ts';

const FORBIDDEN = new Set(
  `Date performance process Buffer global globalThis window self document navigator location localStorage sessionStorage console
  crypto fetch XMLHttpRequest WebSocket EventSource setTimeout setInterval setImmediate clearTimeout clearInterval clearImmediate
  queueMicrotask requestAnimationFrame Promise AbortController MessageChannel Worker Atomics SharedArrayBuffer WeakRef
  FinalizationRegistry eval Function require module __dirname __filename`
    .split(/\s+/)
    .filter((word) => word !== ''),
);
/** May name Date to turn a given instant into text and back. */
const CONVERTERS: readonly string[] = ['agent/base/time.ts'];
/** Where an identifier is a name of its own and not a use of the global. */
const NAMING: Readonly<Record<string, readonly string[]>> = {
  MemberExpression: ['property'],
  Property: ['key'],
  PropertyDefinition: ['key'],
  MethodDefinition: ['key'],
  TSPropertySignature: ['key'],
  TSMethodSignature: ['key'],
  LabeledStatement: ['label'],
  TSEnumMember: ['id'],
};

function declaredNames(tree: Node): Set<string> {
  const names = new Set<string>();
  const bind = (pattern: unknown): void => {
    if (!isNode(pattern)) return;
    if (pattern.type === 'Identifier') names.add(pattern['name'] as string);
    else if (pattern.type === 'ObjectPattern' || pattern.type === 'ArrayPattern')
      for (const part of (pattern['properties'] ?? pattern['elements']) as unknown[]) bind(part);
    else bind(pattern['value'] ?? pattern['left'] ?? pattern['argument'] ?? pattern['parameter']);
  };
  walk(tree, (node) => {
    if (node.type === 'VariableDeclarator' || node.type.startsWith('Class') || node.type.startsWith('TSType'))
      bind(node['id']);
    if (node.type === 'TSInterfaceDeclaration' || node.type === 'FunctionDeclaration') bind(node['id']);
    if (Array.isArray(node['params'])) for (const parameter of node['params'] as unknown[]) bind(parameter);
    if (node.type.startsWith('Import')) bind(node['local']);
  });
  return names;
}

function isUse(node: Node, parent: Node | undefined): boolean {
  if (parent === undefined) return true;
  // A type names no value: contracts of the edges stand in pure rooms.
  if (parent.type === 'TSTypeReference' || parent.type === 'TSQualifiedName') return node['name'] === 'Date';
  const places = NAMING[parent.type] ?? [];
  return !places.some((place) => parent[place] === node && parent['computed'] !== true && parent['shorthand'] !== true);
}

/** `new Date(given)`, `Date.parse(given)`, `Date.UTC(...)` convert a given instant and read no clock. */
function converts(node: Node, ancestors: readonly Node[]): boolean {
  const parent = ancestors.at(-1);
  if (node['name'] !== 'Date' || parent === undefined) return false;
  if (parent.type === 'NewExpression') return (parent['arguments'] as Node[]).length > 0;
  return parent.type === 'MemberExpression' && ['parse', 'UTC'].includes(memberName(parent) ?? '');
}

function memberName(node: Node): string | null {
  const property = node['property'] as Node;
  if (node['computed'] !== true) return property['name'] as string;
  return typeof property['value'] === 'string' ? property['value'] : null;
}

function isRandom(node: Node): boolean {
  const object = node['object'] as Node | undefined;
  return node.type === 'MemberExpression' && object?.['name'] === 'Math' && memberName(node) === 'random';
}

/** Math.random taken apart: `const { random } = Math`. */
function takesRandom(node: Node): boolean {
  const init = node['init'];
  return node.type === 'VariableDeclarator' && isNode(init) && init['name'] === 'Math';
}

function forbiddenGlobal(node: Node, parent: Node | undefined, declared: ReadonlySet<string>): boolean {
  const name = node['name'] as string;
  return node.type === 'Identifier' && FORBIDDEN.has(name) && !declared.has(name) && isUse(node, parent);
}

function outlivesCall(node: Node, parent: Node | undefined): boolean {
  const top = parent?.type === 'Program' || parent?.type === 'ExportNamedDeclaration';
  return node.type === 'VariableDeclaration' && node['kind'] !== 'const' && top;
}

function breach(node: Node, ancestors: readonly Node[], declared: ReadonlySet<string>): string | null {
  const parent = ancestors.at(-1);
  if (forbiddenGlobal(node, parent, declared)) return `uses ${node['name']}`;
  if (isRandom(node) || takesRandom(node)) return 'uses Math.random';
  if (node['async'] === true) return 'is asynchronous';
  if (node.type === 'AwaitExpression' || (node.type === 'ForOfStatement' && node['await'] === true)) return 'awaits';
  if (node.type === 'ImportExpression') return 'imports at run time';
  if (node.type === 'MetaProperty' && (node['meta'] as Node)['name'] === 'import')
    return 'asks where it lies (import.meta)';
  if (outlivesCall(node, parent)) return 'keeps a variable between calls';
  return null;
}

export function checkPurity(files: readonly SourceFile[], table: RoomTable): Finding[] {
  const findings: Finding[] = [];
  for (const file of files) {
    const room = roomOf(file.path);
    if (!isCode(file.path) || room === null || !table.pure.includes(room)) continue;
    const tree = treeOf(file);
    const declared = declaredNames(tree);
    const told = new Set<number>();
    walk(tree, (node, ancestors) => {
      const message =
        CONVERTERS.includes(file.path) && converts(node, ancestors) ? null : breach(node, ancestors, declared);
      // `{ name }` is key and value at once, the same node twice.
      if (message === null || told.has(node.start)) return;
      told.add(node.start);
      findings.push({
        path: file.path,
        line: lineAt(file.text, node.start),
        message: `the pure room '${room}' ${message}`,
      });
    });
  }
  return findings;
}
