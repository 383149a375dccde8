import { defineConfig } from 'vitest/config';

/** One project per kind of test; `npm test` runs those that need npm alone, `.ci/run` adds browser and interop. */
const kinds = ['unit', 'property', 'oracle', 'golden', 'contract', 'fault', 'tidy', 'browser', 'interop', 'bench'];

/** Where a machine-readable report is wanted beside the printed one. */
const report = process.env['TEST_REPORT'];

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    maxWorkers: 2,
    reporters: report === undefined ? ['default'] : ['default', ['json', { outputFile: report }]],
    projects: kinds.map((kind) => ({
      test: {
        name: kind,
        include: [`tests/${kind}/**/*.test.ts`],
        setupFiles: ['tests/setup.ts'],
        testTimeout: kind === 'unit' ? 20_000 : 120_000,
        hookTimeout: 60_000,
      },
    })),
  },
});
