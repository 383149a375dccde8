/**
 * The states of an alarm and every way from one to another, as a table. State names and meaning: ANSI/ISA-18.2 and
 * IEC 62682 (life cycle of an alarm), from memory. What is not in the table leaves the state as it is.
 *
 * Three of the nodes are one state to people, `shelved`: what is behind the shelf goes on, unseen, so that the state
 * after it is right.
 */

export const ALARM_STATES = [
  'normal',
  'unacknowledged',
  'acknowledged',
  'returned to normal',
  'latched',
  'shelved',
  'suppressed by design',
  'out of service',
] as const;

/** As published and shown. */
export type PublishedState = (typeof ALARM_STATES)[number];

export type AlarmNode = PublishedState | 'shelved, active' | 'shelved, latched';

/**
 * `raise`: the limit was crossed for the on-delay. `clear`: it was good for the off-delay. `latch`: the same, of an
 * alarm that latches. `suppress`: crossed for the delay while start-up or a stop explains it. `expire`: the time of a
 * shelf is over. `remove`, `restore`: taken out of service by the site file, and back.
 */
export const SIGNALS = [
  'raise',
  'clear',
  'latch',
  'suppress',
  'acknowledge',
  'shelve',
  'unshelve',
  'expire',
  'remove',
  'restore',
] as const;

export type Signal = (typeof SIGNALS)[number];

export const TRANSITIONS: Readonly<Record<AlarmNode, Readonly<Partial<Record<Signal, AlarmNode>>>>> = {
  normal: {
    raise: 'unacknowledged',
    suppress: 'suppressed by design',
    shelve: 'shelved',
    remove: 'out of service',
  },
  // A stop explains why it stands no more, never that somebody saw it: it waits for its acknowledgement.
  unacknowledged: {
    clear: 'returned to normal',
    latch: 'latched',
    suppress: 'returned to normal',
    acknowledge: 'acknowledged',
    shelve: 'shelved, active',
    remove: 'out of service',
  },
  acknowledged: {
    clear: 'normal',
    latch: 'latched',
    suppress: 'suppressed by design',
    shelve: 'shelved, active',
    remove: 'out of service',
  },
  'returned to normal': {
    raise: 'unacknowledged',
    acknowledge: 'normal',
    shelve: 'shelved',
    remove: 'out of service',
  },
  latched: {
    raise: 'unacknowledged',
    acknowledge: 'normal',
    shelve: 'shelved, latched',
    remove: 'out of service',
  },
  shelved: {
    raise: 'shelved, active',
    shelve: 'shelved',
    unshelve: 'normal',
    expire: 'normal',
    remove: 'out of service',
  },
  'shelved, active': {
    clear: 'shelved',
    latch: 'shelved, latched',
    suppress: 'shelved',
    shelve: 'shelved, active',
    unshelve: 'unacknowledged',
    expire: 'unacknowledged',
    remove: 'out of service',
  },
  'shelved, latched': {
    raise: 'shelved, active',
    shelve: 'shelved, latched',
    unshelve: 'latched',
    expire: 'latched',
    remove: 'out of service',
  },
  'suppressed by design': {
    raise: 'unacknowledged',
    clear: 'normal',
    shelve: 'shelved',
    remove: 'out of service',
  },
  'out of service': {
    restore: 'normal',
  },
};

/** The state after a signal; null where it changes nothing in this state. */
export function after(node: AlarmNode, signal: Signal): AlarmNode | null {
  return TRANSITIONS[node][signal] ?? null;
}

/** Whether the condition of the alarm holds, as far as it was judged. */
export function isActive(node: AlarmNode): boolean {
  return node === 'unacknowledged' || node === 'acknowledged' || node === 'shelved, active';
}

export function isShelved(node: AlarmNode): boolean {
  return node === 'shelved' || node === 'shelved, active' || node === 'shelved, latched';
}

export function published(node: AlarmNode): PublishedState {
  return node === 'shelved, active' || node === 'shelved, latched' ? 'shelved' : node;
}
