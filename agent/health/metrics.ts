/**
 * The agent's own metrics: whether it does its job, not what the chiller does. Served at `/metrics` as OpenMetrics
 * text.
 */
import type { OutboxCounts } from '../base/delivery.ts';
import { LIMITS } from '../base/limits.ts';
import type { LinkState, SourceStatus } from '../points/types.ts';
import { createRegistry } from './openmetrics.ts';

const LINK_STATES: readonly LinkState[] = ['connecting', 'connected', 'lost', 'stopped'];
const SINK_STATES = ['connecting', 'connected', 'lost', 'stopped'] as const;
export type SinkState = (typeof SINK_STATES)[number];
const FLOW_STATES = ['starting', 'answering', 'silent', 'ended', 'stopped'] as const;

/** How a hosted Node-RED is. */
export interface HostedFlows {
  readonly state: (typeof FLOW_STATES)[number];
  readonly starts: number;
  /** By the code of the reason. */
  readonly failures: Readonly<Record<string, number>>;
}

export interface AgentMetrics {
  /** An interval of a chiller ended and is to be solved. */
  minuteDue(chiller: string): void;
  /** It is solved and committed; `seconds` is what that took. */
  minuteDone(chiller: string, seconds: number): void;
  source(chiller: string, status: SourceStatus): void;
  outbox(sink: string, counts: OutboxCounts): void;
  sink(sink: string, state: SinkState): void;
  /** Never called where none is hosted: its families stay empty then. */
  nodeRed(status: HostedFlows): void;
  historyFailed(): void;
  /** What became of a command to an alarm. */
  command(verb: string, end: string): void;
  /** OpenMetrics text; process figures are read at this moment. */
  text(): string;
}

export interface AgentMetricsOptions {
  readonly version: string;
  /** Seconds since 1970-01-01T00:00:00Z. */
  readonly started_s: number;
  /** Resident memory in bytes and processor time in seconds, now. */
  readonly usage?: () => { readonly resident_bytes: number; readonly processor_s: number };
}

function processUsage(): { readonly resident_bytes: number; readonly processor_s: number } {
  const { user, system } = process.cpuUsage();
  return { resident_bytes: process.memoryUsage.rss(), processor_s: (user + system) / 1e6 };
}

/** Registry and families in one place; names are stable. */
export function createAgentMetrics({ version, started_s, usage = processUsage }: AgentMetricsOptions): AgentMetrics {
  const registry = createRegistry({ seriesMax: LIMITS.agent_series_max });
  const minutes = minuteFamilies(registry);
  const link = linkFamilies(registry);
  const out = outboxFamilies(registry);
  const history = registry.counter({
    name: 'tonhour_history_failures',
    help: 'Transactions of the store that failed; the minute stays in memory and is tried again',
  });
  history.add({}, 0);
  const commands = registry.counter({
    name: 'tonhour_alarm_commands',
    help: 'Commands to alarms, by what became of them: stored, repeated, applied, without_effect, refused, put_off',
    labels: ['verb', 'end'],
  });
  const flows = flowFamilies(registry);
  const self = processFamilies(registry);
  self.build.set(1, { version });
  self.start.set(started_s);
  return {
    minuteDue: (chiller) => minutes.due.add({ chiller }),
    minuteDone: (chiller, seconds) => {
      minutes.done.add({ chiller });
      minutes.duration.observe(seconds, { chiller });
    },
    source: (chiller, { state, counters }) => {
      link.state.set(state, { chiller });
      for (const [event, count] of Object.entries(counters))
        if (event === 'requests') link.requests.set(count, { chiller });
        else link.events.set(count, { chiller, event });
    },
    outbox: (sink, counts) => {
      out.waiting.set(counts.waiting, { sink });
      out.bytes.set(counts.bytes, { sink });
      for (const end of ['accepted', 'rejected', 'dropped'] as const) out.settled.set(counts[end], { sink, end });
    },
    sink: (sink, state) => out.state.set(state, { sink }),
    nodeRed: ({ state, starts, failures }) => {
      flows.state.set(state);
      flows.starts.set(starts);
      for (const [code, count] of Object.entries(failures)) flows.failures.set(count, { code });
    },
    historyFailed: () => history.add(),
    command: (verb, end) => commands.add({ verb, end }),
    text: () => {
      const { resident_bytes, processor_s } = usage();
      self.memory.set(resident_bytes);
      self.processor.set(processor_s);
      self.dropped.set(registry.dropped());
      return registry.text();
    },
  };
}

