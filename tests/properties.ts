/**
 * Settings of every property test. The seed is fixed, so that a run says something about the change and not about luck;
 * `PROPERTY_SEED=N npm test` looks elsewhere, and whoever finds a fault there adds its example to the test.
 */
import fc from 'fast-check';

fc.configureGlobal({
  seed: Number(process.env['PROPERTY_SEED'] ?? 20261126),
  // Shrinking a slow property could outlast the whole run; the smallest example so far is reported instead.
  interruptAfterTimeLimit: 90_000,
  markInterruptAsFailure: true,
});
