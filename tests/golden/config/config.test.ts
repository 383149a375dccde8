/**
 * Goal: whoever edits a site file is told file, line, key, what is wrong and what to do. Method: a case is a folder
 * with the site file as somebody might write it and the text that person sees; no site.yaml means that the file is
 * missing. `ok` stands for a good file.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { readFileBounded } from '../../../agent/config/files.ts';
import { formatIssues, openSite } from '../../../agent/config/load.ts';

const HERE = import.meta.dirname;
const CASES = readdirSync(HERE, { withFileTypes: true }).filter((entry) => entry.isDirectory());

describe('site files', () => {
  test('there are cases', () => expect(CASES.length).toBeGreaterThanOrEqual(15));

  test.each(CASES.map(({ name }) => name))('%s', async (name) => {
    const opened = await openSite('site.yaml', {
      env: { BROKER_PASSWORD: 'hunter2' },
      readFile: (path, bytes_max) => readFileBounded(join(HERE, name, path), bytes_max),
      notices: (site) =>
        site.chillers.some(({ points }) => points.some((point) => point.name === 'unit.power'))
          ? []
          : [
              {
                code: 'config_metric_unobservable',
                path: ['chillers', 0, 'points'],
                message: 'unit.kw_per_ton needs the point unit.power',
              },
            ],
    });
    const said = opened.ok ? `ok\n${formatIssues(opened.value.notices)}` : formatIssues(opened.fault);
    expect(said).toBe(readFileSync(join(HERE, name, 'expected.txt'), 'utf8'));
    expect(said).not.toContain('hunter2');
  });
});
