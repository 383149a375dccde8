/**
 * Goal: whatever happens in whatever order to alarms of every kind, and wherever the agent dies in between, each alarm
 * is in the state that the life cycle says, and journal and messages tell each step once. Method: random walks against
 * a model that knows no table, only what is true of an alarm (its condition holds, somebody saw it, it is on a shelf);
 * the real store in a folder, left as a kill leaves it, at any moment of a minute.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import fc from 'fast-check';
import { expect, onTestFinished, test } from 'vitest';
import { type AlarmCommand, readCommand } from '../../../agent/alarms/commands.ts';
import { type AlarmEvent, type AlarmStates, evaluateAlarms } from '../../../agent/alarms/evaluate.ts';
import { alarmMessages } from '../../../agent/alarms/payload.ts';
import type { AlarmRule } from '../../../agent/alarms/rules.ts';
import { must } from '../../../agent/base/result.ts';
import { rfc3339 } from '../../../agent/base/time.ts';
import { type History, openHistory } from '../../../agent/history/history.ts';
import { rule } from '../../unit/alarms/rule.ts';

const MINUTE = 60_000;
const START = Date.UTC(2026, 6, 1);
const CHILLER = 'CH-1';

const RULES = [rule('plain', {}), rule('latching', { latching: true }), rule('protected', { protected: true })];

/** Above the limit, in the deadband, below it, none. */
const FIGURES = { crossed: 11, between: 7, good: 1, unknown: null } as const;
type Found = keyof typeof FIGURES;

interface Interval {
  readonly found: Readonly<Record<string, Found>>;
  readonly running: boolean | null;
}

/** What is true of one alarm. */
interface Truth {
  active: boolean;
  seen: boolean;
  /** Over, and to be acknowledged. */
  open: boolean;
  excused: boolean;
  shelf: number | null;
}

class Model {
  readonly truths = new Map<string, Truth>(
    RULES.map(({ id }) => [id, { active: false, seen: false, open: false, excused: false, shelf: null }]),
  );
  /** Commands written down and not yet taken in. */
  waiting: AlarmCommand[] = [];
  /** Every step told, by alarm: what changed and the state then. */
  readonly told = new Map<string, string[]>(RULES.map(({ id }) => [id, []]));
  time = START;

  state(id: string): string {
    const { active, seen, open, excused, shelf } = this.truths.get(id) as Truth;
    if (shelf !== null) return 'shelved';
    if (active) return seen ? 'acknowledged' : 'unacknowledged';
    if (open) return RULES.find((one) => one.id === id)?.latching === true ? 'latched' : 'returned to normal';
    return excused ? 'suppressed by design' : 'normal';
  }

  interval({ found, running }: Interval): void {
    this.time += MINUTE;
    for (const alarm of RULES) {
      const truth = this.truths.get(alarm.id) as Truth;
      if (truth.shelf !== null && this.time >= truth.shelf) this.#offShelf(alarm.id, truth);
      for (const command of this.waiting) if (command.alarm === alarm.id) this.#obey(alarm, truth, command);
      this.#find(alarm, truth, found[alarm.id] ?? 'unknown', running);
    }
    this.waiting = [];
  }

  #tell(id: string, change: string): void {
    this.told.get(id)?.push(`${change}: ${this.state(id)}`);
  }

  #offShelf(id: string, truth: Truth): void {
    truth.shelf = null;
    truth.seen = false;
    this.#tell(id, 'unshelved');
  }

  #obey(alarm: AlarmRule, truth: Truth, { verb, until }: AlarmCommand): void {
    if (verb === 'unshelve' && truth.shelf !== null) this.#offShelf(alarm.id, truth);
    if (verb === 'acknowledge' && truth.shelf === null && ((truth.active && !truth.seen) || truth.open)) {
      truth.seen = truth.active;
      truth.open = false;
      this.#tell(alarm.id, 'acknowledged');
    }
    if (verb !== 'shelve' || alarm.protected || until === null || until <= this.time || truth.shelf === until) return;
    truth.shelf = until;
    truth.excused = false;
    if (!alarm.latching) truth.open = false;
    this.#tell(alarm.id, 'shelved');
  }

  #find(alarm: AlarmRule, truth: Truth, found: Found, running: boolean | null): void {
    if (running === null || (found === 'unknown' && running)) return;
    if (truth.active) {
      if (running && found !== 'good') return;
      truth.active = false;
      truth.open = alarm.latching || (truth.shelf === null && !truth.seen);
      truth.excused = found === 'crossed' && truth.shelf === null && !truth.open;
      this.#tell(alarm.id, truth.excused ? 'suppressed' : 'cleared');
    } else if (running && found === 'crossed') {
      Object.assign(truth, { active: true, seen: false, open: false, excused: false });
      this.#tell(alarm.id, 'raised');
    } else if (found === 'crossed' && truth.shelf === null && !truth.open && !truth.excused) {
      truth.excused = true;
      this.#tell(alarm.id, 'suppressed');
    } else if (truth.excused && (found === 'good' || (found === 'between' && running))) {
      truth.excused = false;
      this.#tell(alarm.id, 'cleared');
    }
  }
}

/** The agent as far as alarms go: the fold, the store, and deaths. */
class Real {
  readonly folder = mkdtempSync(path.join(tmpdir(), 'tonhour-walk-'));
  #history: History;
  #states: AlarmStates = {};
  #sequence = 0;
  #dieAt: string | null = null;

  constructor() {
    this.#history = this.#open();
  }

  get history(): History {
    return this.#history;
  }

