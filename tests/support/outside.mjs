// Data from elsewhere, for tests in Node; tests/support/outside.rs says where it is looked for, and does the same.

import { appendFileSync, existsSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
/** Where tests/outside/get puts what it fetches. */
export const FETCHED = resolve(ROOT, process.env.GRIDPROOF_OUTSIDE || join('tests', 'outside', 'data'));

/** A file or folder of the outside data, or null. */
export function find(path) {
  const folders = process.env.GRIDPROOF_OUTSIDE ? [FETCHED] : [join(ROOT, '..', 'shared'), FETCHED];
  return folders.map((folder) => join(folder, path)).find((found) => existsSync(found)) ?? null;
}

/** The same for a test, which says that it skips what is not there. */
export function outside(t, path) {
  const found = find(path);
  if (!found) {
    t.skip(`there is no outside data ${path}; tests/outside/get fetches what can be had`);
    const list = process.env.GRIDPROOF_SKIPPED;
    if (list) appendFileSync(list, `${t.name}: ${path}\n`);
  }
  return found;
}
