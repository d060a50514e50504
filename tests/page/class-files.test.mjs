// Input of a class: many files, folders and zips, also damaged and malicious ones; and the workers that measure it.

import assert from 'node:assert/strict';
import { readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { BAD, byPath, choose, classroom, filesOf, MIRRORED, QUAD, rowsOf, STRETCHED, zipOf } from './classes.mjs';
import { ROOT } from './harness.mjs';

const { work, folderOf, open } = classroom();

test('several files: one row each, an unreadable one with its reason and line', async (t) => {
  const { page } = await open(t);
  await choose(page, { 'b.obj': QUAD, 'bad.obj': BAD, 'a.obj': MIRRORED, 'brass.mtl': 'newmtl brass\n' }, { sorted: false });
  assert.match(await page.locator('#announcement').innerText(), /All 3 files are measured: 1 not ready, 1 ready, 1 unreadable/);
  await byPath(page);
  const rows = await rowsOf(page);
  assert.deepEqual(rows.map(({ file }) => file), ['a.obj', 'b.obj', 'bad.obj']);
  assert.deepEqual(rows.map(({ verdict }) => verdict), ['Not ready', 'Ready', 'Unreadable']);
  assert.match(rows[0].worst, /Everything is flipped/);
  assert.match(rows[2].worst, /nothing to draw[\s\S]*Line 4[\s\S]*9/);
  assert.deepEqual(await page.locator('button.class-file').allInnerTexts(), ['a.obj', 'b.obj'], 'an unreadable file cannot be opened');
  assert.deepEqual([rows[1].triangles, rows[1].shells, rows[1].anisotropy, rows[1].coverage, rows[1].bytes], ['2', '1', '1', '64 %', '98 B']);
  assert.match(rows[1].density, /^16\d px\/unit$/);
  assert.match(await page.locator('#class-lead').innerText(), /1\sother file passed over/);
  assert.equal(await page.locator('#class-rows canvas').count(), 2, 'a picture of each model');
  const drawn = await page.evaluate(() => {
    const canvas = document.querySelector('#class-rows canvas');
    const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
    return { size: [canvas.width, canvas.height], colours: new Set(new Uint32Array(data.buffer)).size };
  });
  assert.deepEqual(drawn.size, [96, 72]);
  assert.ok(drawn.colours > 20, `the grid is drawn: ${drawn.colours} colours`);
});

test('two OBJs together: the table, with an offer to compare them as versions', async (t) => {
  const { page, shot } = await open(t);
  await choose(page, { 'lamp v1.obj': STRETCHED, 'lamp v2.obj': QUAD });
  assert.equal((await rowsOf(page)).length, 2);
  assert.match(await page.locator('#class-two-text').innerText(), /lamp v1\.obj is taken for the previous one, lamp v2\.obj for the new one/);
  await shot('class-two');
  await page.locator('#class-compare').click();
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'lamp v2.obj');
  await page.evaluate(() => window.gridproof.idle());
  assert.ok(await page.locator('#class').isHidden());
  assert.match(await page.locator('#versions').innerText(), /lamp v1\.obj/);
  await page.goBack();
  await choose(page, { 'a.obj': QUAD, 'b.obj': QUAD });
  await page.locator('#class-two-leave').click();
  assert.ok(await page.locator('#class-two').isHidden());
  await choose(page, { 'a.obj': QUAD, 'b.obj': QUAD, 'c.obj': QUAD });
  assert.ok(await page.locator('#class-two').isHidden(), 'three make a table');
});

test('one OBJ with its companion files opens as a single model', async (t) => {
  const { page } = await open(t);
  await choose(page, { 'quad.obj': QUAD, 'brass.mtl': 'newmtl brass\n' });
  assert.ok(await page.locator('#class').isHidden());
  assert.equal(await page.locator('#file-name').innerText(), 'quad.obj');
  await choose(page, { 'one.zip': await zipOf({ 'deep/inside/only.obj': QUAD, 'deep/brass.mtl': 'newmtl brass\n' }) });
  assert.ok(await page.locator('#class').isHidden());
  assert.equal(await page.locator('#file-name').innerText(), 'only.obj', 'from a zip too');
});

