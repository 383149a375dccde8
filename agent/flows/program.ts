/** Finds Node-RED where the user installed it. The agent brings none. */
import { existsSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { fail, ok, type Result } from '../base/result.ts';

const NEEDED_MAJOR = 5;

/** The script to start. Faults: `node_red_missing`, which say what to do. */
export function findProgram({ folder, program }: { folder: string; program: string | null }): Result<string> {
  const place = path.resolve(program ?? path.join(folder, 'node_modules', 'node-red'));
  const install =
    program === null
      ? `in ${path.resolve(folder)} run \`npm install node-red@${NEEDED_MAJOR}\``
      : 'correct node_red.program in the site file, or leave it out';
  const script = path.join(place, 'red.js');
  const version = versionOf(path.join(place, 'package.json'));
  if (version === null || !existsSync(script))
    return fail('node_red_missing', `there is no Node-RED in ${place}: ${install}`);
  if (Number.parseInt(version, 10) >= NEEDED_MAJOR) return ok(script);
  return fail('node_red_missing', `Node-RED in ${place} is ${version}, older than ${NEEDED_MAJOR}: ${install}`);
}

function versionOf(file: string): string | null {
  try {
    const { name, version } = JSON.parse(readFileSync(file, 'utf8')) as { name?: unknown; version?: unknown };
    return name === 'node-red' && typeof version === 'string' ? version : null;
  } catch {
    return null;
  }
}
