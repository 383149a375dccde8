import type { Site } from '../site/site.ts';
import type { ReplaySummary } from './replay-summary.ts';
export function replayReport(_summary: ReplaySummary, _site: Site): string {
  return '<!doctype html>';
}