type Registry = ReturnType<typeof createRegistry>;

function minuteFamilies(registry: Registry) {
  return {
    due: registry.counter({
      name: 'tonhour_minutes_due',
      help: 'Intervals that ended and were to be solved',
      labels: ['chiller'],
    }),
    done: registry.counter({
      name: 'tonhour_minutes_done',
      help: 'Intervals solved and committed to the store',
      labels: ['chiller'],
    }),
    duration: registry.histogram({
      name: 'tonhour_minute_duration_seconds',
      unit: 'seconds',
      help: 'From the end of an interval to its committed record',
      labels: ['chiller'],
      bounds: [0.001, 0.005, 0.025, 0.1, 0.5, 2, 10],
    }),
  };
}

function linkFamilies(registry: Registry) {
  return {
    state: registry.stateSet({
      name: 'tonhour_source_link',
      help: 'State of the link to a controller',
      labels: ['chiller'],
      states: LINK_STATES,
    }),
    requests: registry.counter({
      name: 'tonhour_source_requests',
      help: 'Requests sent to a controller',
      labels: ['chiller'],
    }),
    events: registry.counter({
      name: 'tonhour_source_events',
      help: 'What became of requests to a controller and of the connection, by kind',
      labels: ['chiller', 'event'],
    }),
  };
}

function outboxFamilies(registry: Registry) {
  return {
    waiting: registry.gauge({
      name: 'tonhour_outbox_waiting',
      help: 'Messages committed and not yet delivered',
      labels: ['sink'],
    }),
    bytes: registry.gauge({
      name: 'tonhour_outbox_bytes',
      unit: 'bytes',
      help: 'Size of the messages that wait',
      labels: ['sink'],
    }),
    settled: registry.counter({
      name: 'tonhour_outbox_settled',
      help: 'Messages that left the queue: accepted by the far end, rejected by it, or dropped by the bound',
      labels: ['sink', 'end'],
    }),
    state: registry.stateSet({
      name: 'tonhour_sink_state',
      help: 'How a sink stands to its far end: MQTT broker, time-series store',
      labels: ['sink'],
      states: SINK_STATES,
    }),
  };
}

function flowFamilies(registry: Registry) {
  return {
    state: registry.stateSet({
      name: 'tonhour_node_red_state',
      help: 'How the hosted Node-RED is; silent: it runs and does not answer, ended: it is started anew after a pause',
      states: FLOW_STATES,
    }),
    starts: registry.counter({ name: 'tonhour_node_red_starts', help: 'Times that Node-RED was started' }),
    failures: registry.counter({
      name: 'tonhour_node_red_failures',
      help: 'Times that Node-RED ended or could not be started, by the code of the reason',
      labels: ['code'],
    }),
  };
}

function processFamilies(registry: Registry) {
  return {
    build: registry.gauge({ name: 'tonhour_build', help: 'Version that runs; the value is 1', labels: ['version'] }),
    start: registry.gauge({
      name: 'process_start_time_seconds',
      unit: 'seconds',
      help: 'When the process started, seconds since 1970-01-01T00:00:00Z',
    }),
    memory: registry.gauge({
      name: 'process_resident_memory_bytes',
      unit: 'bytes',
      help: 'Resident memory of the agent',
    }),
    processor: registry.counter({
      name: 'process_cpu_seconds',
      unit: 'seconds',
      help: 'Processor time used by the agent',
    }),
    dropped: registry.counter({
      name: 'tonhour_metric_series_dropped',
      help: 'Label combinations that found no room in this registry',
    }),
  };
}
