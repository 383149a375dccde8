/** What every test file begins with. */
import type { ChildProcess } from 'node:child_process';
import { subscribe } from 'node:diagnostics_channel';
import fc from 'fast-check';
import { afterAll } from 'vitest';

/**
 * The seed is fixed, so that a run says something about the change and not about luck; `PROPERTY_SEED=N npm test` looks
 * elsewhere, and whoever finds a fault there adds its example to the test.
 */
fc.configureGlobal({
  seed: Number(process.env['PROPERTY_SEED'] ?? 20261126),
  // Shrinking a slow property could outlast the whole run; the smallest example so far is reported instead.
  interruptAfterTimeLimit: 90_000,
  markInterruptAsFailure: true,
});

/**
 * A process that outlives its test keeps the runner's own streams open, and the runner waits for it: one failed test
 * would hang the whole run. So what still runs at the end of a file is killed.
 */
const children = new Set<ChildProcess>();
subscribe('child_process', (message) => {
  const child = (message as { process: ChildProcess }).process;
  children.add(child);
  child.once('exit', () => children.delete(child));
});
afterAll(() => {
  for (const child of children) child.kill('SIGKILL');
});
