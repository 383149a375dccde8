/** Documents against the project: commands that exist, links that resolve, the job first. */
import { type Finding, lineAt, type SourceFile } from './source.ts';

const FENCE = /^```[^\n]*\n([\s\S]*?)^```/gm;

/** GitHub's anchor of a heading. */
function anchorOf(heading: string): string {
  return heading
    .toLowerCase()
    .replaceAll(/[^\p{L}\p{N}\s_-]/gu, '')
    .trim()
    .replaceAll(' ', '-');
}

function anchorsOf(text: string): string[] {
  return [...text.replaceAll(FENCE, '').matchAll(/^#{1,6} (.+)$/gm)].map(([, heading]) => anchorOf(heading ?? ''));
}

function within(path: string, target: string): string {
  const parts = path.split('/').slice(0, -1);
  for (const part of target.split('/')) {
    if (part === '..') parts.pop();
    else if (part !== '.' && part !== '') parts.push(part);
  }
  return parts.join('/');
}

/** Links between the project's own files, anchors included, and pictures. `paths` are all files, binary ones too. */
export function checkLinks(files: readonly SourceFile[], paths: readonly string[]): Finding[] {
  const folders = new Set(paths.flatMap((path) => path.split('/').map((_, i, all) => all.slice(0, i).join('/'))));
  const findings: Finding[] = [];
  for (const file of files.filter(({ path }) => path.endsWith('.md'))) {
    const prose = file.text.replaceAll(FENCE, (block) => block.replaceAll(/[^\n]/g, ' '));
    for (const hit of prose.matchAll(/\]\(([^)\s]+)(?:\s+"[^"]*")?\)/g)) {
      const [target = '', anchor] = (hit[1] ?? '').split('#');
      if (/^[a-z]+:/.test(target)) continue;
      const path = target === '' ? file.path : within(file.path, target);
      const there = paths.includes(path) || folders.has(path);
      const text = files.find((one) => one.path === path)?.text;
      const said =
        !there || (anchor !== undefined && text !== undefined && !anchorsOf(text).includes(anchor))
          ? `links to ${hit[1]}, which does not exist`
          : null;
      if (said !== null) findings.push({ path: file.path, line: lineAt(file.text, hit.index), message: said });
    }
  }
  return findings;
}

export interface Known {
  readonly scripts: readonly string[];
  readonly verbs: readonly string[];
}

function unknownIn(command: string, { scripts, verbs }: Known): string[] {
  const wrong: string[] = [];
  for (const [, script = '', rest = ''] of command.matchAll(/\bnpm (?:run (?:-s )?)?([\w:.-]+)((?: [^\n;&|`]*)?)/g)) {
    if (['ci', 'install', 'run', 'audit', 'ls', 'pack'].includes(script)) continue;
    const name = script === 't' ? 'test' : script;
    if (!scripts.includes(name)) wrong.push(`npm script '${name}'`);
    const verb = name === 'tonhour' ? /^ -- ([a-z]\w*)/.exec(rest)?.[1] : undefined;
    if (verb !== undefined && !verbs.includes(verb)) wrong.push(`verb '${verb}'`);
  }
  return wrong;
}

/** Commands in code spans and fences: scripts of package.json, verbs of the command line, files that are there. */
export function checkCommands(files: readonly SourceFile[], known: Known): Finding[] {
  const findings: Finding[] = [];
  for (const file of files.filter(({ path }) => path.endsWith('.md')))
    for (const hit of file.text.matchAll(/^```[^\n]*\n([\s\S]*?)^```|`([^`\n]+)`/gm))
      for (const wrong of unknownIn(hit[1] ?? hit[2] ?? '', known))
        findings.push({ path: file.path, line: lineAt(file.text, hit.index), message: `${wrong} does not exist` });
  return findings;
}

/** The README: a heading, the job in one paragraph, then the two commands, before anything else. */
export function checkReadme(text: string): Finding[] {
  const path = 'README.md';
  const blocks = text.trim().split(/\n{2,}/);
  const [heading = '', job = '', commands = ''] = blocks;
  const findings: Finding[] = [];
  const say = (message: string) => findings.push({ path, line: 1, message });
  if (!/^# \S/.test(heading)) say('does not open with its title');
  if (/^(?:[#>*!`|-]|\d+\.)/.test(job) || job.split(/\s+/).length < 30)
    say('the job in one paragraph does not follow the title');
  for (const command of ['npm ci && npm start', 'npm ci && npm test'])
    if (!commands.includes(command)) say(`'${command}' does not follow the paragraph of the job`);
  return findings;
}

/** Every room has its line in the developers' document, and every room named there exists. */
export function checkRoomsTold(text: string, rooms: readonly string[]): Finding[] {
  const told = [...text.matchAll(/^\| `([a-z]+)\/?`/gm)].map(([, room]) => room ?? '');
  return [
    ...rooms.filter((room) => !told.includes(room)).map((room) => `does not tell of the room '${room}'`),
    ...told.filter((room) => !rooms.includes(room)).map((room) => `tells of the room '${room}', which does not exist`),
  ].map((message) => ({ path: 'DEVELOPERS.md', line: 1, message }));
}
