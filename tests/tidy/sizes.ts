/** Sizes that a reader can hold: files of 300 lines, functions of 70, lines of 120 characters. Data tables are exempt, each with its reason. */
import { type Finding, isCode, lineAt, matches, type Node, type SourceFile, treeOf, walk } from './source.ts';

export const SIZES = { file_lines_max: 300, function_lines_max: 70, line_characters_max: 120 } as const;

export interface Exemption {
  readonly path: string;
  readonly reason: string;
}

export const EXEMPT: readonly Exemption[] = [
  { path: 'agent/refrigerant/data/**/*.ts', reason: 'coefficients of equations of state' },
  { path: 'agent/plant/tables/**/*.ts', reason: 'property tables of the emulated plant' },
  { path: 'agent/base/errors.ts', reason: 'the table of error codes' },
  { path: 'agent/points/dictionary.ts', reason: 'the table of points' },
];

const FUNCTIONS = new Set(['FunctionDeclaration', 'FunctionExpression', 'ArrowFunctionExpression']);
const GROUPS = new Set(['describe', 'suite']);

function nameOf(node: Node, parent: Node | undefined): string {
  const own = node['id'] as Node | null | undefined;
  const given = (parent?.['id'] ?? parent?.['key']) as Node | null | undefined;
  return String(own?.['name'] ?? given?.['name'] ?? 'a function');
}

/** `describe(...)` groups tests and is no piece of work that a reader follows in one go. */
function isGroup(parent: Node | undefined): boolean {
  if (parent?.type !== 'CallExpression') return false;
  let callee = parent['callee'] as Node;
  while (callee.type === 'MemberExpression' || callee.type === 'CallExpression')
    callee = (callee['object'] ?? callee['callee']) as Node;
  return GROUPS.has(callee['name'] as string);
}

function checkFunctions(file: SourceFile): Finding[] {
  const findings: Finding[] = [];
  walk(treeOf(file), (node, ancestors) => {
    const parent = ancestors.at(-1);
    if (!FUNCTIONS.has(node.type) || isGroup(parent)) return;
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
    lines.forEach((text, i) => {
      if (text.length > SIZES.line_characters_max)
        findings.push({
          path: file.path,
          line: i + 1,
          message: `has ${text.length} characters, more than ${SIZES.line_characters_max}`,
        });
    });
    findings.push(...checkFunctions(file));
  }
  return findings;
}
