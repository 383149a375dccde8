// Adds up the reports of all test runs and the steps that broke. Ends with 'N passed, N failed' alone on a line; fails
// on any failure or skipped test, and names what failed.
'use strict';
const { readdirSync, readFileSync } = require('node:fs');
const path = require('node:path');

const [folder = '.', ...broken] = process.argv.slice(2);
let passed = 0;
let failed = 0;
let skipped = 0;
const told = new Set();
const faults = [];

for (const name of readdirSync(folder).filter((one) => one.endsWith('.json'))) {
  const report = JSON.parse(readFileSync(path.join(folder, name), 'utf8'));
  passed += report.numPassedTests;
  skipped += report.numPendingTests + report.numTodoTests;
  failed += report.numFailedTests;
  // A file that does not load has no test to count.
  const unloaded = report.testResults.filter(
    (/** @type {{ status: string, assertionResults: { status: string }[] }} */ file) =>
      file.status === 'failed' && file.assertionResults.every(({ status }) => status !== 'failed'),
  ).length;
  failed += unloaded;
  for (const file of report.testResults) {
    for (const test of file.assertionResults)
      if (test.status === 'failed')
        faults.push(`${file.name}: ${test.fullName}: ${test.failureMessages.join(' ').slice(0, 600)}`);
    if (file.status === 'failed' && file.message) faults.push(`${file.name}: ${file.message.slice(0, 600)}`);
  }
  if (report.numFailedTests + unloaded > 0) told.add(name.replace('.json', '').replace('main', 'tests'));
}
// A step that broke without a failed test of its own (types, style, a run that died) counts as one failure.
const silent = broken.filter((step) => !told.has(step));
failed += silent.length;

for (const fault of faults) console.log(`failed: ${fault}`);
if (broken.length > 0) console.log(`broken: ${broken.join(', ')}`);
if (skipped > 0) console.log(`${skipped} skipped: nothing may be skipped`);
console.log(`${passed} passed, ${failed} failed`);
process.exitCode = failed > 0 || skipped > 0 || passed === 0 ? 1 : 0;
