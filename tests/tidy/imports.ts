/** Who may import whom: rooms by the table of rooms.json, packages by room, `node:` modules at the edges alone. */
import { type Finding, type Import, importsOf, isCode, resolve, type SourceFile } from './source.ts';

export interface RoomTable {
  /** Each may import those left of it. */
  readonly pure: readonly string[];
  /** Import pure rooms, never each other. */
  readonly edges: readonly string[];
  /** Join the edges; may import every room but `plant`, which only `commands` starts, and `main`. */
  readonly joints: readonly string[];
  readonly packages: Readonly<Record<string, readonly string[]>>;
  readonly pure_packages: readonly string[];
  /** Rooms that may start processes. */
  readonly child_process: readonly string[];
  readonly entries: readonly { readonly path: string; readonly reason: string }[];
}

const SINGLE = ['main', 'launch', 'minute'];

/**
 * The room a path belongs to: `agent/cycle/x.ts` -> `cycle`, `agent/minute.ts` -> `minute`; other files right under
 * agent/ are parts of the composition root `agent`. Null outside agent/ and nodes/.
 */
export function roomOf(path: string): string | null {
  if (path.startsWith('agent/web/page/')) return 'page';
  if (path.startsWith('nodes/')) return 'nodes';
  const [, folder, file = ''] = /^agent\/(?:([^/]+)\/.+|([^/.]+)\.\w+)$/.exec(path) ?? [];
  if (folder !== undefined) return folder;
  return file === '' ? null : SINGLE.includes(file) ? file : 'agent';
}

/** The rooms that `room` may import, itself included; null for a room that the table does not know. */
export function allowedRooms(room: string, table: RoomTable): readonly string[] | null {
  const place = table.pure.indexOf(room);
  if (place >= 0) return table.pure.slice(0, place + 1);
  if (room === 'web') return [...table.pure, 'web', 'page'];
  if (table.edges.includes(room)) return [...table.pure, room];
  if (room === 'page' || room === 'launch') return [room];
  if (room === 'plant') return ['base', 'plant'];
  if (room === 'nodes') return [...table.pure, 'config', 'nodes'];
  if (room === 'agent') return [...table.pure, ...table.edges, 'agent'];
  if (room === 'commands') return [...table.pure, ...table.edges, 'agent', 'plant', 'commands'];
  if (room === 'main') return ['base', 'commands', 'main'];
  return null;
}

function packageOf(specifier: string): string {
  return specifier
    .split('/')
    .slice(0, specifier.startsWith('@') ? 2 : 1)
    .join('/');
}

function outside(room: string, specifier: string, table: RoomTable): string | null {
  const pure = table.pure.includes(room);
  if (specifier.startsWith('node:')) {
    if (pure) return `the pure room '${room}' may not import ${specifier}`;
    if (room === 'page') return `the page runs in a browser and may not import ${specifier}`;
    if (specifier === 'node:child_process' && room !== 'launch' && !table.child_process.includes(room))
      return `only ${table.child_process.join(', ')} start processes; '${room}' may not import ${specifier}`;
    return null;
  }
  const allowed = pure ? table.pure_packages : (table.packages[room] ?? []);
  return allowed.includes(packageOf(specifier))
    ? null
    : `'${room}' may not import the package '${packageOf(specifier)}' (allowed: ${allowed.join(', ') || 'none'})`;
}

function inside(room: string, target: string, table: RoomTable, known: ReadonlySet<string>): string | null {
  if (!known.has(target)) return `imports ${target}, which does not exist`;
  const other = roomOf(target);
  // The version that runs is told from there.
  if (target === 'package.json' && room === 'agent') return null;
  if (other === null) return `imports ${target}, outside the rooms`;
  return allowedRooms(room, table)?.includes(other) === true ? null : `'${room}' may not import '${other}' (${target})`;
}

function judge(
  file: SourceFile,
  room: string,
  one: Import,
  table: RoomTable,
  known: ReadonlySet<string>,
): string | null {
  const target = resolve(file.path, one.specifier);
  return target === null ? outside(room, one.specifier, table) : inside(room, target, table, known);
}

/** Breaches of the import table in agent/ and nodes/. Tests may import anything. */
export function checkImports(files: readonly SourceFile[], table: RoomTable): Finding[] {
  const known = new Set(files.map(({ path }) => path));
  const findings: Finding[] = [];
  for (const file of files) {
    const room = isCode(file.path) ? roomOf(file.path) : null;
    if (room === null) continue;
    if (allowedRooms(room, table) === null)
      findings.push({ path: file.path, line: 1, message: `the room '${room}' is not in the import table` });
    else
      for (const one of importsOf(file)) {
        const message = judge(file, room, one, table, known);
        if (message !== null) findings.push({ path: file.path, line: one.line, message });
      }
  }
  return findings;
}
