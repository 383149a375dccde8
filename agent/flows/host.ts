/**
 * Hosts Node-RED as a process of its own. A flow may throw, flood, block or leak: it has its own thread, memory and
 * turn of the processor, and nothing of the agent ever waits for it. What ends is started anew, later each time.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, writeFileSync } from 'node:fs';
import { constants, setPriority } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import type { ErrorCode } from '../base/errors.ts';
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';
import type { SiteNodeRed } from '../site/node-red.ts';
import { readOutput } from './output.ts';
import { answers, residentMb } from './probe.ts';
import { findProgram } from './program.ts';
import type { Timers } from './timers.ts';

const SETTINGS = fileURLToPath(new URL('./settings.cjs', import.meta.url));
/** Whatever else the agent's environment holds, secrets of the site file above all, is not for flows. */
const PASSED_ON = /^(?:PATH|HOME|USER|LOGNAME|SHELL|LANG|LC_\w+|TZ|TMPDIR|NODE_EXTRA_CA_CERTS|(?:https?|no)_proxy)$/i;
/** Part of the memory bound that the garbage-collected heap may have: the rest is code, stacks and buffers. */
const HEAP_PART = 0.75;

interface Log {
  info(about: object, message: string): void;
  warn(about: object, message: string): void;
  error(about: object, message: string): void;
}

export interface FlowHostOptions {
  readonly settings: SiteNodeRed;
  readonly environment: Readonly<Record<string, string | undefined>>;
  readonly timers: Timers;
  /** Milliseconds of a clock that never steps. */
  readonly now: () => number;
  readonly log: Log;
}

/** How the hosted Node-RED is, and what became of its processes since the agent started. */
export interface FlowStatus {
  /** `silent`: it runs and has not answered for a while; `ended`: it is started anew after a pause. */
  readonly state: 'starting' | 'answering' | 'silent' | 'ended' | 'stopped';
  readonly starts: number;
  /** Times that it ended or could not be started, by the code of the reason. */
  readonly failures: Readonly<Partial<Record<ErrorCode, number>>>;
}

/** One started process. */
interface Running {
  readonly child: ChildProcess;
  readonly began: number;
  /** When it last answered; its start before that. */
  heard: number;
  up: boolean;
  silenceSaid: boolean;
  /** Why the agent ended it; null where it ended by itself. */
  ended: { readonly code: ErrorCode; readonly reason: string } | null;
}

export class FlowHost {
  readonly #options: FlowHostOptions;
  #running: Running | null = null;
  #failures = 0;
  #starts = 0;
  readonly #failed: Partial<Record<ErrorCode, number>> = {};
  #said: string | null = null;
  #cancel: (() => void) | null = null;
  #stopped = false;

  constructor(options: FlowHostOptions) {
    this.#options = options;
  }

  get url(): string {
    const { host, port } = this.#options.settings;
    return `http://${host.includes(':') ? `[${host}]` : host}:${port}`;
  }

