/**
 * What people command of alarms: acknowledge, shelve, unshelve. A command speaks of an alarm of this agent and never
 * reaches a chiller. It is read and checked at the door, stored, and takes effect with the next interval of its
 * chiller.
 */
import { z } from 'zod';
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import { parseRfc3339, rfc3339 } from '../base/time.ts';
import { type AlarmState, type Shelf, type Step, signalled } from './life.ts';
import { isShelved } from './states.ts';

export const COMMAND_VERBS = ['acknowledge', 'shelve', 'unshelve'] as const;
export type CommandVerb = (typeof COMMAND_VERBS)[number];

const instant = z.iso
  .datetime({ offset: true })
  .refine((text) => parseRfc3339(text) !== null, 'is no instant such as 2026-07-01T06:00:00Z');
const words = (what: string) => z.string().trim().min(1).max(LIMITS.command_text_max).describe(what);

/** Payload of `<prefix>/<site>/command/<verb>`; unknown keys are refused. */
export const commandPayload = z.strictObject({
  chiller: words('id of the chiller'),
  alarm: words('id of the alarm'),
  by: words('who commands it'),
  reason: words('why; shelving asks for it').optional(),
  until: instant.optional().describe('end of a shelf; left out: eight hours after it is taken'),
  raised: instant
    .optional()
    .describe('`raised` of the occurrence that is acknowledged, as published: a later one is then left alone'),
});

/** A command that was understood. Times in ms since the epoch. */
export interface AlarmCommand {
  readonly verb: CommandVerb;
  readonly chiller: string;
  readonly alarm: string;
  readonly by: string;
  readonly reason: string | null;
  readonly until: number | null;
  /** Which occurrence is meant; null: the present one. */
  readonly raised: number | null;
}

export function isVerb(text: string): text is CommandVerb {
  return (COMMAND_VERBS as readonly string[]).includes(text);
}

/** Reads a command; what it speaks of is checked where the alarm is known. Fault: `alarm_command`, one sentence. */
export function readCommand(verb: string, payload: string): Result<AlarmCommand> {
  if (!isVerb(verb))
    return fail('alarm_command', `there is no command '${short(verb)}': it is one of ${COMMAND_VERBS.join(', ')}`);
  let given: unknown;
  try {
    given = JSON.parse(payload);
  } catch {
    return fail('alarm_command', `${verb}: the payload is not JSON: ${short(payload)}`);
  }
  const parsed = commandPayload.safeParse(given);
  if (!parsed.success) {
    const [issue] = parsed.error.issues;
    const key = issue?.path.join('.') ?? '';
    return fail(
      'alarm_command',
      `${verb}: ${key === '' ? '' : `${short(key)}: `}${short(issue?.message ?? 'is wrong')}`,
    );
  }
  const { chiller, alarm, by, reason = null, until, raised } = parsed.data;
  if (verb === 'shelve' && reason === null) return fail('alarm_command', 'shelve: reason: say why it is shelved');
  if (verb !== 'shelve' && until !== undefined)
    return fail('alarm_command', `${verb}: until: only a shelf has an end; leave it out`);
  const ms = (text: string | undefined): number | null => (text === undefined ? null : parseRfc3339(text));
  return ok({ verb, chiller, alarm, by, reason, until: ms(until), raised: ms(raised) });
}

/** What a message may carry of foreign text. */
function short(text: string): string {
  return text.length > 80 ? `${text.slice(0, 80)}...` : text;
}

export interface Commanded {
  readonly id: string;
  /** May not be shelved: freeze, oil, refrigerant detectors. */
  readonly protected: boolean;
}

/** Whether a shelf may be: of this alarm, and of this length. `time`: ms, when it is asked for. */
export function checkShelf(command: AlarmCommand, alarm: Commanded, time: number): Result<void> {
  if (command.verb !== 'shelve') return ok(undefined);
  if (alarm.protected)
    return fail(
      'alarm_command',
      `shelve: ${alarm.id} is never shelved: freeze, oil and refrigerant alarms stay visible`,
    );
  const { until } = command;
  if (until === null) return ok(undefined);
  if (until <= time) return fail('alarm_command', `shelve: until ${rfc3339(until)} is over already`);
  if (until > time + LIMITS.alarm_shelf_s_max * 1000)
    return fail(
      'alarm_command',
      `shelve: until ${rfc3339(until)} is too far: at most ${LIMITS.alarm_shelf_s_max / 86_400} days from now`,
    );
  return ok(undefined);
}

/** Applies a command to the state of its alarm. The same command once more changes nothing. */
export function commanded(before: AlarmState, command: AlarmCommand, alarm: Commanded, time: number): Result<Step> {
  const { verb, by, reason, raised } = command;
  const deed = { by, reason, time };
  if (verb === 'acknowledge') {
    if (raised !== null && before.raised !== null && raised !== before.raised)
      return fail('alarm_command', `acknowledge: ${alarm.id} was raised again at ${rfc3339(before.raised)}`);
    return ok(signalled(before, 'acknowledge', { time, deed }));
  }
  if (verb === 'unshelve') return ok(signalled(before, 'unshelve', { time }));
  const allowed = checkShelf(command, alarm, time);
  if (!allowed.ok) return allowed;
  if (sameShelf(before, command)) return ok({ state: before, change: null });
  const until = command.until ?? time + LIMITS.alarm_shelf_s * 1000;
  const shelf: Shelf = { ...deed, until, lasted_s: 0 };
  return ok(signalled(before, 'shelve', { time, shelf }));
}

function sameShelf({ state, shelf }: AlarmState, { by, reason, until }: AlarmCommand): boolean {
  if (!isShelved(state) || shelf === null) return false;
  return shelf.by === by && shelf.reason === reason && (until === null || until === shelf.until);
}
