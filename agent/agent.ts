/** Composition root: builds the rooms of one site, starts them in order, stops them in reverse. */
import type { Logger } from 'pino';
import { Answers } from './answers.ts';
import type { Clock } from './base/clock.ts';
import { type Fault, ok, type Result } from './base/result.ts';
import { rfc3339 } from './base/time.ts';
import { Callouts } from './callouts.ts';
import { CommandDesk, commandLinkOf, pageCommands } from './command-desk.ts';
import { FlowHost } from './flows/host.ts';
import { type AgentMetrics, createAgentMetrics } from './health/metrics.ts';
import { createNotifier, type Notifier } from './health/notify.ts';
import { type History, openHistory } from './history/history.ts';
import { type FolderLock, lockFolder } from './history/lock.ts';
import type { Checkpoint, Transaction } from './history/types.ts';
import { type Interval, Pace } from './pace.ts';
import { ReferenceShelf, referenceFrom } from './seasons.ts';
import type { CommandLink } from './sinks/commands.ts';
import { type NamedSink, rootOf, sinksOf } from './sinks-of.ts';
import type { Site } from './site/site.ts';
import { SourceSupervisor } from './sources/supervisor.ts';
import type { Timers } from './sources/timers.ts';
import { sourcesOf } from './sources-of.ts';
import { ChillerWatch } from './watch.ts';
import { webServer } from './web/server.ts';

export interface AgentOptions {
  readonly site: Site;
  readonly version: string;
  /** The plant is emulated: the page says so. */
  readonly demo: boolean;
  readonly clock: Clock;
  readonly timers: Timers;
  /** Uniform in [0, 1). */
  readonly random: () => number;
  readonly log: Logger;
  /** NOTIFY_SOCKET of the environment. */
  readonly notifySocket: string | undefined;
  /** What of the environment a hosted Node-RED is told; left out: nothing. */
  readonly environment?: Readonly<Record<string, string | undefined>>;
  /** First interval after a start, s: shorter, so that a person sees a solved minute soon. */
  readonly first_interval_s: number;
  /** Moments at which a test may end the process. */
  readonly checkpoint?: Checkpoint;
  readonly transaction?: Transaction;
}

interface Parts extends Built {
  readonly lock: FolderLock;
}

interface Built {
  readonly history: History;
  readonly watches: readonly ChillerWatch[];
  readonly sources: SourceSupervisor;
  readonly sinks: readonly NamedSink[];
  /** Null: no broker, so commands come from the command line alone. */
  readonly commands: CommandLink | null;
  readonly desk: CommandDesk;
  /** Null: no Node-RED is hosted. */
  readonly flows: FlowHost | null;
  readonly metrics: AgentMetrics;
  /** Baselines of the chillers. */
  readonly shelf: ReferenceShelf;
}

export class Agent {
  readonly #options: AgentOptions;
  readonly #parts: Parts;
  readonly #metrics: AgentMetrics;
  readonly #notifier: Notifier;
  readonly #answers: Answers;
  readonly #pace: Pace;
  readonly #web: ReturnType<typeof webServer>;
  #historyFault: Fault | null = null;
  #stopping: Promise<void> | null = null;

  /**
   * Builds every room without the network. The store is opened here: what it remembers decides where the fold goes
   * on.
   */
  static create(options: AgentOptions): Result<Agent> {
    const { site, log, clock } = options;
    const lock = lockFolder(site.history.folder);
    if (!lock.ok) return lock;
    const history = openHistory({
      folder: site.history.folder,
      now: () => clock.now(),
      report: (fault) => log.warn({ code: fault.code }, fault.message),
      ...(options.checkpoint === undefined ? {} : { checkpoint: options.checkpoint }),
      ...(options.transaction === undefined ? {} : { transaction: options.transaction }),
    });
    const built = history.ok ? buildParts(options, history.value) : history;
    if (!built.ok) {
      if (history.ok) history.value.close();
      lock.value.release();
      return built;
    }
    return ok(new Agent(options, { ...built.value, lock: lock.value }));
  }

