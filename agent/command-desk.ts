/**
 * Where commands to alarms come in: checked against the site, written down, and told what became of them. Whatever
 * comes, the answer is an outcome that is counted and, where it is refused, a line in the log.
 */
import type { Logger } from 'pino';
import { alarmNamed } from './alarms/builtin.ts';
import { checkShelf, isVerb, readCommand } from './alarms/commands.ts';
import type { CommandOutcome } from './alarms/evaluate.ts';
import type { Clock } from './base/clock.ts';
import { LIMITS } from './base/limits.ts';
import { type Fault, fail, ok, type Result } from './base/result.ts';
import type { CommandEntry } from './history/types.ts';
import { CommandLink } from './sinks/commands.ts';
import { rootOf, type SinkSurroundings } from './sinks-of.ts';
import type { Site } from './site/site.ts';
import type { TakeCommand } from './web/command-routes.ts';

/**
 * `stored`: written down, waits for its minute. `repeated`: came again, was known. `applied`: an alarm changed by it.
 * `without_effect`: the alarm was so already.
 */
export type CommandEnd = 'stored' | 'repeated' | 'applied' | 'without_effect' | 'refused' | 'put_off';

export interface CommandDeskOptions {
  readonly site: Pick<Site, 'chillers'>;
  /** Writes one down for good. */
  readonly store: (entry: CommandEntry, how: { readonly repeated: boolean }) => Result<'stored' | 'known'>;
  readonly clock: Clock;
  readonly log: Logger;
  readonly count: (verb: string, end: CommandEnd) => void;
  readonly checkpoint?: (name: 'command_received' | 'command_stored') => void;
}

export interface IncomingCommand {
  readonly verb: string;
  readonly payload: string;
  readonly repeated: boolean;
  readonly retained: boolean;
}

export class CommandDesk {
  readonly #options: CommandDeskOptions;
  /** Start of the present minute of the log, ms by the monotonic clock, and lines in it. */
  #lines = { since: 0, count: 0 };

  constructor(options: CommandDeskOptions) {
    this.#options = options;
  }

  /** `later`: the store takes nothing now; the far end is to send it again. */
  receive(incoming: IncomingCommand): 'done' | 'later' {
    const taken = this.take(incoming);
    return taken.ok || taken.fault.code === 'alarm_command' ? 'done' : 'later';
  }

  /** Checks a command and writes it down. Faults: `alarm_command`, and those of the store. */
  take(incoming: IncomingCommand): Result<'stored' | 'known'> {
    const { log, clock, store } = this.#options;
    const { verb, payload, repeated } = incoming;
    const checked = this.#check(incoming);
    if (!checked.ok) return this.#refuse(verb, checked.fault);
    const { chiller } = checked.value;
    this.#options.checkpoint?.('command_received');
    const stored = store({ chiller, received: clock.now(), verb, payload }, { repeated });
    if (stored.ok) {
      this.#options.checkpoint?.('command_stored');
      this.#count(verb, stored.value === 'known' ? 'repeated' : 'stored');
      return stored;
    }
    if (stored.fault.code === 'alarm_command') return this.#refuse(verb, stored.fault);
    this.#count(verb, 'put_off');
    log.warn({ code: stored.fault.code, verb }, `a command was put off: ${stored.fault.message}`);
    return stored;
  }

  /** What the minute made of a command. */
  became({ command, changed, refused }: CommandOutcome): void {
    const { chiller, alarm, verb, by } = command;
    if (refused !== null) this.#refuse(verb, refused);
    else {
      this.#count(verb, changed ? 'applied' : 'without_effect');
      this.#options.log.info({ chiller, alarm, verb, by, changed }, 'a command to an alarm was taken in');
    }
  }

  #check({ verb, payload, retained }: IncomingCommand): Result<{ readonly chiller: string }> {
    if (retained)
      return fail('alarm_command', `${verb}: a retained message commands nothing: publish it without retain`);
    if (Buffer.byteLength(payload) > LIMITS.command_bytes_max)
      return fail('alarm_command', `${verb}: longer than ${LIMITS.command_bytes_max} bytes`);
    const read = readCommand(verb, payload);
    if (!read.ok) return read;
    const command = read.value;
    const { chillers } = this.#options.site;
    const chiller = chillers.find(({ id }) => id === command.chiller);
    if (chiller === undefined) {
      const there = chillers.map(({ id }) => id).join(', ');
      return fail('alarm_command', `${verb}: chiller: no '${command.chiller.slice(0, 80)}' here; there are ${there}`);
    }
    const alarm = alarmNamed(chiller.alarms, command.alarm);
    if (alarm === null)
      return fail('alarm_command', `${verb}: alarm: ${chiller.id} has no '${command.alarm.slice(0, 80)}'`);
    const allowed = checkShelf(command, alarm, this.#options.clock.now());
    return allowed.ok ? ok({ chiller: chiller.id }) : allowed;
  }

  #refuse(verb: string, fault: Fault): { readonly ok: false; readonly fault: Fault } {
    this.#count(verb, 'refused');
    const now = this.#options.clock.monotonic();
    if (now - this.#lines.since >= 60_000) this.#lines = { since: now, count: 0 };
    this.#lines.count += 1;
    const last =
      this.#lines.count === LIMITS.command_log_lines_max ? '; further ones of this minute are only counted' : '';
    if (this.#lines.count <= LIMITS.command_log_lines_max)
      this.#options.log.warn({ code: fault.code }, `a command was refused: ${fault.message}${last}`);
    return { ok: false, fault };
  }

  /** Foreign words make no series of their own. */
  #count(verb: string, end: CommandEnd): void {
    this.#options.count(isVerb(verb) ? verb : 'unknown', end);
  }
}

/** The ear at the broker of the site; null where it has none, or wants no commands. */
export function commandLinkOf({ site, random, log }: SinkSurroundings, desk: CommandDesk): CommandLink | null {
  const { mqtt } = site;
  if (mqtt === null || !mqtt.commands) return null;
  return new CommandLink({
    url: mqtt.url,
    username: mqtt.username ?? undefined,
    password: mqtt.password?.reveal(),
    ca: mqtt.ca?.reveal(),
    clientId: `${mqtt.client_id}-commands`,
    address: `${rootOf(site)}/command`,
    receive: (command) => desk.receive(command),
    report: (fault) => log.warn({ code: fault.code }, fault.message),
    random,
  });
}

/**
 * The way from the page's form to the desk. Left out in the site file, the page takes commands on loopback alone: what
 * everybody in a network may reach should ask for a login first.
 */
export function pageCommands(
  { web: { host, commands } }: Pick<Site, 'web'>,
  desk: CommandDesk,
): { readonly command?: TakeCommand } {
  const loopback = host === 'localhost' || host === '::1' || host.startsWith('127.');
  if (!(commands ?? loopback)) return {};
  return { command: (verb, payload) => desk.take({ verb, payload, repeated: false, retained: false }) };
}
