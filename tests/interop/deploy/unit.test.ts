/**
 * The unit file and what belongs to it, checked by systemd's own tools (Debian: systemd): hardening scored offline,
 * keys known, account and folders made in a root of their own. Nothing is installed or started.
 */
import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { LIMITS } from '../../../agent/base/limits.ts';

const ROOT = new URL('../../../', import.meta.url).pathname;
const DEPLOY = join(ROOT, 'deploy/systemd');
const UNIT = join(DEPLOY, 'tonhour.service');

/**
 * Greatest exposure, in tenths: 1.7, well within what systemd calls OK. What is left are the network, which is the job,
 * and NotifyAccess, which Node needs.
 */
const EXPOSURE_MAX = 17;

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tonhour-unit-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

function security(unit: string): { readonly status: number | null; readonly exposure: number } {
  const args = ['security', '--offline=true', `--threshold=${EXPOSURE_MAX}`, '--no-pager', unit];
  const { status, stdout } = spawnSync('systemd-analyze', args, { encoding: 'utf8' });
  const exposure = /Overall exposure level for \S+: ([\d.]+)/.exec(stdout)?.[1];
  if (exposure === undefined) throw new Error(stdout);
  return { status, exposure: Number(exposure) };
}

/** What systemd says of keys and values; that Node lies elsewhere on this machine is no fault of the unit. */
function verify(unit: string): string[] {
  const { stderr } = spawnSync('systemd-analyze', ['verify', '--man=no', unit], { encoding: 'utf8' });
  return stderr.split('\n').filter((line) => line.includes('tonhour.service') && !line.includes('/usr/bin/node'));
}

/** The unit with a change, under its own name. */
function changed(from: RegExp | string, to: string): string {
  const text = readFileSync(UNIT, 'utf8');
  const file = join(folder, 'tonhour.service');
  writeFileSync(file, text.replace(from, to));
  expect(readFileSync(file, 'utf8')).not.toBe(text);
  return file;
}

const value = (key: string): string | undefined =>
  new RegExp(`^${key}=(.*)$`, 'm').exec(readFileSync(UNIT, 'utf8'))?.[1];

describe('tonhour.service', () => {
  test('exposure by systemd-analyze security is within the threshold', () => {
    const { status, exposure } = security(UNIT);
    console.log(`systemd-analyze security: exposure ${exposure}, at most ${EXPOSURE_MAX / 10}`);
    expect(status).toBe(0);
    expect(exposure).toBeLessThanOrEqual(EXPOSURE_MAX / 10);
  });

  test.each([
    ['an account of its own', /^User=.*\nGroup=.*$/m],
    ['no capabilities', /^CapabilityBoundingSet=$/m],
    ['the filter of system calls', /^SystemCallFilter=.*$/gm],
  ])('without %s it would not be', (_, lines) => {
    expect(security(changed(lines, '')).exposure).toBeGreaterThan(EXPOSURE_MAX / 10);
  });

  test('every key is one that systemd knows', () => {
    expect(verify(UNIT)).toEqual([]);
    expect(verify(changed('WatchdogSec=', 'WatchdogSecs='))).not.toEqual([]);
  });

  test('it says ready itself, through a process of its own, and is watched', () => {
    expect([value('Type'), value('NotifyAccess')]).toEqual(['notify', 'all']);
    const [, minutes] = /^(\d+)min$/.exec(value('WatchdogSec') ?? '') ?? [];
    // Three intervals of a minute, with room for a slow disk.
    expect(Number(minutes) * 60).toBeGreaterThanOrEqual(180);
    expect(Number(value('TimeoutStopSec'))).toBeGreaterThan(LIMITS.stop_s_max);
    expect(value('KillMode')).toBe('mixed');
    expect([value('Restart'), value('RestartPreventExitStatus')]).toEqual(['always', '2']);
  });

  test('what it starts is there, and is what the command line knows', () => {
    const [, launcher = '', ...rest] = (value('ExecStart') ?? '').split(' ');
    expect(launcher.startsWith('/opt/tonhour/')).toBe(true);
    expect(existsSync(join(ROOT, launcher.replace('/opt/tonhour/', '')))).toBe(true);
    expect(rest).toEqual(['run', '--config', '/etc/tonhour/site.yaml']);
  });
});

test('the account and the folders are made as the unit needs them', () => {
  mkdirSync(join(folder, 'etc'));
  execFileSync('systemd-sysusers', [`--root=${folder}`, join(DEPLOY, 'sysusers.conf')], { stdio: 'ignore' });
  const [user] = readFileSync(join(folder, 'etc/passwd'), 'utf8')
    .split('\n')
    .map((line) => line.split(':'));
  expect([user?.[0], user?.[6]]).toEqual([value('User'), '/usr/sbin/nologin']);
  execFileSync('systemd-tmpfiles', [`--root=${folder}`, '--create', join(DEPLOY, 'tmpfiles.conf')], {
    stdio: 'ignore',
  });
  const mode = (name: string): number => statSync(join(folder, 'etc', name)).mode & 0o777;
  expect([mode('tonhour'), mode('tonhour/secrets')]).toEqual([0o750, 0o700]);
});
