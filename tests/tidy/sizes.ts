/**
 * Sizes that a reader can hold: files of 300 lines, functions of 70, lines of 120 characters. Data tables are exempt,
 * each with its reason. The text of a string does not count: a message broken in two cannot be searched for.
 */
import { type Finding, isCode, lineAt, matches, type Node, type SourceFile, treeOf, walk } from './source.ts';

export const SIZES = { file_lines_max: 300, function_lines_max: 70, line_characters_max: 120 } as const;

export interface Exemption {
  readonly path: string;
  readonly reason: string;
}

export const EXEMPT: readonly Exemption[] = [
  { path: 'agent/refrigerant/data/**/*.ts', reason: 'coefficients of equations of state' },
  { path: 'agent/plant/tables/**/*.ts', reason: 'property tables of the emulated plant' },
  { path: 'agent/web/page/widths.js', reason: 'advance widths of the typeface of the page' },
  { path: 'agent/base/errors.ts', reason: 'the table of error codes' },
  { path: 'agent/points/dictionary.ts', reason: 'the table of points' },
  { path: 'agent/alarms/shipped.ts', reason: 'the table of shipped alarms' },
];

const FUNCTIONS = new Set(['FunctionDeclaration', 'FunctionExpression', 'ArrowFunctionExpression']);

function nameOf(node: Node, parent: Node | undefined): string {
  const own = node['id'] as Node | null | undefined;
  const given = (parent?.['id'] ?? parent?.['key']) as Node | null | undefined;
  return String(own?.['name'] ?? given?.['name'] ?? 'a function');
}

const TESTS = new Set(['describe', 'suite', 'test', 'it']);

/** `describe` of `describe(...)`, `describe.each(...)(...)`. */
function calledName(call: Node): unknown {
  let callee = call['callee'] as Node;
  while (callee.type === 'MemberExpression' || callee.type === 'CallExpression')
    callee = (callee['object'] ?? callee['callee']) as Node;
  return callee['name'];
}

/**
 * A function that itself calls `describe` or `test` lists tests, and is no piece of work that a reader follows in one
 * go.
 */
function isGroup(node: Node, path: string): boolean {
  if (!path.startsWith('tests/')) return false;
  const statements = (node['body'] as Node)['body'];
  return (
    Array.isArray(statements) &&
    (statements as Node[]).some((statement) => {
      const call = statement['expression'] as Node | undefined;
      return call?.type === 'CallExpression' && TESTS.has(calledName(call) as string);
    })
  );
}

function checkFunctions(file: SourceFile): Finding[] {
  const findings: Finding[] = [];
  walk(treeOf(file), (node, ancestors) => {
    const parent = ancestors.at(-1);
    if (!FUNCTIONS.has(node.type) || isGroup(node, file.path)) return;
    const line = lineAt(file.text, node.start);
    const lines = lineAt(file.text, node.end) - line + 1;
    if (lines > SIZES.function_lines_max)
      findings.push({
        path: file.path,
        line,
        message: `${nameOf(node, parent)} has ${lines} lines, more than ${SIZES.function_lines_max}`,
      });
  });
  return findings;
}

/** Characters of each line that are the text of strings, templates and regular expressions. */
function stringCharacters(file: SourceFile): Map<number, number> {
  const counts = new Map<number, number>();
  walk(treeOf(file), (node) => {
    const text = typeof node['value'] === 'string' || node['regex'] !== undefined;
    if (node.type !== 'TemplateElement' && !(node.type === 'Literal' && text)) return;
    let line = lineAt(file.text, node.start);
    for (const part of file.text.slice(node.start, node.end).split('\n')) {
      counts.set(line, (counts.get(line) ?? 0) + part.length);
      line += 1;
    }
  });
  return counts;
}

function checkLines(file: SourceFile, lines: readonly string[]): Finding[] {
  if (lines.every((text) => text.length <= SIZES.line_characters_max)) return [];
  const strings = stringCharacters(file);
  return lines.flatMap((text, i) =>
    text.length - (strings.get(i + 1) ?? 0) <= SIZES.line_characters_max
      ? []
      : [
          {
            path: file.path,
            line: i + 1,
            message: `has ${text.length} characters, more than ${SIZES.line_characters_max}`,
          },
        ],
  );
}

export function checkSizes(files: readonly SourceFile[], exempt: readonly Exemption[] = EXEMPT): Finding[] {
  const findings: Finding[] = [];
  for (const file of files.filter(({ path }) => isCode(path))) {
    if (exempt.some(({ path }) => matches(path, file.path))) continue;
    const lines = file.text.replace(/\n$/, '').split('\n');
    if (lines.length > SIZES.file_lines_max)
      findings.push({
        path: file.path,
        line: 1,
        message: `has ${lines.length} lines, more than ${SIZES.file_lines_max}`,
      });
    findings.push(...checkLines(file, lines), ...checkFunctions(file));
  }
  return findings;
}
