/** What the command line says beside its verbs. */
import { nearest } from '../site/nearest.ts';
import { VERSION } from '../version.ts';

export function versionLine(): string {
  return `tonhour ${VERSION}\n`;
}

export function unknownVerb(verb: string, verbs: readonly string[]): string {
  const meant = nearest(verb, verbs);
  const hint = meant === null ? '' : `; the nearest is '${meant}'`;
  return `tonhour: there is no verb '${verb}'; it is one of ${verbs.join(', ')}${hint}\n`;
}