  status(): FlowStatus {
    return { state: this.#state(), starts: this.#starts, failures: { ...this.#failed } };
  }

  #state(): FlowStatus['state'] {
    if (this.#stopped) return 'stopped';
    if (this.#running === null) return Object.keys(this.#failed).length === 0 ? 'starting' : 'ended';
    if (this.#running.silenceSaid) return 'silent';
    return this.#running.up ? 'answering' : 'starting';
  }

  /** Returns at once: whether it comes up is told in the log. */
  start(): void {
    if (this.#stopped || this.#running !== null) return;
    const started = this.#spawn();
    if (started.ok) {
      this.#running = started.value;
      this.#look(started.value);
    } else this.#again(started.fault.code, started.fault.message);
  }

  async stop(): Promise<void> {
    this.#stopped = true;
    this.#cancel?.();
    const running = this.#running;
    if (running === null) return;
    const { child } = running;
    const gone = child.exitCode !== null || child.signalCode !== null ? null : once(child, 'exit');
    child.kill('SIGTERM');
    const late = this.#options.timers.after(LIMITS.node_red_stop_ms_max, () => killGroup(child));
    await gone;
    late();
    killGroup(child);
  }

  #spawn(): Result<Running> {
    const { settings, environment, now } = this.#options;
    const program = findProgram(settings);
    if (!program.ok) return program;
    const folder = path.resolve(settings.folder);
    try {
      mkdirSync(folder, { recursive: true });
    } catch (error) {
      return fail('node_red_ended', `its folder ${folder} cannot be made (${(error as NodeJS.ErrnoException).code})`);
    }
    const { host, port, username, memory_mb } = settings;
    const given = { host, port, folder, username, password_hash: settings.password_hash.reveal(), parent: process.pid };
    const passed = Object.entries(environment).filter(([name]) => PASSED_ON.test(name));
    const heap = `--max-old-space-size=${Math.floor(HEAP_PART * memory_mb)}`;
    // A group of its own: Ctrl-C reaches the agent alone, and what its flows start can be ended with it.
    const child = spawn(process.execPath, [heap, program.value, '--settings', SETTINGS, '--userDir', folder], {
      cwd: folder,
      env: { ...Object.fromEntries(passed), TONHOUR_NODE_RED: JSON.stringify(given) },
      stdio: ['ignore', 'pipe', 'pipe'],
      detached: true,
    });
    this.#starts += 1;
    const began = now();
    const running: Running = { child, began, heard: began, up: false, silenceSaid: false, ended: null };
    this.#listen(running);
    return ok(running);
  }

  #listen(running: Running): void {
    const { log, timers } = this.#options;
    const { child } = running;
    const readers = [child.stdout, child.stderr].flatMap((stream) => {
      if (stream === null) return [];
      const line = (text: string): void => log.info({ part: 'node_red' }, text);
      const dropped = (count: number): void => log.warn({ part: 'node_red', count }, 'lines of Node-RED left out');
      return [readOutput(stream, { timers, line, dropped })];
    });
    if (child.pid !== undefined) stepBack(child.pid);
    let over = false;
    const end = (reason: string): void => {
      if (over) return;
      over = true;
      for (const stop of readers) stop();
      killGroup(child);
      if (this.#running === running) this.#running = null;
      if (this.#options.now() - running.began > LIMITS.node_red_settled_ms) this.#failures = 0;
      if (!this.#stopped) this.#again(running.ended?.code ?? 'node_red_ended', running.ended?.reason ?? reason);
    };
    child.once('error', (error) => end(`cannot be started: ${error.message}`));
    child.once('exit', (code, signal) => end(`it ended with ${signal ?? code}`));
  }

  /** Tries anew after a pause that doubles with each failure; the same reason is told once. */
  #again(code: ErrorCode, reason: string): void {
    const { log, timers } = this.#options;
    const { node_red_backoff_ms_min: least, node_red_backoff_ms_max: most } = LIMITS;
    const pause_ms = Math.min(most, least * 2 ** Math.min(this.#failures, 30));
    this.#failures += 1;
    this.#failed[code] = (this.#failed[code] ?? 0) + 1;
    const about = { code, part: 'node_red', pause_s: pause_ms / 1000 };
    if (reason !== this.#said) log.error(about, `Node-RED does not run: ${reason}`);
    else log.info(about, 'Node-RED does not run, for the same reason');
    this.#said = reason;
    this.#cancel?.();
    this.#cancel = timers.after(pause_ms, () => this.start());
  }

  /** Looks after one process every few seconds, as long as it is the one. */
  #look(running: Running): void {
    this.#cancel = this.#options.timers.after(LIMITS.node_red_look_ms, () => {
      void this.#judge(running).then(() => {
        if (this.#running === running && !this.#stopped) this.#look(running);
      });
    });
  }

  async #judge(running: Running): Promise<void> {
    const { settings, now, log } = this.#options;
    const { pid } = running.child;
    const [heard, held] = await Promise.all([
      answers(settings, LIMITS.node_red_look_ms),
      pid === undefined ? null : residentMb(pid),
    ]);
    if (this.#running !== running || this.#stopped) return;
    if (heard) {
      running.heard = now();
      if (!running.up) log.info({ part: 'node_red', url: this.url }, 'Node-RED answers');
      else if (running.silenceSaid) log.info({ part: 'node_red' }, 'Node-RED answers again');
      [running.up, running.silenceSaid, this.#said] = [true, false, null];
    }
    const silent_ms = now() - running.heard;
    if (held !== null && held > settings.memory_mb) {
      const reason = `it held ${Math.round(held)} MB, more than memory_mb ${settings.memory_mb}`;
      this.#end(running, 'node_red_memory', reason);
    } else if (silent_ms > LIMITS.node_red_silent_ms_max) {
      this.#end(running, 'node_red_silent', `it did not answer for ${Math.round(silent_ms / 1000)} s`);
    } else if (silent_ms > LIMITS.node_red_silence_told_ms && !running.silenceSaid) {
      running.silenceSaid = true;
      const why = running.up ? 'a flow blocks it' : 'it is still starting, or a flow blocks it from the start';
      const seconds = Math.round(silent_ms / 1000);
      log.warn({ code: 'node_red_silent', part: 'node_red' }, `Node-RED has not answered for ${seconds} s: ${why}`);
    }
  }

  #end(running: Running, code: ErrorCode, reason: string): void {
    running.ended = { code, reason };
    killGroup(running.child);
  }
}

/** Where both want the processor, or memory runs out, the minute goes first. */
function stepBack(pid: number): void {
  for (const step of [
    () => setPriority(pid, constants.priority.PRIORITY_BELOW_NORMAL),
    () => writeFileSync(`/proc/${pid}/oom_score_adj`, '1000'),
  ])
    try {
      step();
    } catch {
      // It has ended already and says so itself, or the system has no such thing.
    }
}

/** With whatever its flows started. */
function killGroup({ pid }: ChildProcess): void {
  if (pid === undefined) return;
  try {
    process.kill(-pid, 'SIGKILL');
  } catch {
    // Nobody is left in it.
  }
}
