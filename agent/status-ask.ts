/** What a running agent answers to those who ask how it is: its HTTP API, and its own metrics for the sinks. */
import { fail, ok, type Result } from './base/result.ts';
import type { Site } from './site/site.ts';
import type { AlarmFigure, Now, SiteFigure } from './web/types.ts';

export type AlarmStatus = Pick<AlarmFigure, 'chiller' | 'id' | 'since'> & {
  readonly state: string;
  readonly priority: number;
};

export interface AgentAnswers {
  readonly url: string;
  readonly version: string;
  /** What it says is wrong with itself; null: nothing. */
  readonly trouble: string | null;
  readonly chillers: Readonly<Record<string, Pick<Now, 'time' | 'sequence' | 'state' | 'points_read' | 'link'>>>;
  readonly alarms: readonly AlarmStatus[];
  /** State of each sink by its name. */
  readonly sinks: Readonly<Record<string, string>>;
  /** Null: none is hosted. */
  readonly node_red: { readonly state: string; readonly starts: number; readonly failures: number } | null;
}

/** Longest wait for one answer, ms. */
const ANSWER_MS = 5000;

/** Faults: nobody answers at the address of the site file, or somebody else does. */
export async function askAgent(site: Site): Promise<Result<AgentAnswers>> {
  const { host, port } = site.web;
  if (port === 0)
    return fail('usage', 'the page of the site file takes any free port (web.port: 0): give it one to be asked at');
  const url = `http://${loopback(host)}:${port}`;
  try {
    const about = await json<Partial<SiteFigure>>(`${url}/api/site`);
    if (about.id !== site.id || about.version === undefined)
      return fail('web_port', `at ${url} is not the agent of ${site.id}, but of ${about.id ?? 'something else'}`);
    const [health, alarms, metrics, nows] = await Promise.all([
      json<{ readonly trouble?: string | null }>(`${url}/healthz`),
      json<{ readonly alarms: readonly AlarmFigure[] }>(`${url}/api/alarms`),
      text(`${url}/metrics`),
      Promise.all(site.chillers.map(({ id }) => json<Now>(`${url}/api/chillers/${id}/now`))),
    ]);
    return ok({
      url,
      version: about.version,
      trouble: health.trouble ?? null,
      chillers: Object.fromEntries(nows.map((now) => [now.chiller, now])),
      alarms: alarms.alarms.map(({ chiller, id, state, priority, since }) => ({ chiller, id, state, priority, since })),
      sinks: sinkStates(metrics),
      node_red: nodeRed(metrics),
    });
  } catch (error) {
    return fail('web_port', `no agent answers at ${url} (${reasonOf(error)}): is it running with this site file?`);
  }
}

/** Where an agent that listens everywhere is reached from its own machine. */
function loopback(host: string): string {
  if (host === '0.0.0.0' || host === '') return '127.0.0.1';
  if (host === '::') return '[::1]';
  return host.includes(':') ? `[${host}]` : host;
}

async function answer(url: string): Promise<Response> {
  const found = await fetch(url, { signal: AbortSignal.timeout(ANSWER_MS) });
  // An agent in trouble says so with 503.
  if (!found.ok && found.status !== 503) throw new Error(`${new URL(url).pathname} answers ${found.status}`);
  return found;
}

async function json<T>(url: string): Promise<T> {
  return (await (await answer(url)).json()) as T;
}

async function text(url: string): Promise<string> {
  return (await answer(url)).text();
}

/** Of an OpenMetrics state set: the state whose sample is 1. */
function sinkStates(metrics: string): Record<string, string> {
  const samples = metrics.matchAll(/^tonhour_sink_state\{sink="([^"]+)",tonhour_sink_state="([^"]+)"\} 1$/gm);
  return Object.fromEntries([...samples].map(([, sink = '', state = '']) => [sink, state]));
}

function nodeRed(metrics: string): AgentAnswers['node_red'] {
  const [, state] = /^tonhour_node_red_state\{tonhour_node_red_state="([^"]+)"\} 1$/m.exec(metrics) ?? [];
  if (state === undefined) return null;
  const [, starts = '0'] = /^tonhour_node_red_starts_total (\d+)$/m.exec(metrics) ?? [];
  const failures = [...metrics.matchAll(/^tonhour_node_red_failures_total\{[^}]*\} (\d+)$/gm)];
  return { state, starts: Number(starts), failures: failures.reduce((sum, [, count]) => sum + Number(count), 0) };
}

function reasonOf(error: unknown): string {
  const { cause, message } = error as { cause?: { code?: unknown }; message?: unknown };
  return typeof cause?.code === 'string' ? cause.code : String(message ?? error);
}
