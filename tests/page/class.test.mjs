// A class of files: folders, many files and zips as a table; sorting, filtering, walking through, saving; zips that are
// damaged or made to do harm. Thirty lanterns with faults planted by the demo's generator are told by their faults.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { after, before, test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { BlobReader, TextWriter, ZipReader } from '@zip.js/zip.js';
import { LANTERNS, lanternsIn, missedFaults, rowsOf, zipOf } from './classes.mjs';
import { violations } from './everybody.mjs';
import { gridproof, ROOT } from './harness.mjs';
import { traceThread } from './thread.mjs';

const site = gridproof();

const QUAD = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n';
/** Its words would read backwards. */
const MIRRORED = QUAD.replace('f 1/1 2/2 3/3 4/4', 'f 1/2 2/1 3/4 4/3');
/** Three of its four numbers are stretched. */
const STRETCHED = QUAD.replaceAll('vt 0.9', 'vt 0.3');
const BAD = 'v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n';

/**
 * Most that one task of the page's thread may compute, ms. The longest takes 45 here, for what is typed into the filter of 600
 * rows; machines that share their cores count up to four times as much for the same work.
 */
const MOST_COMPUTED_MS = 250;
/** Most that measuring thirty lanterns may take on a machine that does other things too, ms. */
const CLASS_LIMIT = 600_000;

let work;
before(() => {
  work = mkdtempSync(join(tmpdir(), 'gridproof-class-'));
});
after(() => rmSync(work, { recursive: true }));

/** What a program prints; `status` as it should be. */
function run(program, args, { status = [0], cwd = ROOT } = {}) {
  const ran = spawnSync(program, args, { cwd, encoding: 'utf8', maxBuffer: 2 ** 28 });
  assert.ok(status.includes(ran.status), `${program} ${args.join(' ')}: ${ran.status} ${ran.error ?? ''} ${ran.stderr}`);
  return ran.stdout;
}

/** What the command prints about files that need not be ready. */
function command(args, cwd) {
  const { GRIDPROOF_COMMAND: built } = process.env;
  const manifest = ['run', '--quiet', '--manifest-path', join(ROOT, 'Cargo.toml'), '--'];
  return built ? run(built, args, { status: [0, 1, 2], cwd }) : run('cargo', [...manifest, ...args], { status: [0, 1, 2], cwd });
}

/** Writes files, folders and all. */
function folderOf(name, files) {
  const folder = join(work, name);
  for (const [path, content] of Object.entries(files)) {
    mkdirSync(dirname(join(folder, path)), { recursive: true });
    writeFileSync(join(folder, path), content);
  }
  return folder;
}

async function open(t, options) {
  const opened = await site.openPage(t, { ...options, path: null });
  await opened.page.addInitScript(countWorkers);
  await opened.page.goto(new URL(options?.path ?? '', site.address).href);
  await opened.page.evaluate(() => window.gridproof.idle());
  return opened;
}

/** In the page: counts workers of a class that began, and the reads of files that a test has them tell. */
function countWorkers() {
  Object.assign(window, { begun: 0, reads: 0 });
  window.Worker = class extends window.Worker {
    constructor(script, options) {
      super(script, options);
      window.begun += options.name === 'gridproof class' ? 1 : 0;
      this.addEventListener('message', ({ data }) => (window.reads += data.type === 'read' ? 1 : 0));
    }
  };
}

/** Chooses files by the button: paths, or names and contents. */
async function choose(page, files, { sorted = true } = {}) {
  const given = Array.isArray(files) ? files : Object.entries(files).map(([name, content]) => ({ name, mimeType: '', buffer: Buffer.from(content) }));
  await page.setInputFiles('#file-input', given);
  await page.evaluate(() => window.gridproof.idle());
  if (sorted) await byPath(page);
}

/** Puts the rows in the order of their paths, where there is a table. */
async function byPath(page) {
  const head = page.locator('#class-heads button[data-key=file]');
  if (!(await head.isVisible())) return;
  await head.click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-title').focus();
}

const filesOf = async (page) => (await rowsOf(page)).map(({ file }) => file);

