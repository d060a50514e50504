// The table of a class: sorting, filtering, stepping through its files, and saving it.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { BAD, choose, classroom, command, filesOf, MIRRORED, QUAD, rowsOf, saved, STRETCHED } from './classes.mjs';
import { ROOT } from './harness.mjs';

const { work, folderOf, open } = classroom();

test('sorted by distance from ready by default, with columns for the shares', async (t) => {
  const { page, shot } = await open(t);
  const strips = (...lengths) => lengths.map((length, number) => {
    const [x, v, at] = [2 * number, 0.1 + 0.2 * number, 4 * number];
    return `o strip${number}\nv ${x} 0 0\nv ${x + 1} 0 0\nv ${x + 1} 1 0\nv ${x} 1 0\nvt 0.1 ${v}\nvt ${0.1 + 0.1 * length} ${v}\nvt ${0.1 + 0.1 * length} ${v + 0.1}\nvt 0.1 ${v + 0.1}\nf ${[1, 2, 3, 4].map((corner) => `${at + corner}/${at + corner}`).join(' ')}\n`;
  }).join('');
  const files = { 'a ready.obj': QUAD, 'b quarter.obj': strips(3, 1, 1, 1), 'c half.obj': strips(3, 3, 1, 1), 'd.obj': BAD, 'e look.obj': strips(1), 'f flipped.obj': strips(-1, -1) };
  await page.setInputFiles('#file-input', Object.entries(files).map(([name, content]) => ({ name, mimeType: '', buffer: Buffer.from(content) })));
  await page.evaluate(() => window.gridproof.idle());
  const rows = await rowsOf(page);
  assert.deepEqual(rows.map(({ file, 'must-fix': share }) => [file, share]).slice(0, 4),
    [['f flipped.obj', '100 %'], ['c half.obj', '50 %'], ['b quarter.obj', '25 %'], ['e look.obj', '0 %']]);
  assert.deepEqual(rows.slice(4).map(({ file }) => file), ['a ready.obj', 'd.obj']);
  assert.match(rows[0].worst, /Everything is flipped: 100 % of the surface/);
  assert.equal(rows[3].look, 'layout only');
  await shot('class-shares');
});

test('sorts by every column, filters by name, verdict and finding', async (t) => {
  const { page } = await open(t);
  const large = `${QUAD}v 20 0 0\nv 30 0 0\nv 30 10 0\nf 5 6 7\n`;
  await choose(page, { 'a.obj': QUAD, 'b two.obj': MIRRORED, 'c.obj': STRETCHED, 'd.obj': BAD, 'e.obj': large });
  assert.deepEqual(await filesOf(page), ['a.obj', 'b two.obj', 'c.obj', 'd.obj', 'e.obj']);
  const heads = page.locator('#class-heads button');
  const keys = await heads.evaluateAll((all) => all.map((head) => head.dataset.key));
  assert.deepEqual(keys, ['file', 'verdict', 'must-fix', 'look', 'worst', 'triangles', 'shells', 'anisotropy', 'density', 'coverage', 'padding', 'bytes', 'findings', 'notes', 'seen', 'comment', 'points', 'grade', 'since']);
  const numeric = (text) => Number.parseFloat(text.replace(/,/g, '')) * (/kB/.test(text) ? 1000 : 1);
  for (const key of keys) {
    const head = page.locator(`#class-heads button[data-key=${key}]`);
    const seen = [];
    for (let press = 0; press < 2; press += 1) {
      await head.click();
      await page.evaluate(() => window.gridproof.idle());
      seen.push(await page.locator(`#class-heads th:has([data-key=${key}])`).getAttribute('aria-sort'));
      assert.equal(await page.locator('#class-heads th[aria-sort]').count(), 1);
      const cells = (await rowsOf(page)).map((row) => row[key]);
      if (!['file', 'verdict', 'must-fix', 'look', 'worst', 'notes', 'seen', 'grade', 'comment', 'since'].includes(key)) {
        const known = cells.filter((cell) => cell !== '–').map(numeric);
        const sorted = known.toSorted((x, y) => (seen[press] === 'ascending' ? x - y : y - x));
        assert.deepEqual(known, sorted, `${key}, ${seen[press]}`);
        assert.ok(cells.slice(known.length).every((cell) => cell === '–'), `${key}: unknown values come last`);
      }
      if (key === 'verdict' && seen[press] === 'ascending') assert.deepEqual(cells.map((cell) => ['Not ready', 'Have a look', 'Ready', 'Unreadable'].indexOf(cell)), cells.map((cell) => ['Not ready', 'Have a look', 'Ready', 'Unreadable'].indexOf(cell)).toSorted((x, y) => x - y));
    }
    assert.deepEqual(seen.toSorted(), ['ascending', 'descending'], `${key} in both directions`);
  }
  await page.locator('#class-heads button[data-key=file]').click();
  await page.locator('#class-words').fill('TWO');
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await filesOf(page), ['b two.obj']);
  assert.match(await page.locator('#class-shown').innerText(), /1 of 5 shown/);
  await page.locator('#class-words').fill('nothing of this name');
  await page.evaluate(() => window.gridproof.idle());
  assert.ok(await page.locator('#class-none').isVisible());
  await page.locator('#class-all').click();
  await page.locator('#class-verdicts [data-verdict=unreadable]').click();
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await filesOf(page), ['d.obj']);
  await page.locator('#class-verdicts [data-verdict="not ready"]').click();
  await page.evaluate(() => window.gridproof.idle());
  assert.ok((await filesOf(page)).length > 1, 'two verdicts together');
  await page.locator('#class-all').click();
  await page.locator('#class-kind').selectOption('flipped');
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await filesOf(page), ['b two.obj']);
  const table = await saved(page, '#class-save-table');
  assert.equal(table.bytes.toString().trim().split('\r\n').length, 2, 'what is shown is saved');
});