test('a dropped folder is read recursively without hidden files', async (t) => {
  const { page, context } = await open(t);
  const folder = folderOf('dropped', { 'zoe/lamp.obj': QUAD, 'adam/deep/lamp.obj': MIRRORED, 'adam/._lamp.obj': 'x', '.git/lamp.obj': QUAD, 'read.txt': 'x' });
  const devtools = await context.newCDPSession(page);
  const data = { items: [], files: [folder], dragOperationsMask: 1 };
  for (const type of ['dragEnter', 'dragOver', 'drop']) await devtools.send('Input.dispatchDragEvent', { type, x: 400, y: 300, data });
  await page.locator('#class').waitFor({ state: 'visible' });
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await filesOf(page), ['dropped/adam/deep/lamp.obj', 'dropped/zoe/lamp.obj']);
  assert.match(await page.locator('#class-title').innerText(), /dropped: 2\sfiles/);
});

test('a folder chosen with its button', async (t) => {
  const { page } = await open(t);
  const folder = folderOf('chosen', { 'b/lamp.obj': QUAD, 'a/lamp.obj': QUAD, 'a/brass.mtl': 'newmtl brass\n' });
  await page.setInputFiles('#folder-input', folder);
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await filesOf(page), ['chosen/a/lamp.obj', 'chosen/b/lamp.obj']);
});

/** Presses the folder button and waits until the workers have started; returns them and the browser's dialog. */
async function chooseFolder(page) {
  const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.locator('#folder-open').click()]);
  const workers = () => page.workers().filter((worker) => worker.url().endsWith('/batch.worker.js'));
  await page.waitForFunction(() => window.begun > 0);
  const begun = await page.evaluate(() => window.begun);
  for (let waited = 0; workers().length < begun && waited < 200; waited += 1) await page.waitForTimeout(50);
  assert.equal(workers().length, begun, 'workers start while the folder is being chosen');
  return { chooser, workers };
}

test('workers started for a folder end if none is chosen', async (t) => {
  const { page } = await open(t);
  const { workers } = await chooseFolder(page);
  await page.locator('#folder-input').dispatchEvent('cancel');
  for (let waited = 0; workers().length > 0 && waited < 200; waited += 1) await page.waitForTimeout(50);
  assert.equal(workers().length, 0);
});

test('a worker crash loses one file; other workers do the rest of its queue', async (t) => {
  const { page } = await open(t, { allow: [/planted/] });
  const { chooser, workers } = await chooseFolder(page);
  await workers()[0].evaluate(() => {
    const post = self.postMessage.bind(self);
    self.postMessage = (message, options) => (message.type === 'row' ? self.reportError(new Error('planted')) : post(message, options));
  });
  await chooser.setFiles(folderOf('crashed', { 'a.obj': QUAD, 'b.obj': QUAD, 'c.obj': QUAD, 'd.obj': QUAD, 'e.obj': QUAD }));
  await page.evaluate(() => window.gridproof.idle());
  const verdicts = (await rowsOf(page)).map(({ verdict }) => verdict);
  assert.deepEqual(verdicts.toSorted(), ['Ready', 'Ready', 'Ready', 'Ready', 'Unreadable']);
  assert.equal(await page.locator('#class-rows canvas').count(), 4);
});

test('a file is read once for its verdict and picture, and once more for its seams', async (t) => {
  const { page } = await open(t);
  const { chooser, workers } = await chooseFolder(page);
  for (const worker of workers()) {
    await worker.evaluate(() => {
      const { arrayBuffer } = Blob.prototype;
      Blob.prototype.arrayBuffer = function () {
        self.postMessage({ type: 'read' });
        return arrayBuffer.apply(this);
      };
    });
  }
  await chooser.setFiles(folderOf('once', Object.fromEntries([...'abcdefgh'].map((name) => [`${name}.obj`, QUAD]))));
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#class-rows canvas').count(), 8);
  assert.equal(await page.evaluate(() => window.reads), 16);
});

