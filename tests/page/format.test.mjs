// Numbers as the page writes them, against the standard's formats (ECMA-402, `Intl.NumberFormat`), and cells of its
// table, against those of the command. No browser.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { csvOf } from '../../www/findings/table.js';
import { three, whole } from '../../www/base/format.js';

const WHOLE = new Intl.NumberFormat('en', { maximumFractionDigits: 0 });
const THREE = new Intl.NumberFormat('en', { maximumSignificantDigits: 3 });

test('numbers are grouped and rounded as in ECMA-402', () => {
  const values = [1, 10, 100, 999.4999, 999.5, 1000, 12.25, 0.5, 2.5, 1e-9, 123456789, 1e15];
  // Steps that cover every digit at every place.
  for (let value = 1e-9; value < 1e15; value *= 1.0173) values.push(value);
  for (const value of values.flatMap((positive) => [positive, -positive])) {
    assert.equal(whole(value), WHOLE.format(value));
    assert.equal(three(value), (Math.abs(value) >= 1000 ? WHOLE : THREE).format(value));
  }
  assert.deepEqual([whole(0), three(0), whole(-0), three(-0)], ['0', '0', '0', '0']);
});

test('infinity and NaN are written as such', () => {
  assert.deepEqual([Infinity, -Infinity, NaN].map(whole), ['Infinity', '-Infinity', 'NaN']);
  assert.deepEqual([Infinity, -Infinity, NaN].map(three), ['Infinity', '-Infinity', 'NaN']);
});

test('cells are quoted as required and contain no formulas or control characters', () => {
  const cells = JSON.parse(readFileSync(new URL('../cells.json', import.meta.url), 'utf8'));
  for (const [cell, written] of cells) {
    const file = { path: cell, result: null, failure: null, student: cell, upload: '', written: { notes: 0, decisions: 0 }, since: null, seen: false, grade: cell, comment: cell };
    const [, row] = csvOf([file]).split('\r\n');
    assert.ok(row.startsWith(`${written},${written},not measured,`), `${JSON.stringify(cell)}: ${row}`);
    assert.ok(row.endsWith(`,no,${written},${written}`), row);
  }
});
