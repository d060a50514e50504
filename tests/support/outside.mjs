// Outside data for tests in Node; the same as tests/support/outside.rs, which documents the folders.

import { appendFileSync, existsSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
/** Target folder of tests/outside/get. */
export const FETCHED = resolve(ROOT, process.env.GRIDPROOF_OUTSIDE || join('tests', 'outside', 'data'));

/** A file or folder of the outside data, or null. */
export function find(path) {
  const folders = process.env.GRIDPROOF_OUTSIDE ? [FETCHED] : [join(ROOT, '..', 'shared'), FETCHED];
  return folders.map((folder) => join(folder, path)).find((found) => existsSync(found)) ?? null;
}

/** The same for a test, which reports that it skips missing data. */
export function outside(t, path) {
  const found = find(path);
  if (!found) {
    t.skip(`there is no outside data ${path}; tests/outside/get fetches what can be had`);
    const list = process.env.GRIDPROOF_SKIPPED;
    if (list) appendFileSync(list, `${t.name}: ${path}\n`);
  }
  return found;
}