  #open(): History {
    const checkpoint = (name: string): void => {
      if (name !== this.#dieAt) return;
      this.#dieAt = null;
      throw new Error('killed');
    };
    return must(openHistory({ folder: this.folder, now: () => START, checkpoint }));
  }

  /** As after kill -9: what was in memory is gone, nothing was closed. */
  restart(): void {
    this.#history = this.#open();
    const stored = must(this.#history.loadState(CHILLER));
    this.#states = stored === null ? {} : JSON.parse(stored.state);
    this.#sequence = stored?.sequence ?? 0;
  }

  command(verb: string, payload: string, received: number): void {
    must(this.#history.commands.add({ chiller: CHILLER, received, verb, payload }, { repeated: false }));
  }

  /** Whether the minute came to be. */
  interval({ found, running }: Interval, time: number, dieAt: string | null): boolean {
    const entries = must(this.#history.commands.waiting(CHILLER));
    const figures = Object.entries(found).map(([name, each]) => [
      name,
      { value: FIGURES[each], uncertainty: null, quality: 'good', reason: null },
    ]);
    const outcome = evaluateAlarms(this.#states, RULES, {
      chiller: CHILLER,
      time,
      interval_s: 60,
      running,
      steady: true,
      running_for_s: 3600,
      figures: Object.fromEntries(figures),
      link: { state: 'connected', reason: null },
      implausible: [],
      suspects: [],
      commands: entries.map(({ verb, payload }) => must(readCommand(verb, payload))),
    });
    const sequence = this.#sequence + 1;
    const minute = {
      chiller: CHILLER,
      sequence,
      time,
      state: JSON.stringify(outcome.states),
      record: '{}',
      messages: alarmMessages(outcome.events, { root: 'tonhour/quay', sequence }),
      fast: [],
      alarmEvents: outcome.events.map((event) => stored(event, time)),
      commands: entries.map(({ id }) => id),
    };
    this.#dieAt = dieAt;
    try {
      must(this.#history.commitMinute(minute));
    } catch (error) {
      if ((error as Error).message !== 'killed') throw error;
      this.restart();
      // Killed after the commit the minute is there, though nobody heard so.
      return this.#sequence === sequence;
    }
    this.#states = outcome.states;
    this.#sequence = sequence;
    return true;
  }
}

function stored({ change, report }: AlarmEvent, time: number) {
  return { id: report.id, time, state: report.state, priority: 2, detail: JSON.stringify({ change, ...report }) };
}

function compare(model: Model, real: Real): void {
  const journal = must(real.history.alarmJournal({ chiller: CHILLER, from: 0, to: 4e12, count: 100_000 })).reverse();
  const open = new Map(must(real.history.openAlarms()).map(({ id, state }) => [id, state]));
  const messages = real.history.outbox.oldest('mqtt', 100_000);
  for (const { id } of RULES) {
    const steps = journal.filter((entry) => entry.id === id);
    expect(steps.map(({ detail, state }) => `${JSON.parse(detail).change}: ${state}`)).toEqual(model.told.get(id));
    expect(open.get(id) ?? 'normal').toBe(model.state(id));
    const retained = messages.filter(({ address }) => address.endsWith(`/${id}`));
    // One message a minute at most, and the last is how it stands.
    expect(new Set(retained.map(({ sequence }) => sequence)).size).toBe(retained.length);
    const last = retained.at(-1);
    expect(last === undefined ? 'normal' : JSON.parse(last.payload).state).toBe(model.state(id));
  }
}

const found = fc.constantFrom<Found>('crossed', 'crossed', 'good', 'good', 'between', 'unknown');
const interval = fc.record({
  found: fc.record({ plain: found, latching: found, protected: found }),
  running: fc.constantFrom(true, true, true, false, null),
});
const DEATHS = [null, null, null, 'before_commit', 'inside_transaction', 'after_commit'] as const;

type Step = fc.Command<Model, Real>;

const minutes = fc.tuple(interval, fc.constantFrom(...DEATHS)).map(
  ([given, dieAt]): Step => ({
    check: () => true,
    run(model, real) {
      if (!real.interval(given, model.time + MINUTE, dieAt)) return;
      model.interval(given);
      compare(model, real);
    },
    toString: () => `minute(${JSON.stringify(given)}, ${dieAt ?? 'lives'})`,
  }),
);

const commands = fc
  .record({
    verb: fc.constantFrom('acknowledge', 'acknowledge', 'shelve', 'unshelve'),
    alarm: fc.constantFrom(...RULES.map(({ id }) => id)),
    minutes: fc.integer({ min: 0, max: 6 }),
  })
  .map(
    ({ verb, alarm, minutes: length }): Step => ({
      check: () => true,
      run(model, real) {
        const more = verb === 'shelve' ? { reason: 'r', until: rfc3339(model.time + length * MINUTE) } : {};
        const payload = JSON.stringify({ chiller: CHILLER, alarm, by: 'x', ...more });
        real.command(verb, payload, model.time);
        model.waiting.push(must(readCommand(verb, payload)));
      },
      toString: () => `${verb}(${alarm}, ${length})`,
    }),
  );

const deaths = fc.constant<Step>({
  check: () => true,
  run: (_model, real) => real.restart(),
  toString: () => 'killed',
});

test('random walks across kills: no alarm lost, none told twice', () => {
  fc.assert(
    fc.property(
      fc.commands([minutes, minutes, minutes, commands, deaths], { maxCommands: 60, size: 'max' }),
      (walk) => {
        const real = new Real();
        onTestFinished(() => rmSync(real.folder, { recursive: true, force: true }));
        fc.modelRun(() => ({ model: new Model(), real }), walk);
      },
    ),
    { numRuns: 60, endOnFailure: true },
  );
});
