/** The declared period of a clean machine: what the site file says of it, and what must hold. */
import { z } from 'zod';
import { LIMITS } from '../base/limits.ts';
import { parseRfc3339, rfc3339 } from '../base/time.ts';
import { MODEL_NAMES } from '../baseline/models.ts';
import { issue, type SiteIssue, type SitePath } from './issues.ts';

const DAY = 86_400_000;

/** A date that a calendar has. */
const date = z.string().refine(
  (text) => {
    const midnight = /^\d{4}-\d{2}-\d{2}$/.test(text) ? parseRfc3339(`${text}T00:00:00Z`) : null;
    return midnight !== null && rfc3339(midnight).slice(0, 10) === text;
  },
  { message: 'must be a date such as 2026-07-01' },
);

export const baselineEntry = z
  .strictObject({
    from: date.describe('first local day on which the machine was clean, such as 2026-05-01'),
    to: date.describe('last such day, included'),
    model: z
      .enum(MODEL_NAMES)
      .optional()
      .describe('gordon_ng or bi_quadratic; left out: the one with the smaller error on hours left out of its fit'),
  })
  .describe('days of a clean machine in the history, that later ones are compared with; left out: no comparison');

export type BaselineEntry = z.output<typeof baselineEntry>;

function midnight(text: string): number {
  return parseRfc3339(`${text}T00:00:00Z`) ?? Number.NaN;
}

/** What a baseline is made of, beside power and capacity. */
const NEEDED = ['chilled_water.leaving_temperature', 'condenser_water.entering_temperature'] as const;

export function baselineIssues(
  given: unknown,
  { path, points }: { readonly path: SitePath; readonly points: readonly { readonly name: string }[] },
): SiteIssue[] {
  const parsed = baselineEntry.safeParse(given);
  if (!parsed.success) return [];
  const { from, to } = parsed.data;
  const days = (midnight(to) - midnight(from)) / DAY + 1;
  const issues: SiteIssue[] = [];
  if (days < 1) issues.push(issue('config_value', [...path, 'to'], `${to} is before ${from}: give the last day`));
  if (days > LIMITS.baseline_days_max)
    issues.push(
      issue('config_value', [...path, 'to'], `${days} days: a baseline takes at most ${LIMITS.baseline_days_max}`),
    );
  for (const name of NEEDED)
    if (!points.some((point) => point.name === name))
      issues.push(issue('config_value', path, `a baseline needs the point ${name}: map it, or leave the baseline out`));
  return issues;
}
