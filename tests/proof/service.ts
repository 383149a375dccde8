/**
 * The unit file under a real service manager: systemd booted in a container of its own (systemd-nspawn of the package
 * systemd-container; root), on the /usr of this machine, everything else of it in memory. The agent runs as shipped but
 * for intervals of 5 s and a watchdog of 20 s. Printed: whether it starts, stays beyond the watchdog, what it may do,
 * what a hang and a stop come to, and what a mistake in the site file does.
 *
 *     node agent/launch.cjs --node tests/proof/service.ts [systemd-nspawn]
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const ROOT = new URL('../../', import.meta.url).pathname;
const nspawn = process.argv[2] ?? 'systemd-nspawn';
const folder = mkdtempSync(join(tmpdir(), 'tonhour-service-'));
const at = (name: string): string => join(folder, name);

const PROBE = `#!/bin/sh
exec > /out/probe.txt 2>&1
of() { systemctl show tonhour -p "$1" --value; }
show() { echo "$1: $(of ActiveState), $(of SubState), result $(of Result), restarts $(of NRestarts), '$(of StatusText)'"; }
until_is() { for i in $(seq 120); do [ "$(of "$1")" = "$2" ] && return; sleep 1; done; }
until_is ActiveState active; show 'started'
sleep 40; show '40 s later, twice the watchdog'
echo "credential: $(ls /run/credentials/tonhour.service)"
echo "process: $(grep -hE 'CapEff|NoNewPrivs|Seccomp:' /proc/$(of MainPID)/status | tr -s '\\t\\n' ' ')"
echo "its folder: $(stat -c '%U %a' /var/lib/tonhour), others cannot be written: $(systemctl show tonhour -p ProtectSystem --value)"
began=$(date +%s); systemctl kill -s STOP tonhour
until_is NRestarts 1; echo "hung: started anew after $(( $(date +%s) - began )) s"
until_is ActiveState active; sleep 15; show 'after the restart'
systemctl stop tonhour; show 'stopped'; echo "exit code $(of ExecMainStatus)"
journalctl -u tonhour -o cat --no-pager | grep -c stopping | sed 's/^/orderly ends in the log: /'
rm -f /etc/tonhour-copy; mkdir -p /run/systemd/system/tonhour.service.d
printf '[Service]\\nExecStart=\\nExecStart=/usr/bin/node /opt/tonhour/agent/launch.cjs run --config /etc/tonhour/none.yaml\\n' > /run/systemd/system/tonhour.service.d/zz.conf
systemctl daemon-reload; systemctl start tonhour; sleep 15; show 'no site file'; echo "exit code $(of ExecMainStatus)"
systemctl poweroff
`;

function files(): void {
  mkdirSync(at('etc/secrets'), { recursive: true });
  writeFileSync(at('etc/secrets/mqtt-password'), 'none');
  chmodSync(at('etc/secrets'), 0o700);
  const example = readFileSync(join(ROOT, 'config/kestrel-quay.yaml'), 'utf8');
  // One machine that nobody answers for, no broker, any free port for the page.
  const [site = ''] = example.replace(/\nmqtt:\n(?: {2}.*\n)+/, '\n').split('\n  - id: CH-2');
  writeFileSync(
    at('etc/site.yaml'),
    `${site}\n`.replace(/^ {2}port: \d+.*$/m, '  port: 0').replace(/^interval_s:.*$/m, ''),
  );
  const text = readFileSync(at('etc/site.yaml'), 'utf8');
  writeFileSync(at('etc/site.yaml'), text.replace('\nchillers:', '\ninterval_s: 5\nchillers:'));
  mkdirSync(at('dropin'));
  writeFileSync(at('dropin/proof.conf'), '[Service]\nWatchdogSec=20\n');
  writeFileSync(at('probe.sh'), PROBE);
  writeFileSync(at('probe.service'), '[Service]\nType=oneshot\nExecStart=/bin/sh /probe.sh\n');
  mkdirSync(at('out'));
}

async function boot(): Promise<void> {
  const units = '/etc/systemd/system';
  const binds = {
    [ROOT.replace(/\/$/, '')]: '/opt/tonhour',
    [at('etc')]: '/etc/tonhour',
    [join(ROOT, 'deploy/systemd/tonhour.service')]: `${units}/tonhour.service`,
    [at('dropin')]: `${units}/tonhour.service.d`,
    [join(ROOT, 'deploy/systemd/sysusers.conf')]: '/etc/sysusers.d/tonhour.conf',
    [at('probe.service')]: `${units}/probe.service`,
    [at('probe.sh')]: '/probe.sh',
  };
  const args = [
    ...[
      '--directory=/',
      '--volatile=yes',
      '--register=no',
      '--keep-unit',
      '--machine=tonhour-proof',
      '--console=read-only',
    ],
    ...Object.entries(binds).map(([from, to]) => `--bind-ro=${from}:${to}`),
    `--bind=${at('out')}:/out`,
    ...['--boot', 'systemd.wants=tonhour.service', 'systemd.wants=probe.service', 'systemd.unit=multi-user.target'],
    'systemd.firstboot=off',
  ];
  const child = spawn(nspawn, args, {
    stdio: 'ignore',
    env: { ...process.env, SYSTEMD_NSPAWN_UNIFIED_HIERARCHY: '0' },
  });
  const late = setTimeout(() => child.kill('SIGKILL'), 600_000);
  await once(child, 'exit');
  clearTimeout(late);
}

try {
  files();
  await boot();
  console.log(readFileSync(at('out/probe.txt'), 'utf8').trimEnd());
} finally {
  rmSync(folder, { recursive: true, force: true });
}