test('pictures have the device’s pixel density', async (t) => {
  const { page } = await open(t, { scale: 2 });
  await choose(page, { 'a.obj': QUAD, 'b.obj': QUAD });
  assert.deepEqual(await page.locator('#class-rows canvas').evaluateAll((all) => all.map(({ width, height }) => [width, height])), [[192, 144], [192, 144]]);
});

test('workers warm up on the demo while a folder is chosen; real files come first', async (t) => {
  const { page } = await open(t);
  const asked = [];
  await page.context().route('**/demo/lantern-draft.obj', async (route) => {
    asked.push(route.request().url());
    await route.continue();
  });
  const { chooser, workers } = await chooseFolder(page);
  for (let waited = 0; asked.length < workers().length && waited < 100; waited += 1) await page.waitForTimeout(50);
  assert.equal(asked.length, workers().length);
  await chooser.setFiles(folderOf('meanwhile', { 'a.obj': QUAD, 'b.obj': MIRRORED }));
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual((await rowsOf(page)).map(({ file, verdict }) => [file, verdict]), [['meanwhile/b.obj', 'Not ready'], ['meanwhile/a.obj', 'Ready']]);
});

test('a zip with nested folders: its files are read and open in the 3D view', async (t) => {
  const { page } = await open(t);
  await choose(page, { 'uploads.zip': await zipOf({ 'zoë/lamp.obj': QUAD, 'adam/v2/lamp.obj': MIRRORED, '__MACOSX/adam/._lamp.obj': 'x', 'adam/brass.mtl': 'newmtl brass\n' }) });
  assert.deepEqual(await filesOf(page), ['adam/v2/lamp.obj', 'zoë/lamp.obj']);
  assert.deepEqual((await rowsOf(page)).map(({ verdict }) => verdict), ['Not ready', 'Ready']);
  await page.locator('button.class-file').nth(1).click();
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#file-name').innerText(), 'lamp.obj');
  assert.equal(await page.locator('#verdict').innerText(), 'Ready');
});

/** Overwrites a number of an entry in a zip's directory: PKWARE APPNOTE 4.3.12, offsets from the entry's signature. */
function patchDirectory(zip, at, value) {
  const patched = Buffer.from(zip);
  const entry = patched.indexOf(Buffer.from([0x50, 0x4b, 0x01, 0x02]));
  patched.writeUInt32LE(value, entry + at);
  return patched;
}
const [SIZE_PACKED, SIZE] = [20, 24];

/** A zip of empty files, all at one place: APPNOTE 4.3.7, 4.3.12 and 4.3.16. */
function emptyEntries(count) {
  const local = Buffer.alloc(31);
  local.writeUInt32LE(0x04034b50, 0);
  local.writeUInt16LE(1, 26);
  const entry = Buffer.alloc(47);
  entry.writeUInt32LE(0x02014b50, 0);
  entry.writeUInt16LE(1, 28);
  entry.write('x', 46);
  const end = Buffer.alloc(22);
  end.writeUInt32LE(0x06054b50, 0);
  end.writeUInt16LE(count, 8);
  end.writeUInt16LE(count, 10);
  end.writeUInt32LE(count * entry.length, 12);
  end.writeUInt32LE(local.length, 16);
  return Buffer.concat([local, ...Array(count).fill(entry), end]);
}

