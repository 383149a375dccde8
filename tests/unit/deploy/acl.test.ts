/**
 * The access list of the broker beside the messages that the agent documents (config/asyncapi.json): whatever it sends,
 * its account may publish; whatever it hears, it may read; nobody else may publish but an operator, and commands alone.
 * The interop tests hold the same list against a real broker.
 */
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

const read = (path: string): string => readFileSync(new URL(`../../../${path}`, import.meta.url), 'utf8');

/** Topic filters by user and access. */
function accessList(): Map<string, { readonly access: string; readonly filter: string }[]> {
  const users = new Map<string, { access: string; filter: string }[]>();
  let user = '';
  for (const line of read('deploy/broker/tonhour.acl').split('\n')) {
    const [word, first = '', second = ''] = line.split(' ');
    if (word === 'user') user = first;
    if (word === 'topic') users.set(user, [...(users.get(user) ?? []), { access: first, filter: second }]);
  }
  return users;
}

/** MQTT 5.0, section 4.7: + stands for one level, # for all that follow. */
function matches(filter: string, topic: string): boolean {
  const [levels, parts] = [filter.split('/'), topic.split('/')];
  for (const [index, level] of levels.entries()) {
    if (level === '#') return true;
    if (parts[index] === undefined || (level !== '+' && level !== parts[index])) return false;
  }
  return levels.length === parts.length;
}

interface Operation {
  readonly action: 'send' | 'receive';
  readonly channel: { readonly $ref: string };
}

const DOCUMENT = JSON.parse(read('config/asyncapi.json')) as {
  readonly channels: Readonly<Record<string, { readonly address: string }>>;
  readonly operations: Readonly<Record<string, Operation>>;
};

const OPERATIONS = Object.entries(DOCUMENT.operations).map(([name, { action, channel }]) => {
  const address = DOCUMENT.channels[channel.$ref.split('/').at(-1) ?? '']?.address ?? '';
  const topic = address
    .replace('{prefix}', 'tonhour')
    .replace('{site}', 'kestrel-quay')
    .replace('{chiller}', 'CH-1')
    .replaceAll(/\{\w+\}/g, 'some');
  return { name, action, topic };
});

test('there are operations of both kinds', () => {
  expect(new Set(OPERATIONS.map(({ action }) => action))).toEqual(new Set(['send', 'receive']));
});

test.each(OPERATIONS)('$name: $topic', ({ action, topic }) => {
  const [own, other] = action === 'send' ? ['write', 'read'] : ['read', 'write'];
  const may = (access: string): boolean =>
    (accessList().get('agent') ?? []).some((each) => each.access === access && matches(each.filter, topic));
  expect([may(own), may(other)]).toEqual([true, false]);
});

test('beside the agent only operators publish, and commands alone', () => {
  const writing = [...accessList()].flatMap(([user, entries]) =>
    user === 'agent' ? [] : entries.filter(({ access }) => access !== 'read').map(({ filter }) => [user, filter]),
  );
  expect(writing).toEqual([['operator', 'tonhour/kestrel-quay/command/+']]);
});
