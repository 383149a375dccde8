/** Arguments, signals, exit code: the only place that ends the process. One verb is one file of `commands/`. */
import type { Command } from './commands/io.ts';
import { unknownVerb, versionLine } from './commands/verbs.ts';

const VERBS: Readonly<Record<string, () => Promise<{ readonly command: Command }>>> = {
  run: () => import('./commands/run.ts'),
  plant: () => import('./commands/plant.ts'),
  properties: () => import('./commands/properties.ts'),
  cycle: () => import('./commands/cycle.ts'),
  solve: () => import('./commands/solve.ts'),
  hunting: () => import('./commands/hunting.ts'),
  check: () => import('./commands/check.ts'),
  scan: () => import('./commands/scan.ts'),
  season: () => import('./commands/season.ts'),
  log: () => import('./commands/log.ts'),
  export: () => import('./commands/export.ts'),
  status: () => import('./commands/status.ts'),
  bundle: () => import('./commands/bundle.ts'),
  replay: () => import('./commands/replay.ts'),
  alarm: () => import('./commands/alarm.ts'),
  callout: () => import('./commands/callout.ts'),
};

async function help(): Promise<string> {
  const lines = ['tonhour VERB [options]', ''];
  for (const [verb, load] of Object.entries(VERBS)) {
    const { command } = await load();
    lines.push(`  ${verb.padEnd(12)} ${command.summary}`);
  }
  return `${lines.join('\n')}\n\n'tonhour VERB --help' shows the options of a verb, 'tonhour --version' the version.\n`;
}

async function main(): Promise<number> {
  const [verb, ...args] = process.argv.slice(2);
  if (verb === undefined || verb === 'help' || verb === '--help' || verb === '-h') {
    process.stdout.write(await help());
    return verb === undefined ? 2 : 0;
  }
  if (verb === 'version' || verb === '--version') {
    process.stdout.write(versionLine());
    return 0;
  }
  const load = Object.hasOwn(VERBS, verb) ? VERBS[verb] : undefined;
  if (load === undefined) {
    process.stderr.write(unknownVerb(verb, Object.keys(VERBS)));
    return 2;
  }
  const { command } = await load();
  if (args.includes('--help') || args.includes('-h')) {
    process.stdout.write(`${command.usage.trimEnd()}\n`);
    return 0;
  }
  const stop = new AbortController();
  let asked = 0;
  const onSignal = (): void => {
    asked += 1;
    // The first asks for an orderly end; a second one will not wait for it.
    if (asked > 1) process.exit(1);
    stop.abort();
  };
  process.on('SIGINT', onSignal);
  process.on('SIGTERM', onSignal);
  return command.run(args, { in: process.stdin, out: process.stdout, err: process.stderr, stop: stop.signal });
}

// A reader that went away (`| head`) is not a failure of ours.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error;
  process.exit(0);
});

const code = await main();
// What was printed leaves first: on a pipe, exit would cut it off.
process.stdout.write('', () => process.exit(code));