test('malicious zips: bad entries get a row with a reason, unreadable zips a message', async (t) => {
  const { page } = await open(t);
  const inner = await zipOf({ 'a.obj': QUAD });
  await choose(page, { 'harm.zip': await zipOf({ 'good.obj': QUAD, 'bomb.obj': Buffer.alloc(3e6, 'v 0 0 0\n'), 'inner.zip': inner, 'other.obj': QUAD }) });
  const rows = await rowsOf(page);
  assert.deepEqual(rows.map(({ file, verdict }) => [file, verdict]), [['bomb.obj', 'Unreadable'], ['good.obj', 'Ready'], ['inner.zip', 'Unreadable'], ['other.obj', 'Ready']]);
  assert.match(rows[0].worst, /\d+ times its size[\s\S]*limit is 200 times/);
  assert.match(rows[2].worst, /zip inside a zip/);

  // The directory says 40 instead of 98 bytes: output is counted, and reading stops at the 41st.
  const lying = patchDirectory(await zipOf({ 'a.obj': QUAD, 'b.obj': QUAD }), SIZE, 40);
  await choose(page, { 'lying.zip': lying });
  assert.deepEqual((await rowsOf(page)).map(({ verdict }) => verdict), ['Unreadable', 'Ready']);
  assert.match((await rowsOf(page))[0].worst, /longer than the 40 bytes|damaged inside the zip/);

  const large = patchDirectory(await zipOf({ 'a.obj': QUAD, 'b.obj': QUAD }), SIZE, 2 ** 31);
  await choose(page, { 'large.zip': large });
  assert.match((await rowsOf(page))[0].worst, /would have 2 GiB; the limit inside a zip is 1 GiB/);

  await choose(page, { 'many.zip': emptyEntries(20_001) });
  assert.match(await page.locator('#class-outcome').innerText(), /holds too much: many\.zip[\s\S]*more than 20,000 entries/);

  // Nine files that declare a GiB each, packed at an allowed ratio.
  let total = await zipOf(Object.fromEntries(Array.from({ length: 9 }, (_, at) => [`${at}.obj`, QUAD])));
  for (let from = 0; ; ) {
    const entry = total.indexOf(Buffer.from([0x50, 0x4b, 0x01, 0x02]), from);
    if (entry < 0) break;
    total.writeUInt32LE(2 ** 30, entry + SIZE);
    total.writeUInt32LE(2 ** 28, entry + SIZE_PACKED);
    from = entry + 4;
  }
  await choose(page, { 'total.zip': total });
  assert.match(await page.locator('#class-outcome').innerText(), /holds too much: total\.zip[\s\S]*9 GiB; the limit is 8 GiB/);

  const huge = join(work, 'huge.zip');
  writeFileSync(huge, '');
  truncateSync(huge, 2 ** 32 + 1);
  await choose(page, [huge]);
  assert.match(await page.locator('#class-outcome').innerText(), /holds too much: huge\.zip[\s\S]*limit is 4 GiB/);
  rmSync(huge);
  assert.equal((await rowsOf(page)).length, 2, 'the previous table is kept');
});

test('damaged zips and zips without a model are reported, and the next file is read', async (t) => {
  const { page, shot } = await open(t);
  const whole = await zipOf({ 'a.obj': QUAD.repeat(40), 'b.obj': QUAD });
  await choose(page, { 'short.zip': whole.subarray(0, whole.length - 30) });
  const said = await page.locator('#problem').innerText();
  assert.match(said, /zip is damaged[\s\S]*short\.zip[\s\S]*cut short/);
  await shot('class-refused');
  await choose(page, { 'textures.zip': await zipOf({ 'a.png': 'x', 'b.mtl': 'x' }) });
  assert.match(await page.locator('#problem').innerText(), /no model in it[\s\S]*textures\.zip[\s\S]*no OBJ file in this zip/);
  await page.setInputFiles('#folder-input', folderOf('bare', { 'a.png': 'x' }));
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#problem').innerText(), /no OBJ file/);

  const hurt = Buffer.from(whole);
  hurt[60] ^= 0xff;
  hurt[61] ^= 0xff;
  await choose(page, { 'hurt.zip': hurt });
  const rows = await rowsOf(page);
  assert.deepEqual(rows.map(({ verdict }) => verdict), ['Unreadable', 'Ready']);
  assert.match(rows[0].worst, /damaged inside the zip/);

  const locked = await zipOf({ 'a.obj': QUAD, 'b.obj': QUAD }, { password: 'lantern', zipCrypto: true });
  await choose(page, { 'locked.zip': locked });
  assert.match((await rowsOf(page))[0].worst, /locked with a password/);
  await choose(page, { 'next.obj': QUAD });
  assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
  assert.ok(await page.locator('#class').isHidden());
});

test('the vendored zip reader is identical to the package\'s', () => {
  const own = readFileSync(join(ROOT, 'www/vendor/zip.min.js'));
  const theirs = readFileSync(join(ROOT, 'tests/node_modules/@zip.js/zip.js/dist/zip-core-external.min.js'));
  assert.ok(own.equals(theirs));
});
