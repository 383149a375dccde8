/**
 * Prints every breach of the house's rules, sorted by file: what the tests of this folder check, readable in one go.
 */
import { ERRORS } from '../../agent/base/errors.ts';
import { checkCodesUsed } from './codes.ts';
import { checkLinks } from './documents.ts';
import { checkBarrels, checkCycles, checkReach } from './graph.ts';
import { checkImports } from './imports.ts';
import { checkTop } from './package.ts';
import { checkPurity } from './purity.ts';
import rooms from './rooms.json' with { type: 'json' };
import { checkSizes } from './sizes.ts';
import { show } from './source.ts';
import { PATHS, TREE } from './tree.ts';
import { checkWords } from './words.ts';

const findings = [
  ...checkImports(TREE, rooms),
  ...checkPurity(TREE, rooms),
  ...checkCycles(TREE),
  ...checkReach(TREE, rooms),
  ...checkBarrels(TREE),
  ...checkSizes(TREE),
  ...checkCodesUsed(TREE, Object.keys(ERRORS)),
  ...checkWords(TREE),
  ...checkLinks(TREE, PATHS),
  ...checkTop(PATHS),
];
for (const line of show(findings).sort()) console.log(line);
