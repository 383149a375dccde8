/**
 * The container file as far as it can be checked without building it: what it copies is there, it names no registry, it
 * ends as an ordinary user, and its health check, run as written, tells a healthy agent from a troubled and a dead one.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, readFileSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';

const ROOT = new URL('../../../', import.meta.url).pathname;
const TEXT = readFileSync(join(ROOT, 'deploy/container/Containerfile'), 'utf8');

/** Instructions with their words, continued lines joined, comments gone. */
const INSTRUCTIONS = TEXT.replaceAll(/^#.*\n/gm, '')
  .replaceAll(/\\\n\s*/g, ' ')
  .split('\n')
  .filter((line) => line.trim() !== '')
  .map((line) => {
    const [, word = '', rest = ''] = /^(\S+)\s+(.*)$/.exec(line) ?? [];
    return { word, rest };
  });
const of = (word: string): string[] => INSTRUCTIONS.filter((each) => each.word === word).map(({ rest }) => rest);

test('only known instructions', () => {
  const known = 'ARG FROM RUN WORKDIR COPY USER VOLUME EXPOSE HEALTHCHECK STOPSIGNAL ENTRYPOINT CMD'.split(' ');
  expect(INSTRUCTIONS.filter(({ word }) => !known.includes(word))).toEqual([]);
});

test('what is copied from the project is there, and is not held back', () => {
  const held = readFileSync(join(ROOT, '.dockerignore'), 'utf8').split('\n');
  const copied = of('COPY').flatMap((rest) => (rest.startsWith('--from') ? [] : rest.split(/\s+/).slice(0, -1)));
  expect(copied.length).toBeGreaterThanOrEqual(5);
  for (const path of copied) {
    expect(existsSync(join(ROOT, path)), path).toBe(true);
    expect(held).not.toContain(path.split('/')[0]);
  }
  expect(held).toContain('node_modules');
});

test('the base comes from whoever builds it, pinned by them', () => {
  expect(of('FROM')).toEqual(['$' + '{BASE} AS packages', '$' + '{BASE}']);
  expect(TEXT).not.toMatch(/[a-z0-9-]+\.(?:io|com|org|net)\b|:latest/);
});

test('it ends as an ordinary user, in the form that passes signals on', () => {
  const last = INSTRUCTIONS.findLastIndex(({ word }) => word === 'FROM');
  const users = INSTRUCTIONS.slice(last).filter(({ word }) => word === 'USER');
  expect(users.map(({ rest }) => rest)).toEqual(['tonhour']);
  for (const form of [...of('ENTRYPOINT'), ...of('CMD')]) expect(Array.isArray(JSON.parse(form))).toBe(true);
});

/** Exit code of the health check against a page of the test. */
async function check(port: number): Promise<number> {
  const [, command = '[]'] = /CMD (\[.*\])$/.exec(of('HEALTHCHECK')[0] ?? '') ?? [];
  const [, ...args] = (JSON.parse(command) as string[]).map((word) => word.replace(':8047/', `:${port}/`));
  const child = spawn(process.execPath, args, { stdio: 'ignore' });
  const [code] = (await once(child, 'exit')) as [number];
  return code;
}

async function page(status: number): Promise<Server> {
  const server = createServer((request, response) => {
    response.writeHead(request.url === '/healthz' ? status : 404).end();
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
  onTestFinished(() => void server.close());
  return server;
}

test('the health check', async () => {
  const ports: number[] = [];
  for (const status of [200, 503]) ports.push(((await page(status)).address() as AddressInfo).port);
  const gone = createServer().listen(0, '127.0.0.1');
  await once(gone, 'listening');
  ports.push((gone.address() as AddressInfo).port);
  gone.close();
  await once(gone, 'close');
  expect(await Promise.all(ports.map(check))).toEqual([0, 1, 1]);
});
