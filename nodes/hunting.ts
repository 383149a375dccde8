/** Node: samples of one control loop in, the verdict on its hunting out. */
import { LIMITS } from '../agent/base/limits.ts';
import { fail, ok, type Result } from '../agent/base/result.ts';
import { rfc3339 } from '../agent/base/time.ts';
import { analyseLoop } from '../agent/valves/analyse.ts';
import { type LoopSettings, loopAnswer, loopOf } from '../agent/valves/loop.ts';
import { LOOP_KINDS, type LoopVerdict } from '../agent/valves/types.ts';
import { type Answer, answerMessages, refuseMessages } from './lib/answering.ts';
import { LoopSamples, readSamples } from './lib/loop-window.ts';
import {
  type FlowMessage,
  type FlowNode,
  type NodeConfig,
  type NodeStatus,
  type Runtime,
  textOf,
} from './lib/runtime.ts';

interface Settings extends LoopSettings {
  readonly window_s: number;
  readonly every_s: number;
}

export default function register(runtime: Runtime): void {
  runtime.nodes.registerType('tonhour-hunting', function hunting(this: FlowNode, config: NodeConfig) {
    runtime.nodes.createNode(this, config);
    const settings = readSettings(config);
    if (!settings.ok) {
      refuseMessages(this, settings.fault);
      return;
    }
    const loop = new Loop(settings.value);
    answerMessages(this, (message) => loop.take(message));
    this.on('close', (_removed, done) => {
      loop.forget();
      done();
    });
  });
}

function readSettings(config: NodeConfig): Result<Settings> {
  const kind = LOOP_KINDS.find((each) => each === (textOf(config['kind']) || 'level'));
  if (kind === undefined) return fail('node_settings', `what is controlled: one of ${LOOP_KINDS.join(', ')}`);
  const [band, stroke] = [positive(config['band']), positive(config['stroke'])];
  if (Number.isNaN(band)) return fail('node_settings', 'least amplitude: a number above 0, or nothing');
  if (Number.isNaN(stroke)) return fail('node_settings', 'full stroke: a number above 0, or nothing');
  const minutes = positive(config['window']) ?? LIMITS.hunting_window_s_max / 60;
  const longest = LIMITS.hunting_window_s_max / 60;
  if (!(minutes <= longest)) return fail('node_settings', `window: more than 0 and up to ${longest} minutes`);
  const every_s = positive(config['every']) ?? 60;
  if (!(every_s >= 1)) return fail('node_settings', 'a verdict every: 1 s or more');
  return ok({ kind, band, stroke, window_s: 60 * minutes, every_s });
}

/** Null where nothing is given, NaN where it is no number above 0. */
function positive(given: unknown): number | null {
  const text = String(given ?? '').trim();
  if (text === '') return null;
  const value = Number(text);
  return value > 0 && Number.isFinite(value) ? value : Number.NaN;
}

class Loop {
  readonly #settings: Settings;
  readonly #samples: LoopSamples;
  /** Time of the sample at which the last verdict was given, ms. */
  #judged: number | null = null;

  constructor(settings: Settings) {
    this.#settings = settings;
    this.#samples = new LoopSamples(settings.window_s);
  }

  forget(): void {
    this.#samples.clear();
    this.#judged = null;
  }

  take({ payload, reset, judge }: FlowMessage): Result<Answer> {
    if (reset === true) {
      this.forget();
      return ok({ payload: null, status: { fill: 'grey', shape: 'ring', text: 'begun anew' } });
    }
    const samples = readSamples(payload, { now: Date.now() });
    const taken = samples.ok ? this.#samples.append(samples.value) : samples;
    if (!taken.ok) return taken;
    const { newest } = this.#samples;
    if (newest === null) return fail('bad_record', 'a list without samples');
    // The first verdict waits like each later one: there is nothing to say of one sample.
    this.#judged ??= newest;
    if (judge !== true && newest - this.#judged < 1000 * this.#settings.every_s)
      return ok({ payload: null, status: { fill: 'blue', shape: 'ring', text: 'watching' } });
    this.#judged = newest;
    const verdict = analyseLoop(loopOf(this.#samples.recording(), this.#settings), 'recent');
    const answer = { time: rfc3339(newest), samples: this.#samples.count, ...loopAnswer(verdict) };
    return ok({ payload: answer, status: statusOf(verdict) });
  }
}

const FILLS = { hunting: 'red', steady: 'green', not_enough: 'grey', unusable: 'yellow' } as const;

function statusOf({ verdict, cause, period_s }: LoopVerdict): NodeStatus {
  const words = [verdict.replaceAll('_', ' ')];
  if (verdict === 'hunting' && period_s !== null) words.push(`${Math.round(period_s.value)} s`);
  if (verdict === 'hunting' && cause !== null) words.push(cause);
  return { fill: FILLS[verdict], shape: 'dot', text: words.join(', ') };
}