  private constructor(options: AgentOptions, parts: Parts) {
    const { site, clock, timers, version, demo, log } = options;
    const { history, watches, sources, metrics, shelf } = parts;
    this.#options = options;
    this.#parts = parts;
    this.#metrics = metrics;
    this.#notifier = createNotifier({
      socket: options.notifySocket,
      onFailure: (reason) => log.warn({ reason }, 'the service manager cannot be told'),
    });
    this.#answers = new Answers({
      site,
      version,
      demo,
      clock,
      history,
      watches,
      shelf,
      links: () => sources.status(),
      trouble: () => this.trouble(),
      openMetrics: () => this.#openMetrics(),
    });
    const ends = watches.flatMap(({ last }) => (last === null ? [] : [last]));
    this.#pace = new Pace({
      clock,
      timers,
      interval_s: site.interval_s,
      first_interval_s: options.first_interval_s,
      last: ends.length === 0 ? null : Math.max(...ends),
      onInterval: (interval) => this.#minute(interval),
      onHeld: (reason) => (reason === null ? log.info('the clock is believed again') : log.error(reason)),
    });
    const { host, port, names = [] } = site.web;
    const command = pageCommands(site, parts.desk);
    this.#web = webServer({ data: this.#answers, host, port, names, log, ...command });
  }

  /** Address of the page. Rejects where it cannot be served: an agent nobody can look at should not seem to run. */
  async start(): Promise<{ readonly url: string }> {
    const { sources, sinks, commands, flows } = this.#parts;
    const page = await this.#web.start();
    for (const { sink } of sinks) sink.start();
    commands?.start();
    sources.start();
    this.#pace.start();
    flows?.start();
    await this.#notifier.ready('waiting for the first minute');
    return page;
  }

  /** Reverse order, each part bounded; what fails is logged and the rest goes on. */
  stop(): Promise<void> {
    this.#stopping ??= this.#stop();
    return this.#stopping;
  }

  /** What is wrong with the agent itself, one sentence; null while healthy. */
  trouble(): string | null {
    return this.#pace.held() ?? this.#historyFault?.message ?? null;
  }

  async #stop(): Promise<void> {
    const { sources, sinks, commands, flows, history, lock } = this.#parts;
    const parts: readonly (readonly [string, () => void | Promise<void>])[] = [
      ['notifier', () => this.#notifier.stopping()],
      ['node-red', () => flows?.stop()],
      ['pace', () => this.#pace.stop()],
      ['sources', () => sources.stop()],
      ['commands', () => commands?.stop()],
      ...sinks.map(({ name, sink }) => [name, () => sink.stop()] as const),
      ['page', () => this.#web.stop()],
      ['history', () => history.close()],
      ['lock', () => lock.release()],
    ];
    for (const [name, end] of parts) {
      try {
        await end();
      } catch (error) {
        this.#options.log.warn({ part: name, reason: String(error) }, 'did not stop cleanly');
      }
    }
  }

  #minute(interval: Interval): void {
    const { log } = this.#options;
    const { watches, sources, sinks } = this.#parts;
    const links = sources.status();
    if (interval.missed > 0)
      log.warn({ missed: interval.missed, until: rfc3339(interval.to) }, 'intervals passed without a record');
    let fault: Fault | null = null;
    for (const watch of watches) {
      const { id } = watch.chiller;
      for (let due = 0; due <= interval.missed; due += 1) this.#metrics.minuteDue(id);
      const began = this.#options.clock.monotonic();
      const link = links[id];
      if (link === undefined) continue;
      const done = watch.fold(interval, link);
      if (!done.ok) this.#metrics.historyFailed();
      if (!done.ok) fault ??= done.fault;
      if (done.ok) this.#metrics.minuteDone(id, (this.#options.clock.monotonic() - began) / 1000);
      this.#answers.tell(watch);
    }
    this.#noteHistory(fault);
    for (const { sink } of sinks) sink.wake();
    // Alive means that a minute completed, also while the disk takes nothing: a restart would lose what waits in
    // memory.
    void this.#notifier.minuteDone(`minute ${rfc3339(interval.to)}`);
  }

  /** Of a whole interval: said when it begins and when it ends, also where only one chiller's minute is refused. */
  #noteHistory(fault: Fault | null): void {
    const { log } = this.#options;
    if (fault !== null && fault.code !== this.#historyFault?.code) log.error({ code: fault.code }, fault.message);
    if (fault === null && this.#historyFault !== null) log.info('the store takes minutes again');
    this.#historyFault = fault;
  }

  #openMetrics(): string {
    const { history, sources, sinks, flows } = this.#parts;
    if (flows !== null) this.#metrics.nodeRed(flows.status());
    for (const [chiller, status] of Object.entries(sources.status())) this.#metrics.source(chiller, status);
    for (const { name, sink } of sinks) {
      this.#metrics.outbox(name, history.outbox.counts(name));
      this.#metrics.sink(name, sink.status().state);
    }
    return this.#metrics.text();
  }
}

function buildParts(options: AgentOptions, history: History): Result<Built> {
  const { site, clock, timers, random, log, version } = options;
  const { checkpoint } = options;
  const metrics = createAgentMetrics({ version, started_s: clock.now() / 1000 });
  const desk = new CommandDesk({
    site,
    store: (entry, how) => history.commands.add(entry, how),
    clock,
    log,
    count: (verb, end) => metrics.command(verb, end),
    ...(checkpoint === undefined ? {} : { checkpoint }),
  });
  const onCommand = desk.became.bind(desk);
  const callouts = new Callouts({ site, version, events: history.events, now: () => clock.now() });
  const sourceOf = sourcesOf({ clock, timers, random, log });
  const shelf = new ReferenceShelf(site);
  const told = { site, history, clock, reference: referenceFrom(shelf, history) };
  const watches: ChillerWatch[] = [];
  const supervised = [];
  for (const chiller of site.chillers) {
    const watch = ChillerWatch.open({ ...told, chiller, root: rootOf(site), onCommand, callouts });
    if (!watch.ok) return watch;
    const source = sourceOf(chiller);
    if (!source.ok) return source;
    watches.push(watch.value);
    supervised.push({ chiller: chiller.id, source: source.value, sink: watch.value.samples });
  }
  const sources = new SourceSupervisor({ sources: supervised, clock, timers, random, log });
  const around = { site, version, outbox: history.outbox, events: history.events, clock, random, log };
  const sinks = sinksOf(checkpoint === undefined ? around : { ...around, checkpoint });
  const commands = commandLinkOf(around, desk);
  const flows = flowHostOf(options);
  return sinks.ok
    ? ok({ history, watches, sources, sinks: sinks.value, commands, desk, flows, metrics, shelf })
    : sinks;
}

function flowHostOf({ site, environment = {}, timers, clock, log }: AgentOptions): FlowHost | null {
  if (site.node_red === null) return null;
  return new FlowHost({ settings: site.node_red, environment, timers, now: () => clock.monotonic(), log });
}
