/**
 * The package: what lies at the top, exact versions, a lock file without hosts, no dependency that nothing uses, every
 * kind of test run by somebody.
 */
import type { Finding, SourceFile } from './source.ts';

const TOP = ['README.md', 'DEVELOPERS.md', 'LICENSE', 'package.json', 'package-lock.json', 'tsconfig.json'];
const FOLDERS = ['agent', 'nodes', 'config', 'tests', 'deploy'];

export function checkTop(paths: readonly string[]): Finding[] {
  const tops = new Set(paths.map((path) => (path.includes('/') ? `${path.split('/')[0]}/` : path)));
  return [...tops]
    .filter((top) => !top.startsWith('.') && !TOP.includes(top) && !FOLDERS.includes(top.replace('/', '')))
    .map((path) => ({ path, line: 1, message: 'does not belong at the top of the project' }));
}

export interface Manifest {
  readonly scripts: Readonly<Record<string, string>>;
  readonly dependencies: Readonly<Record<string, string>>;
  readonly devDependencies: Readonly<Record<string, string>>;
  readonly optionalDependencies: Readonly<Record<string, string>>;
}

/** Exact versions; and each dependency is named by a file that may use it. */
export function checkManifest(manifest: Manifest, files: readonly SourceFile[]): Finding[] {
  const path = 'package.json';
  const findings: Finding[] = [];
  const all = { ...manifest.dependencies, ...manifest.devDependencies, ...manifest.optionalDependencies };
  for (const [name, version] of Object.entries(all))
    if (!/^\d+\.\d+\.\d+(?:-[\da-z.-]+)?$/i.test(version))
      findings.push({ path, line: 1, message: `${name} has the version '${version}', which is not exact` });
  const used = (name: string, where: RegExp): boolean =>
    files.some((file) => where.test(file.path) && file.text.includes(name));
  for (const name of Object.keys(manifest.dependencies))
    if (!used(name, /^(?:agent|nodes)\//))
      findings.push({ path, line: 1, message: `nothing in agent/ uses '${name}'` });
  const scripts = Object.values(manifest.scripts).join('\n');
  for (const name of Object.keys(manifest.devDependencies)) {
    const typed = name.replace(/^@types\//, '');
    const short = typed.replace(/^@biomejs\//, '');
    // Types are used where what they describe is.
    const of = typed === name ? name : `from '${typed}`;
    if (
      !used(of, /^(?:agent|nodes|tests|tsconfig|\.ci)/) &&
      !scripts.includes(short) &&
      !used(`"${short}"`, /^tsconfig/)
    )
      findings.push({ path, line: 1, message: `nothing in tests/ or the scripts uses '${name}'` });
  }
  return findings;
}

interface Lock {
  readonly packages: Readonly<
    Record<string, { readonly resolved?: string; readonly integrity?: string; readonly link?: boolean }>
  >;
}

/** No host in the lock file, a checksum for every package. */
export function checkLock(lock: Lock): Finding[] {
  const path = 'package-lock.json';
  return Object.entries(lock.packages)
    .filter(([name]) => name !== '')
    .flatMap(([name, { resolved, integrity }]) => [
      ...(resolved === undefined ? [] : [{ path, line: 1, message: `${name} names the host it came from` }]),
      ...(integrity === undefined ? [{ path, line: 1, message: `${name} has no checksum` }] : []),
    ]);
}

/** Kinds of tests that neither `npm test`, `npm run bench` nor the script of the continuous integration runs. */
export function checkKinds(kinds: readonly string[], scripts: readonly string[]): Finding[] {
  const text = scripts.join('\n');
  return kinds
    .filter((kind) => !new RegExp(`(?:--project[ =]|\\bkind )${kind}\\b`).test(text))
    .map((kind) => ({ path: 'tests/vitest.config.ts', line: 1, message: `nobody runs the tests of kind '${kind}'` }));
}

/** Test files outside a known kind would never run. */
export function checkTestPlaces(paths: readonly string[], kinds: readonly string[]): Finding[] {
  return paths
    .filter((path) => /\.(?:test|spec)\.[cm]?[jt]s$/.test(path))
    .filter((path) => !kinds.some((kind) => path.startsWith(`tests/${kind}/`) && path.endsWith('.test.ts')))
    .map((path) => ({ path, line: 1, message: 'lies where no kind of tests looks' }));
}

/**
 * Peers that a test says it takes from Debian ("Debian: a, b") and that the continuous integration does not install.
 */
export function checkPeers(files: readonly SourceFile[], integration: string): Finding[] {
  const installed = new Set(integration.split(/[\s;]+/));
  return files
    .filter(({ path }) => path.startsWith('tests/') && !path.startsWith('tests/tidy/'))
    .flatMap(({ path, text }) =>
      [...text.matchAll(/\bDebian: ([a-z0-9-]+(?:,[\s*/#]+[a-z0-9-]+)*)/g)]
        .flatMap(([, names = '']) => names.split(/[,\s*/#]+/))
        .filter((name) => !installed.has(name))
        .map((name) => ({ path, line: 1, message: `takes '${name}' from Debian, which .ci/run does not install` })),
    );
}