/** What a download held. */
async function saved(page, button) {
  const [download] = await Promise.all([page.waitForEvent('download', { timeout: CLASS_LIMIT }), page.locator(button).click()]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

test('several files chosen: a row each, the one that cannot be read with its reason and line', async (t) => {
  const { page } = await open(t);
  await choose(page, { 'b.obj': QUAD, 'bad.obj': BAD, 'a.obj': MIRRORED, 'brass.mtl': 'newmtl brass\n' }, { sorted: false });
  assert.match(await page.locator('#announcement').innerText(), /All 3 files are measured: 1 not ready, 1 ready, 1 unreadable/);
  await byPath(page);
  const rows = await rowsOf(page);
  assert.deepEqual(rows.map(({ file }) => file), ['a.obj', 'b.obj', 'bad.obj']);
  assert.deepEqual(rows.map(({ verdict }) => verdict), ['Not ready', 'Ready', 'Unreadable']);
  assert.match(rows[0].worst, /Everything is flipped/);
  assert.match(rows[2].worst, /nothing to draw[\s\S]*Line 4[\s\S]*9/);
  assert.deepEqual(await page.locator('button.class-file').allInnerTexts(), ['a.obj', 'b.obj'], 'what cannot be read offers nothing to open');
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

test('two OBJs given together: the table, and the question whether they are versions', async (t) => {
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
  assert.ok(await page.locator('#class-two').isHidden(), 'three are a table');
});

test('one OBJ with its companions opens as ever', async (t) => {
  const { page } = await open(t);
  await choose(page, { 'quad.obj': QUAD, 'brass.mtl': 'newmtl brass\n' });
  assert.ok(await page.locator('#class').isHidden());
  assert.equal(await page.locator('#file-name').innerText(), 'quad.obj');
  await choose(page, { 'one.zip': await zipOf({ 'deep/inside/only.obj': QUAD, 'deep/brass.mtl': 'newmtl brass\n' }) });
  assert.ok(await page.locator('#class').isHidden());
  assert.equal(await page.locator('#file-name').innerText(), 'only.obj', 'out of a zip too');
});

test('a folder dropped is walked to its depths, hidden files passed over', async (t) => {
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

test('a folder chosen by its button', async (t) => {
  const { page } = await open(t);
  const folder = folderOf('chosen', { 'b/lamp.obj': QUAD, 'a/lamp.obj': QUAD, 'a/brass.mtl': 'newmtl brass\n' });
  await page.setInputFiles('#folder-input', folder);
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await filesOf(page), ['chosen/a/lamp.obj', 'chosen/b/lamp.obj']);
});

/** Presses the folder's button and waits until the workers have begun; gives them and the browser's dialog. */
async function chooseFolder(page) {
  const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.locator('#folder-open').click()]);
  const workers = () => page.workers().filter((worker) => worker.url().endsWith('/batch.worker.js'));
  await page.waitForFunction(() => window.begun > 0);
  const begun = await page.evaluate(() => window.begun);
  for (let waited = 0; workers().length < begun && waited < 200; waited += 1) await page.waitForTimeout(50);
  assert.equal(workers().length, begun, 'workers begin while the folder is being chosen');
  return { chooser, workers };
}

test('workers that began for a folder end where none is chosen', async (t) => {
  const { page } = await open(t);
  const { workers } = await chooseFolder(page);
  await page.locator('#folder-input').dispatchEvent('cancel');
  for (let waited = 0; workers().length > 0 && waited < 200; waited += 1) await page.waitForTimeout(50);
  assert.equal(workers().length, 0);
});

test('a worker that crashes takes one file with it; what it had before it is done by others', async (t) => {
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

test('a file is read once for its verdict and its picture, and once more for its seams', async (t) => {
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

test('on a sharp screen the pictures are sharp', async (t) => {
  const { page } = await open(t, { scale: 2 });
  await choose(page, { 'a.obj': QUAD, 'b.obj': QUAD });
  assert.deepEqual(await page.locator('#class-rows canvas').evaluateAll((all) => all.map(({ width, height }) => [width, height])), [[192, 144], [192, 144]]);
});

test('while a folder is chosen its workers practise on the demo; what is chosen meanwhile comes first', async (t) => {
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

test('a zip with nested folders: its files are read out of it, and open on the stage', async (t) => {
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

test('zips made to do harm: a row with its reason where others can be read, a sentence where not', async (t) => {
  const { page } = await open(t);
  const inner = await zipOf({ 'a.obj': QUAD });
  await choose(page, { 'harm.zip': await zipOf({ 'good.obj': QUAD, 'bomb.obj': Buffer.alloc(3e6, 'v 0 0 0\n'), 'inner.zip': inner, 'other.obj': QUAD }) });
  const rows = await rowsOf(page);
  assert.deepEqual(rows.map(({ file, verdict }) => [file, verdict]), [['bomb.obj', 'Unreadable'], ['good.obj', 'Ready'], ['inner.zip', 'Unreadable'], ['other.obj', 'Ready']]);
  assert.match(rows[0].worst, /\d+ times its size[\s\S]*limit is 200 times/);
  assert.match(rows[2].worst, /zip inside a zip/);

  // The directory says 98 bytes are 40: what comes out is counted, and left at the 41st.
  const lying = patchDirectory(await zipOf({ 'a.obj': QUAD, 'b.obj': QUAD }), SIZE, 40);
  await choose(page, { 'lying.zip': lying });
  assert.deepEqual((await rowsOf(page)).map(({ verdict }) => verdict), ['Unreadable', 'Ready']);
  assert.match((await rowsOf(page))[0].worst, /longer than the 40 bytes|damaged inside the zip/);

  const large = patchDirectory(await zipOf({ 'a.obj': QUAD, 'b.obj': QUAD }), SIZE, 2 ** 31);
  await choose(page, { 'large.zip': large });
  assert.match((await rowsOf(page))[0].worst, /would have 2 GiB; the limit inside a zip is 1 GiB/);

  await choose(page, { 'many.zip': emptyEntries(20_001) });
  assert.match(await page.locator('#class-outcome').innerText(), /holds too much: many\.zip[\s\S]*more than 20,000 entries/);

  // Nine files of a GiB each by their own word, packed at a ratio that is allowed.
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
  assert.equal((await rowsOf(page)).length, 2, 'the table that was there is there');
});

test('damaged zips, and such without a model: said so, and the next file is read', async (t) => {
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

test('at first the farthest from ready comes first, and the shares have columns', async (t) => {
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

test('sorted by every column, filtered by name, verdict and finding', async (t) => {
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
        assert.ok(cells.slice(known.length).every((cell) => cell === '–'), `${key}: what is not known comes last`);
      }
      if (key === 'verdict' && seen[press] === 'ascending') assert.deepEqual(cells.map((cell) => ['Not ready', 'Have a look', 'Ready', 'Unreadable'].indexOf(cell)), cells.map((cell) => ['Not ready', 'Have a look', 'Ready', 'Unreadable'].indexOf(cell)).toSorted((x, y) => x - y));
    }
    assert.deepEqual(seen.toSorted(), ['ascending', 'descending'], `${key} both ways`);
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
  assert.equal(await page.locator('#file-name').innerText(), 'd.obj', 'past the one that cannot be read');
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
  // Sorted and filtered rows are walked in their order.
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

test('the table saved is the command\'s, byte by byte', async (t) => {
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

/** Rows of a CSV by RFC 4180, as objects. */
function parseCsv(bytes) {
  const rows = [[]];
  let cell = '';
  let quoted = false;
  const text = bytes.toString().replace(/^\ufeff/, '');
  for (let at = 0; at < text.length; at += 1) {
    if (quoted && text[at] === '"' && text[at + 1] === '"') [cell, at] = [cell + '"', at + 1];
    else if (text[at] === '"') quoted = !quoted;
    else if (!quoted && (text[at] === ',' || text.startsWith('\r\n', at))) {
      rows.at(-1).push(cell);
      cell = '';
      if (text[at] === '\r') [at] = [at + 1, rows.push([])];
    } else cell += text[at];
  }
  const [head, ...others] = rows.filter(({ length }) => length > 0);
  return others.map((row) => Object.fromEntries(head.map((name, at) => [name, row[at]])));
}

const studentsOf = async (page) => (await rowsOf(page)).map(({ student }) => student);

/** Gives a folder by its button, rows in the order of students. */
async function chooseFolderOf(page, name, files) {
  await page.setInputFiles('#folder-input', folderOf(name, files));
  await page.evaluate(() => window.gridproof.idle());
  await byPath(page);
}

test('every row says whose it is: by folder, by the first part of the name, by the whole of it, by a pattern; the rule stays', async (t) => {
  const { page } = await open(t);
  await chooseFolderOf(page, 'term', { 'lamp/group 10/a.obj': QUAD, 'lamp/group 9/b.obj': QUAD, 'lamp/Group 1/deep/c.obj': QUAD });
  assert.deepEqual(await studentsOf(page), ['Group 1', 'group 9', 'group 10'], 'the first folder that differs, sorted as people sort');
  await chooseFolderOf(page, 'flat', { 'zoë meyer_lamp_2.obj': QUAD, 'Adam_lamp.obj': QUAD, 'bea_x.obj': QUAD });
  assert.deepEqual(await studentsOf(page), ['Adam', 'bea', 'zoë meyer']);
  await chooseFolderOf(page, 'whole', { 'lantern-1.obj': QUAD, 'lantern-2.obj': QUAD, 'lantern-10.obj': QUAD });
  assert.deepEqual(await studentsOf(page), ['lantern-1', 'lantern-2', 'lantern-10'], 'a part that all have names nobody');
  await choose(page, { 'w.zip': await zipOf({ 'w21_zoë-lamp.obj': QUAD, 'w21_adam-lamp.obj': MIRRORED }) });
  assert.deepEqual(await studentsOf(page), ['w21_adam', 'w21_zoë']);
  await page.locator('#class-students-open').click();
  await page.locator('#class-rule').selectOption('pattern');
  await page.locator('#class-pattern').fill('w21_{rest');
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#class-students-facts').innerText(), /has \{student\} in it, once/);
  await page.locator('#class-pattern').fill('w21_{student}-{rest}');
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await studentsOf(page), ['adam', 'zoë']);
  await page.locator('button.class-file').nth(1).click();
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#class-student').innerText(), 'zoë');
  assert.equal(await page.title(), 'zoë · w21_zoë-lamp.obj · Gridproof');
  await page.reload();
  await page.evaluate(() => window.gridproof.idle());
  await choose(page, { 'w.zip': await zipOf({ 'w21_zoë-lamp.obj': QUAD, 'w21_adam-lamp.obj': MIRRORED }) });
  assert.deepEqual(await studentsOf(page), ['adam', 'zoë'], 'kept with the class');
});

test('what is saved of an open file bears its student\'s name', async (t) => {
  const { page } = await open(t);
  await chooseFolderOf(page, 'named', { 'zoë/lamp.obj': QUAD, 'adam/lamp.obj': MIRRORED });
  await page.locator('button.class-file').first().click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#save-open').click();
  assert.equal(await page.locator('#save-name').innerText(), 'adam lamp report.html');
  await page.keyboard.press('Escape');
  await choose(page, { 'alone.obj': QUAD });
  await page.locator('#save-open').click();
  assert.equal(await page.locator('#save-name').innerText(), 'alone report.html', 'a file of no class is nobody\'s');
});

test('a wrong upload is a row of its own, and a name on the list without a file is missing', async (t) => {
  const { page, shot } = await open(t);
  const fbx = Buffer.concat([Buffer.from('Kaydara FBX Binary  \0\x1a\0', 'latin1'), Buffer.alloc(2000, 7)]);
  const png = Buffer.from('89504e470d0a1a0a0000000d49484452', 'hex');
  const files = {
    'adam/lamp.obj': QUAD, 'bea/lamp.fbx': fbx, 'bea/brass.png': png, 'cem/lamp.obj': '', 'dora/old.obj': QUAD, 'dora/new.obj': MIRRORED, 'eva/lamp.glb': Buffer.from('glTF\x02\0\0\0\xff\0', 'latin1'),
    'finn/shot.png': png, 'gus/lamp.7z': Buffer.from('377abcaf271c0004', 'hex'), 'hal/lamp.rar': Buffer.from('526172211a070100', 'hex'), 'ida/readme.txt': 'lamp is coming', 'textures/wood.jpg': 'x', 'jan/lamp.stl': 'solid lamp\nfacet normal 0 0 1\n', 'kim/lamp.zip': await zipOf({ 'lamp.fbx': fbx }), 'lea/lamp.fbx': '',
  };
  await chooseFolderOf(page, 'wrong', files);
  const told = async () => (await rowsOf(page)).map(({ student, verdict, worst, several }) => [student, verdict, several || worst]);
  const rows = await told();
  assert.deepEqual(rows.map(([student]) => student), ['adam', 'bea', 'cem', 'dora', 'dora', 'eva', 'finn', 'gus', 'hal', 'ida', 'jan', 'kim', 'lea']);
  const worst = Object.fromEntries(rows.map(([student, , text]) => [student, text]));
  assert.match(worst.bea, /^FBX, no OBJ .*By its first bytes this is an FBX scene/);
  assert.match(worst.cem, /^Empty file/);
  assert.equal(worst.dora, '2 OBJs: which?');
  assert.match(worst.eva, /^glTF, no OBJ .*glTF/);
  assert.match(worst.finn, /^PNG, no OBJ .*PNG picture/);
  assert.match(worst.gus, /^7z, no OBJ .*7z archive/);
  assert.match(worst.hal, /^RAR, no OBJ .*RAR archive/);
  assert.match(worst.ida, /^No OBJ/);
  assert.match(worst.jan, /^STL, no OBJ .*STL/);
  assert.match(worst.kim, /^FBX, no OBJ/);
  assert.match(worst.lea, /^Empty file/);
  assert.match(await page.locator('#class-lead').innerText(), /2\sother files passed over/);
  await page.locator('#class-students-open').click();
  await page.locator('#class-list').fill('Adam\nMeyer, Bea\nbea\nZoë Ångström\n\nDora\n');
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#class-students-facts').innerText(), /Missing: 2 of 5 on the list/);
  assert.deepEqual((await told()).filter(([, verdict]) => verdict === 'Missing').map(([student]) => student), ['Meyer, Bea', 'Zoë Ångström']);
  await shot('class-wrong-uploads');
  const table = parseCsv((await saved(page, '#class-save-table')).bytes);
  assert.deepEqual(table.filter(({ upload }) => upload).map(({ student, upload, verdict }) => [student, upload, verdict]).filter(([student]) => /bea|cem|dora|Zoë/.test(student)), [
    ['bea', 'FBX, no OBJ', 'unreadable'], ['cem', 'Empty file', 'unreadable'], ['dora', '2 OBJs: which?', 'not ready'], ['dora', '2 OBJs: which?', 'ready'], ['Zoë Ångström', 'Missing', 'missing'],
  ]);
  await page.locator('#class-list').fill('Adam');
  await page.evaluate(() => window.gridproof.idle());
  assert.equal((await rowsOf(page)).filter(({ verdict }) => verdict === 'Missing').length, 0);
  assert.deepEqual(await violations(page), []);
});

test('libraries beside a model decide its sheets in the table as on the stage, and another student\'s do not', async (t) => {
  const { page } = await open(t);
  const square = (material, z) => `usemtl ${material}\nv 0 0 ${z}\nv 1 0 ${z}\nv 1 1 ${z}\nv 0 1 ${z}\nvt .1 .1\nvt .9 .1\nvt .9 .9\nvt .1 .9\nf -4/-4 -3/-3 -2/-2 -1/-1\n`;
  const model = `mtllib two.mtl\n${square('brass', 0)}${square('glass', 5)}`;
  const library = 'newmtl brass\nmap_Kd brass.png\nnewmtl glass\nmap_Kd glass.png\n';
  const flat = { 'gus_lamp.obj': model.replace('two', 'gus'), 'hal_lamp.obj': model.replace('two', 'gone'), 'ida_lamp.obj': model.replace('two', 'gone'), 'gus.mtl': library, 'ida_lamp.mtl': library };
  const verdicts = async () => (await rowsOf(page)).map(({ student, verdict }) => [student, verdict]);
  /** Opens every row, and what it says there. */
  const opened = async () => {
    const list = [];
    for (let at = 0; at < await page.locator('button.class-file').count(); at += 1) {
      await page.locator('button.class-file').nth(at).click();
      await page.evaluate(() => window.gridproof.idle());
      list.push(await page.locator('#verdict').innerText());
      await page.locator('#class-back').click();
    }
    return list;
  };
  for (const [files, expected] of [
    [{ 'adam/two.obj': model, 'adam/two.mtl': library, 'bea/two.obj': model }, [['adam', 'Ready'], ['bea', 'Have a look']]],
    [flat, [['gus', 'Ready'], ['hal', 'Have a look'], ['ida', 'Ready']]],
  ]) {
    await choose(page, { 'sheets.zip': await zipOf(files) });
    assert.deepEqual(await verdicts(), expected, 'in a zip');
    assert.deepEqual(await opened(), expected.map(([, verdict]) => verdict), 'opened out of a zip');
    await chooseFolderOf(page, `sheets-${expected.length}`, files);
    assert.deepEqual(await verdicts(), expected, 'in a folder');
    assert.deepEqual(await opened(), expected.map(([, verdict]) => verdict), 'opened out of a folder');
  }
});

test('a second round says what is fixed, still there and new of each student\'s upload before', async (t) => {
  const { page } = await open(t);
  const since = async () => Object.fromEntries((await rowsOf(page)).map(({ student, since: text }) => [student, text]));
  await choose(page, { 'term.zip': await zipOf({ 'adam/lamp.obj': STRETCHED, 'bea/lamp.obj': QUAD, 'cem/lamp.obj': MIRRORED }) });
  assert.deepEqual(await since(), { adam: '', bea: '', cem: '' });
  await page.reload();
  await page.evaluate(() => window.gridproof.idle());
  // Shells and files are called otherwise; the zip is the browser's second of the name.
  const second = { 'adam/lamp2.obj': QUAD, 'bea/lamp.obj': STRETCHED, 'cem/lamp.obj': MIRRORED.replace('vt 0.1', 'vt 0.12'), 'dora/lamp.obj': QUAD };
  await choose(page, { 'term (1).zip': await zipOf(second) });
  const expected = { adam: '2 fixed, 0 still there, 0 new', bea: '0 fixed, 0 still there, 2 new', cem: '0 fixed, 1 still there, 0 new', dora: '' };
  assert.deepEqual(await since(), expected);
  await choose(page, { 'term (1).zip': await zipOf(second) });
  assert.deepEqual(await since(), expected, 'the same uploads once more are no new round');
  const table = parseCsv((await saved(page, '#class-save-table')).bytes);
  assert.deepEqual(table.map((row) => [row.student, row.fixed, row.still_there, row.new]), [['adam', '2', '0', '0'], ['bea', '0', '0', '2'], ['cem', '0', '1', '0'], ['dora', '', '', '']]);
});

test('grade and comment are typed in the row or at the open model, kept in the browser, and saved; seen, notes and decisions are counted', async (t) => {
  const { page, shot } = await open(t);
  const files = { 'adam/lamp.obj': QUAD, 'bea/lamp.obj': STRETCHED, 'cem/lamp.obj': MIRRORED };
  await chooseFolderOf(page, 'graded', files);
  const rows = page.locator('#class-rows > tr');
  await rows.nth(0).locator('[data-mark=grade]').fill('=1+1');
  await rows.nth(0).locator('[data-mark=comment]').fill('Good, "clean"');
  assert.ok(await page.locator('#class').isVisible(), 'typing opens nothing');
  await rows.nth(1).locator('button.class-file').click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=to-fix]').click();
  await page.locator('#class-marking summary').click();
  assert.match(await page.locator('#class-marking-note').innerText(), /Kept in this browser alone/);
  await page.locator('#class-grade').fill('-2');
  await page.locator('#class-comment').fill('@home: flip it');
  await shot('class-grade-open');
  await page.keyboard.press('Escape');
  await page.locator('#class-back').click();
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual((await rowsOf(page)).map(({ student, notes, seen }) => [student, notes, seen]), [['adam', 'No notes', 'Not seen'], ['bea', '1 decision', 'Seen'], ['cem', 'No notes', 'Not seen']]);
  assert.equal(await rows.nth(1).locator('[data-mark=grade]').inputValue(), '-2');
  await page.reload();
  await page.evaluate(() => window.gridproof.idle());
  await chooseFolderOf(page, 'graded', { ...files, 'cem/lamp.obj': MIRRORED.replace('0.9', '0.8') });
  const table = parseCsv((await saved(page, '#class-save-table')).bytes);
  assert.deepEqual(table.map(({ student, grade, comment, seen, decisions }) => ({ student, grade, comment, seen, decisions })), [
    { student: 'adam', grade: "'=1+1", comment: 'Good, "clean"', seen: 'no', decisions: '0' },
    { student: 'bea', grade: '-2', comment: "'@home: flip it", seen: 'yes', decisions: '1' },
    { student: 'cem', grade: '', comment: '', seen: 'no', decisions: '0' },
  ]);
  assert.deepEqual(table.map(({ must_fix_findings: count }) => Number(count) > 0), [false, true, true]);
  await shot('class-graded');
});

test('reports of all files in a zip, each the command\'s', async (t) => {
  const { page } = await open(t);
  const folder = folderOf('reported', { 'a/lamp.obj': QUAD, 'b/lamp.obj': MIRRORED, 'c.obj': BAD });
  await page.setInputFiles('#folder-input', folder);
  await page.evaluate(() => window.gridproof.idle());
  const { name, bytes } = await saved(page, '#class-save-reports');
  assert.equal(name, 'reported reports.zip');
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#class-outcome').innerText(), /Saved reported reports\.zip, 2\sreports/);
  const pages = new Map();
  for (const entry of await new ZipReader(new BlobReader(new Blob([bytes]))).getEntries()) pages.set(entry.filename, await entry.getData(new TextWriter()));
  assert.deepEqual([...pages.keys()], ['reported/a/a lamp report.html', 'reported/b/b lamp report.html']);
  const html = pages.get('reported/b/b lamp report.html');
  command(['check', 'reported/b/lamp.obj', '--html', 'lamp.html'], work);
  const plain = (text) => text.replace(/data:image\/png;base64,[A-Za-z0-9+/=]*/g, 'picture');
  assert.equal(plain(html), plain(readFileSync(join(work, 'lamp.html'), 'utf8')));
  assert.ok((html.match(/data:image\/png/g) ?? []).length > 0, 'with pictures');
  const reader = await site.browser.newPage();
  t.after(() => reader.close());
  await reader.setContent(html);
  assert.match(await reader.locator('body').innerText(), /Everything is flipped/);
});

test('a review page for each file: its size is said first, each opens from disk with its own notes, the page answers meanwhile', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const folder = folderOf('paged', { 'a/lamp.obj': QUAD, 'b/lamp.obj': MIRRORED, 'b/bad.obj': BAD, 'c.obj': STRETCHED });
  const { page, shot } = await site.openPage(t, { path: null });
  const stop = await traceThread(page);
  await page.goto(site.address);
  await page.evaluate(() => window.gridproof.idle());
  await page.setInputFiles('#folder-input', folder);
  await page.evaluate(() => window.gridproof.idle());
  // What is decided about one of them goes into its page alone.
  await page.locator('button.class-file', { hasText: 'c.obj' }).click();
  await page.waitForFunction(() => window.gridproof.report());
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=to-fix]').click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-back').click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-save-pages').click();
  await page.locator('#class-offer').waitFor({ state: 'visible' });
  const said = (await page.locator('#class-offer-text').innerText()).replaceAll('\u00a0', ' ');
  await shot('class-pages-offer');
  assert.match(said, /^3 review pages, about [\d.]+ MB in a zip/);
  const { name, bytes } = await saved(page, '#class-offer-take');
  assert.equal(name, 'paged review pages.zip');
  await page.evaluate(() => window.gridproof.idle());
  const { computed, tasks, did } = await stop();
  t.diagnostic(`longest task computed ${computed.toFixed(0)} ms of ${tasks} (${did}); ${said}; ${bytes.length} bytes`);
  assert.ok(computed < MOST_COMPUTED_MS, `a task computed ${computed} ms: ${did}`);
  assert.match(await page.locator('#class-outcome').innerText(), /Saved paged review pages\.zip, 3\sreview pages/);
  const about = Number(/about ([\d.]+) MB/.exec(said)[1]) * 1e6;
  assert.ok(Math.abs(about / bytes.length - 1) < 0.1, `${about} was said of ${bytes.length} bytes`);
  const entries = await new ZipReader(new BlobReader(new Blob([bytes]))).getEntries();
  assert.deepEqual(entries.map(({ filename }) => filename), ['paged/a/a lamp review.html', 'paged/b/b lamp review.html', 'paged/c review.html']);
  for (const [at, decisions] of [[1, 0], [2, 1]]) {
    const file = join(work, `page-${at}.html`);
    writeFileSync(file, await entries[at].getData(new TextWriter()));
    const context = await site.browser.newContext({ offline: true });
    t.after(() => context.close());
    const review = await context.newPage();
    await review.goto(pathToFileURL(file).href);
    await review.waitForFunction(() => window.gridproof?.report(), null, { timeout: CLASS_LIMIT });
    await review.evaluate(() => window.gridproof.idle());
    const { model, decisions: decided } = await review.evaluate(() => window.gridproof.state());
    assert.deepEqual([model.name, model.verdict, decided.length], [at === 1 ? 'lamp.obj' : 'c.obj', 'not ready', decisions]);
  }
});

test('making review pages is stopped, and nothing is saved', { timeout: CLASS_LIMIT }, async (t) => {
  const { page } = await open(t);
  await choose(page, Object.fromEntries(Array.from({ length: 40 }, (_, at) => [`lamp-${at}.obj`, QUAD])));
  await page.locator('#class-save-pages').click();
  await page.locator('#class-offer-leave').click();
  assert.ok(await page.locator('#class-offer').isHidden());
  assert.equal(await page.evaluate(() => document.activeElement?.id), 'class-save-pages');
  await page.locator('#class-save-pages').click();
  await page.locator('#class-offer-take').click();
  await page.waitForFunction(() => /^Making review pages: [1-9]\d* of 40/.test(document.getElementById('class-job-text').textContent));
  await page.locator('#class-cancel').click();
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#class-outcome').innerText(), /Stopped\. Nothing was saved/);
  assert.ok(await page.locator('#class-save-pages').isEnabled());
});

test('thirty lanterns with planted faults: each is told by its faults, and the page answers meanwhile', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const { folder, faults } = lanternsIn(work);
  const { page, shot } = await site.openPage(t, { path: null });
  const stop = await traceThread(page);
  await page.goto(site.address);
  await page.evaluate(() => window.gridproof.idle());
  await page.setInputFiles('#folder-input', folder);
  await page.locator('#class-job').waitFor({ state: 'visible' });
  await page.waitForFunction(() => /^Measured [1-9]\d* of 30: now lantern-\d+\.obj/.test(document.getElementById('class-job-text').textContent));
  await shot('class-measuring');
  await page.waitForFunction(() => document.getElementById('class-job').hidden, null, { timeout: CLASS_LIMIT });
  await page.evaluate(() => window.gridproof.idle());
  const { computed, tasks, did } = await stop();
  t.diagnostic(`longest task computed ${computed.toFixed(0)} ms of ${tasks} (${did})`);
  assert.ok(computed < MOST_COMPUTED_MS, `a task computed ${computed} ms: ${did}`);
  const rows = await rowsOf(page);
  assert.equal(rows.length, LANTERNS);
  const missed = await missedFaults(page, faults, (kind) => page.locator('#class-kind').selectOption(kind));
  assert.deepEqual(missed, [], 'every planted fault is told');
  assert.ok([...faults.values()].some(({ kinds: planted }) => planted.length > 2), 'there was something to tell');
});

test('measuring is stopped, and taken up again; another brief measures all anew', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const { folder } = lanternsIn(work);
  const { page } = await open(t);
  await page.setInputFiles('#folder-input', folder);
  await page.waitForFunction(() => /^Measured [1-9]/.test(document.getElementById('class-job-text').textContent));
  await page.locator('#class-cancel').click();
  await page.evaluate(() => window.gridproof.idle());
  const before = (await rowsOf(page)).filter(({ verdict }) => verdict === 'Not measured').length;
  assert.ok(before > 0 && before < LANTERNS, `${before} were left`);
  await page.locator('#class-words').fill('lantern-1');
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-again').click();
  await page.waitForFunction(() => document.getElementById('class-job').hidden, null, { timeout: CLASS_LIMIT });
  await page.evaluate(() => window.gridproof.idle());
  const rows = await rowsOf(page);
  assert.ok(rows.every(({ verdict }) => ['Ready', 'Have a look', 'Not ready'].includes(verdict)), JSON.stringify(rows.map(({ verdict }) => verdict)));
  // A map of half the size has half the density; only what is judged anew says so.
  const density = rows.map(({ density: text }) => Number.parseFloat(text));
  await page.keyboard.press('Escape');
  await page.locator('#brief-open').click();
  for (const side of ['width', 'height']) await page.fill(`#brief-map-${side}_px`, '1024');
  await page.locator('#brief-close').click();
  await page.waitForFunction(() => !document.getElementById('class-job').hidden);
  await page.waitForFunction(() => document.getElementById('class-job').hidden, null, { timeout: CLASS_LIMIT });
  await page.evaluate(() => window.gridproof.idle());
  const halved = (await rowsOf(page)).map(({ density: text }) => Number.parseFloat(text));
  for (const [at, value] of halved.entries()) assert.ok(Math.abs(value / density[at] - 0.5) < 0.01, `${density[at]} became ${value}`);
});

test('six hundred files: no task holds the page for long, and all can be reached', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const { page } = await site.openPage(t, { path: null });
  const files = Object.fromEntries(Array.from({ length: 600 }, (_, at) => [`${String(at).padStart(3, '0')}/quad.obj`, at % 3 ? QUAD : MIRRORED]));
  const zip = join(work, 'six-hundred.zip');
  writeFileSync(zip, await zipOf(files));
  const stop = await traceThread(page);
  await page.goto(site.address);
  await page.evaluate(() => window.gridproof.idle());
  await choose(page, [zip]);
  assert.equal((await rowsOf(page)).length, 600);
  await page.locator('#class-heads button[data-key=verdict]').click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-heads button[data-key=verdict]').click();
  await page.locator('#class-words').fill('12');
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-words').fill('');
  await page.evaluate(() => window.gridproof.idle());
  const { computed, tasks, did } = await stop();
  t.diagnostic(`longest task computed ${computed.toFixed(0)} ms of ${tasks} (${did})`);
  assert.ok(computed < MOST_COMPUTED_MS, `a task computed ${computed} ms: ${did}`);
});

test('for everybody: axe-core finds nothing; wide, narrow, light, dark and at 200 %', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const { folder } = lanternsIn(work);
  const given = [1, 2, 3, 4, 5, 6, 7].map((seed) => join(folder, `lantern-${seed}.obj`));
  writeFileSync(join(work, 'broken.obj'), BAD);
  for (const [name, options] of Object.entries({
    'class-wide-light': {}, 'class-wide-dark': { dark: true }, 'class-narrow-light': { width: 320, height: 720, touch: true },
    'class-narrow-dark': { width: 390, height: 844, dark: true, touch: true }, 'class-200-percent': { width: 640, height: 400, scale: 2 }, 'class-middle': { width: 820, height: 1100 },
  })) {
    const { page, shot } = await open(t, options);
    await choose(page, [...given, join(work, 'broken.obj')]);
    await shot(name);
    assert.deepEqual(await violations(page), [], name);
    const wide = await page.evaluate(() => [document.documentElement, document.getElementById('class-scroll')].map(({ scrollWidth, clientWidth }) => scrollWidth - clientWidth));
    assert.deepEqual(wide, [0, 0], `${name}: nothing sticks out to the side`);
    await page.locator('button.class-file').nth(2).click();
    await page.evaluate(() => window.gridproof.idle());
    await shot(`${name}-file`);
    assert.ok(await page.locator('#class-where').isVisible());
    await page.locator('#class-marking summary').click();
    assert.match(await page.locator('#class-marking-note').innerText(), /Gone when the page is left/, 'files by themselves have no name');
    await shot(`${name}-grade`);
    assert.deepEqual(await violations(page), [], `${name}, with its grade`);
    const within = await page.locator('.class-marking-card').evaluate((card) => card.getBoundingClientRect().left >= 0 && card.getBoundingClientRect().right <= innerWidth && document.documentElement.scrollWidth <= innerWidth);
    assert.ok(within, `${name}: the grade does not stick out`);
  }
});

test('the reader of zips is the package\'s own', () => {
  const own = readFileSync(join(ROOT, 'www/vendor/zip.min.js'));
  const theirs = readFileSync(join(ROOT, 'tests/node_modules/@zip.js/zip.js/dist/zip-core-external.min.js'));
  assert.ok(own.equals(theirs));
});

test('reports and review pages of a class have the notes and decisions of each file, of this visit and of an earlier one', { timeout: CLASS_LIMIT }, async (t) => {
  const folder = folderOf('written', { 'a/same size.obj': MIRRORED, 'b/lamp.obj': STRETCHED, 'c/lamp.obj': STRETCHED.replace('10 0 0', '11 0 0') });
  const { page, context } = await open(t);
  await page.setInputFiles('#folder-input', folder);
  await page.evaluate(() => window.gridproof.idle());
  const show = async (page, file) => {
    await page.locator('button.class-file', { hasText: file }).click();
    await page.waitForFunction((name) => window.gridproof.state().model?.name === name && window.gridproof.report(), file.split('/').at(-1));
    await page.evaluate(() => window.gridproof.idle());
    await page.locator('#cards [data-finding]').first().click();
  };
  await show(page, 'b/lamp.obj');
  await page.locator('[data-act=intended]').click();
  await page.locator('#decide-reason').fill('meant for the back');
  await page.keyboard.press('Control+Enter');
  await page.evaluate(() => window.gridproof.idle());
  const box = await page.locator('#surface-large').boundingBox();
  for (let step = 2; step < 8 && !(await page.locator('#note').isVisible()); step += 1) {
    await page.mouse.dblclick(box.x + (box.width * step) / 10, box.y + box.height / 2);
    await page.evaluate(() => window.gridproof.idle());
  }
  await page.locator('#note-text').fill('cut it here');
  await page.keyboard.press('Control+Enter');
  await page.evaluate(() => window.gridproof.idle());
  const next = await context.newPage();
  await next.goto(site.address);
  await next.evaluate(() => window.gridproof.idle());
  await next.setInputFiles('#folder-input', folder);
  await next.evaluate(() => window.gridproof.idle());
  for (const visit of [page, next]) {
    if (visit === page) await page.locator('#class-back').click();
    await visit.bringToFront();
    await visit.evaluate(() => window.gridproof.idle());
    const { bytes } = await saved(visit, '#class-save-reports');
    const entries = await new ZipReader(new BlobReader(new Blob([bytes]))).getEntries();
    const says = async (folder, words) => (await entries.find(({ filename }) => filename.startsWith(`written/${folder}`)).getData(new TextWriter())).includes(words);
    assert.deepEqual(await Promise.all(['b/', 'c/', 'a/'].map((folder) => says(folder, 'cut it here'))), [true, false, false]);
    assert.deepEqual(await Promise.all(['b/', 'c/', 'a/'].map((folder) => says(folder, 'meant for the back'))), [true, false, false]);
    await visit.locator('#class-save-pages').click();
    const packed = await saved(visit, '#class-offer-take');
    const pages = await new ZipReader(new BlobReader(new Blob([packed.bytes]))).getEntries();
    const html = await pages.find(({ filename }) => filename.startsWith('written/b/')).getData(new TextWriter());
    const { notes, decisions } = JSON.parse(/<script id="review" type="application\/json">(.*?)<\/script>/s.exec(html)[1]);
    assert.deepEqual([notes.map(({ text }) => text), decisions.map(({ reason }) => reason)], [['cut it here'], ['meant for the back']]);
  }
});
