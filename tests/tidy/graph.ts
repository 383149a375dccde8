/**
 * The graph of imports, types included: no circle, no file that nothing reaches, no file that only passes others on.
 */
import type { RoomTable } from './imports.ts';
import { type Finding, importsOf, isCode, lineAt, matches, resolve, type SourceFile, treeOf, walk } from './source.ts';

type Graph = ReadonlyMap<string, readonly string[]>;

function graphOf(files: readonly SourceFile[]): Graph {
  return new Map(
    files
      .filter(({ path }) => isCode(path))
      .map((file) => [
        file.path,
        importsOf(file)
          .map(({ specifier }) => resolve(file.path, specifier))
          .filter((target) => target !== null),
      ]),
  );
}

/** The shortest way from a file back to itself, or null. */
function circleAt(graph: Graph, start: string): readonly string[] | null {
  const ways: string[][] = [[start]];
  const seen = new Set<string>();
  for (let way = ways.shift(); way !== undefined; way = ways.shift())
    for (const next of graph.get(way.at(-1) ?? '') ?? []) {
      if (next === start) return [...way, start];
      if (!seen.has(next)) ways.push([...way, next]);
      seen.add(next);
    }
  return null;
}

/** Circles of imports, each named once, at its first file in order of names. */
export function checkCycles(files: readonly SourceFile[]): Finding[] {
  const graph = graphOf(files);
  const findings: Finding[] = [];
  const told = new Set<string>();
  for (const path of [...graph.keys()].sort()) {
    const circle = told.has(path) ? null : circleAt(graph, path);
    for (const member of circle ?? []) told.add(member);
    if (circle !== null) findings.push({ path, line: 1, message: `import circle: ${circle.join(' -> ')}` });
  }
  return findings;
}

/** Files of agent/ and nodes/ that no entry of the table reaches by imports. */
export function checkReach(files: readonly SourceFile[], table: RoomTable): Finding[] {
  const graph = graphOf(files);
  const reached = new Set<string>();
  const enter = (path: string): void => {
    if (reached.has(path)) return;
    reached.add(path);
    for (const next of graph.get(path) ?? []) enter(next);
  };
  for (const path of graph.keys()) if (table.entries.some((entry) => matches(entry.path, path))) enter(path);
  return [...graph.keys()]
    .filter((path) => /^(?:agent|nodes)\//.test(path) && !reached.has(path))
    .map((path) => ({ path, line: 1, message: 'nothing that runs imports this file' }));
}

/** Re-exports: a name is imported from the file that defines it. */
export function checkBarrels(files: readonly SourceFile[]): Finding[] {
  const findings: Finding[] = [];
  for (const file of files.filter(({ path }) => isCode(path)))
    walk(treeOf(file), (node) => {
      if (node.type.startsWith('Export') && node['source'] !== null && node['source'] !== undefined)
        findings.push({
          path: file.path,
          line: lineAt(file.text, node.start),
          message: 're-exports from another file; import from the file that defines the name',
        });
    });
  return findings;
}
