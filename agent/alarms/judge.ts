/** What one interval says of an alarm: the controller's link, the sensors, a figure against its limit. */
import type { Figure } from '../base/metric.ts';
import { UNITS, type UnitName } from '../base/units.ts';
import { type AlarmInput, verdictOf } from './life.ts';
import type { AlarmRule } from './rules.ts';
import type { AlarmView, Evidence } from './view.ts';

export type Judged = Pick<AlarmInput, 'verdict' | 'value' | 'explained'> & { readonly evidence: readonly Evidence[] };

const NOTHING_KNOWN: Judged = { verdict: 'unknown', explained: null, value: null, evidence: [] };

export function judgeLink({ link: { state, reason } }: AlarmView): Judged {
  if (state === 'connected') return { ...NOTHING_KNOWN, verdict: 'good' };
  // 'connecting' is the first attempt after a start: too early to say anything.
  if (state !== 'lost') return NOTHING_KNOWN;
  const found = { name: 'link', found: reason ?? 'lost', expected: 'the controller answers' };
  return { ...NOTHING_KNOWN, verdict: 'crossed', evidence: [found] };
}

export function judgeSensors({ link, implausible }: AlarmView): Judged {
  if (link.state !== 'connected') return NOTHING_KNOWN;
  return {
    ...NOTHING_KNOWN,
    verdict: implausible.length > 0 ? 'crossed' : 'good',
    evidence: implausible.map(({ name, reason }) => ({ name, found: reason, expected: 'a believable reading' })),
  };
}

export function judgeSuspects({ link, suspects }: AlarmView): Judged {
  if (link.state !== 'connected') return NOTHING_KNOWN;
  return {
    ...NOTHING_KNOWN,
    verdict: suspects.length > 0 ? 'crossed' : 'good',
    evidence: suspects.map(({ name, reason }) => ({ name, found: reason, expected: 'what the balances tell' })),
  };
}

export function judgeRule(rule: AlarmRule, view: AlarmView): Judged {
  if (rule.when !== 'always' && view.running === null) return NOTHING_KNOWN;
  const explained = explanation(rule, view);
  // Unsteady is a pause in the evidence: only start-up and a machine that stopped explain an alarm away.
  if (explained === null && rule.when === 'steady' && !view.steady) return NOTHING_KNOWN;
  const figure = view.figures[rule.watch];
  if (figure === undefined || figure.value === null) return { ...NOTHING_KNOWN, explained };
  const margin = rule.beyond_uncertainty ? (figure.uncertainty ?? 0) : 0;
  const verdict = verdictOf(rule, figure.value, margin);
  const evidence = verdict === 'crossed' ? [evidenceOf(rule, figure)] : [];
  return { verdict, explained, value: figure.value, evidence };
}

/** Why the machine's state explains whatever the figure says; null: it does not. */
function explanation(rule: AlarmRule, { running, running_for_s }: AlarmView): string | null {
  if (rule.when === 'always') return null;
  if (running !== true) return 'the machine does not run';
  return running_for_s < rule.running_for_s ? 'the machine has just started' : null;
}

function evidenceOf(rule: AlarmRule, figure: Figure): Evidence {
  const label = UNITS[rule.unit as UnitName].label;
  const give = (value: number): string => `${Number(value.toPrecision(5))}${label === '' ? '' : ` ${label}`}`;
  const u = figure.uncertainty === null ? '' : ` ± ${give(Number(figure.uncertainty.toPrecision(2)))} (k = 2)`;
  const doubt = figure.quality === 'good' ? '' : `, ${figure.quality}: ${figure.reason}`;
  return {
    name: rule.watch,
    found: `${give(figure.value as number)}${u}${doubt}`,
    expected: `not ${rule.side} ${give(rule.limit)}`,
  };
}