test('keys: open, next, previous, back; the browser\'s Back; focus and filter stay', async (t) => {
  const { page } = await open(t, { touch: false });
  await choose(page, { 'a.obj': QUAD, 'b.obj': MIRRORED, 'c.obj': BAD, 'd.obj': STRETCHED });
  assert.equal(await page.evaluate(() => document.activeElement.id), 'class-title');
  await page.locator('button.class-file').first().focus();
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('Enter');
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#file-name').innerText(), 'b.obj');
  assert.equal(await page.locator('#class-position').innerText(), '2 of 3');
  await page.keyboard.press('j');
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#file-name').innerText(), 'd.obj', 'past the unreadable one');
  assert.ok(await page.locator('#class-next').isDisabled());
  await page.keyboard.press('j');
  await page.keyboard.press('k');
  await page.keyboard.press('k');
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#file-name').innerText(), 'a.obj');
  await page.locator('#class-next').click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#cards summary').first().click();
  await page.locator('#cards .card').first().click();
  await page.keyboard.press('f');
  assert.ok(await page.locator('#class').isVisible());
  assert.equal(await page.evaluate(() => document.activeElement.textContent), 'b.obj', 'where one was');
  await page.goBack();
  await page.goBack();
  await page.goBack();
  assert.ok(await page.locator('#class').isVisible(), 'Back past the finding and the file');
  await page.goForward();
  assert.ok(await page.locator('#class').isHidden());
  await page.goBack();
  // Stepping follows the sorted and filtered order.
  await page.locator('#class-heads button[data-key=file]').click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('button.class-file').first().click();
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#file-name').innerText(), 'd.obj');
  await page.keyboard.press('j');
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#file-name').innerText(), 'b.obj');
  assert.equal(await page.locator('#class-position').innerText(), '2 of 3');
  await page.locator('#class-back').click();
  assert.equal((await filesOf(page)).length, 4);
  // Keys of the stage do nothing here.
  await page.keyboard.press('2');
  assert.equal(await page.evaluate(() => window.gridproof.state().lens), 'grid');
});

test('the saved table is the command\'s, byte by byte', async (t) => {
  const { page } = await open(t);
  const scaled = (factor) => QUAD.replace(/^v (\S+) (\S+) (\S+)$/gm, (_, ...xyz) => `v ${xyz.slice(0, 3).map((part) => Number(part) * factor).join(' ')}`);
  const files = { 'b/quad, "one".obj': QUAD, 'b/bad.obj': BAD, 'empty.obj': '', 'a/mirrored.obj': MIRRORED, 'large.obj': scaled(1e9), 'small.obj': scaled(1e-4), 'tiny.obj': scaled(1e-7), 'Z.OBJ': STRETCHED, 'é.obj': QUAD, '😀.obj': QUAD, 'ﬀ.obj': QUAD, 'b.obj': QUAD, 'notes.txt': 'x' };
  for (const name of ['lantern-draft.obj', 'lantern-revised.obj']) files[`demo/${name}`] = readFileSync(join(ROOT, 'demo', name));
  const folder = folderOf('uploads', files);
  await page.setInputFiles('#folder-input', folder);
  await page.evaluate(() => window.gridproof.idle());
  const { name, bytes } = await saved(page, '#class-save-table');
  assert.equal(name, 'uploads table.csv');
  const expected = command(['check', 'uploads', '--csv', '-'], work);
  // The page adds a column before the command's and fourteen behind, all of them plain here, and the mark of UTF-8.
  assert.deepEqual([...bytes.subarray(0, 3)], [0xef, 0xbb, 0xbf]);
  const ours = bytes.subarray(3).toString().split('\r\n').map((line) => line.replace(/^[^,]*,|(,[^,]*){14}$/g, ''));
  assert.deepEqual(ours, expected.split('\r\n'));
});
