// A class survives a reload: by copies of its files or by the handle of its folder; else the page asks for it by name. And what
// counts in its table: which of two files, points by the brief's rubric, decisions, findings of the previous round.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { CHECKS } from '../../www/findings/checks.js';
import { pointsOf } from '../../www/batch/points.js';
import { classroom, MIRRORED, QUAD, rowsOf, STRETCHED, zipOf } from './classes.mjs';
import { violations } from './everybody.mjs';

const { site, folderOf } = classroom();
const idle = (page) => page.evaluate(() => window.gridproof.idle());

async function open(t, options = {}) {
  const opened = await site.openPage(t, options);
  await idle(opened.page);
  return opened;
}

async function choose(page, name, files) {
  await page.setInputFiles('#folder-input', folderOf(name, files));
  await idle(page);
}

async function give(page, file, bytes) {
  await page.setInputFiles('#file-input', { name: file, mimeType: '', buffer: Buffer.from(bytes) });
  await idle(page);
}

async function reload(page) {
  await page.reload();
  await idle(page);
}

/** What the browser's private file system and database have of classes. */
const keptIn = (page) => page.evaluate(async () => {
  const root = await navigator.storage.getDirectory();
  const names = [];
  for await (const [name, folder] of root.entries()) if (name === 'gridproof-class') for await (const [id] of folder.entries()) names.push(id);
  return names.length;
});

test('a class is restored after a reload (sorting, filter, open row and finding, libraries) until it is forgotten', async (t) => {
  const { page, shot } = await open(t);
  await choose(page, 'term', { 'adam/lamp.obj': QUAD, 'bea/lamp.obj': `mtllib m.mtl\nusemtl brass\n${STRETCHED}`, 'bea/m.mtl': 'newmtl brass\nmap_Kd brass.png\n', 'cem/lamp.obj': MIRRORED, 'dora/lamp.fbx': 'Kaydara FBX Binary  \0' });
  await page.locator('#class-heads button[data-key=file]').click();
  await page.locator('#class-words').fill('a');
  await page.locator('[data-verdict="not ready"]').click();
  await page.locator('[data-verdict="ready"]').click();
  await idle(page);
  const before = (await rowsOf(page)).map(({ student, file, verdict }) => [student, file, verdict]);
  assert.ok(before.length > 0 && before.length < 4, String(before));
  const title = await page.locator('#class-title').innerText();
  await page.locator('#brief-open').click();
  await page.locator('#brief-rubric-stretch').evaluate((field) => (field.closest('details').open = true));
  await page.locator('#brief-rubric-stretch').fill('6');
  await page.locator('#brief-close').click();
  await reload(page);
  assert.deepEqual(await page.evaluate(() => window.gridproof.state().brief), { rubric: { stretch: 6 } }, 'with its brief');
  assert.equal(await page.locator('#class-title').innerText(), title);
  assert.deepEqual((await rowsOf(page)).map(({ student, file, verdict }) => [student, file, verdict]), before);
  assert.equal(await page.locator('[aria-sort]').innerText(), 'Student, file');
  assert.ok(await page.locator('#class-unkept').isHidden());
  assert.match(await page.locator('#class-lead').innerText(), /kept in this browser for a reload/);
  await page.locator('#class-all').click();
  await idle(page);
  assert.equal((await rowsOf(page)).length, 4, 'the wrong upload is there too');

  await page.locator('tr', { hasText: 'bea' }).locator('button.class-file').click();
  await idle(page);
  await page.locator('#cards [data-finding]').first().click();
  await idle(page);
  const finding = await page.evaluate(() => window.gridproof.state().finding);
  await reload(page);
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  const state = await page.evaluate(() => window.gridproof.state());
  assert.deepEqual([state.model.name, state.student, state.finding], ['lamp.obj', 'bea', finding]);
  assert.match(await page.locator('#class-position').innerText(), /^2 of \d$/);
  await page.locator('#class-back').click();
  await idle(page);
  assert.equal((await rowsOf(page)).length, 4);

  // A new visit offers it, and restores nothing by itself.
  const next = await page.context().newPage();
  await next.goto(site.address);
  await idle(next);
  assert.match(await next.locator('#class-earlier').innerText(), /term.* was open here, and its files are kept in this browser/);
  assert.ok(await next.locator('#class').isHidden());
  await next.locator('#class-earlier-open').click();
  await next.locator('#class').waitFor({ state: 'visible' });
  await idle(next);
  assert.equal((await rowsOf(next)).length, 4);
  await next.locator('#help-open').click();
  await next.waitForFunction(() => /the files of .*term/.test(document.getElementById('memory-facts').textContent));
  await next.locator('#memory [data-forget]').click();
  await next.waitForFunction(() => /is forgotten/.test(window.gridproof.state().notice));
  assert.equal(await keptIn(next), 0, 'no copy is left');
  await next.close();
  await reload(page);
  assert.ok(await page.locator('#class').isHidden());
  assert.ok(await page.locator('#class-earlier').isHidden());
  await shot('class-forgotten');
});

test('a folder is reopened by its handle: at once if permitted, otherwise after one press', async (t) => {
  const { page, context, shot } = await site.openPage(t, { path: null, width: 390, height: 844, dark: true });
  // No browser dialog can be driven here; a folder of the private file system stands in for the user's.
  await context.addInitScript(() => {
    const allowed = () => localStorage.getItem('test.permission') ?? 'granted';
    FileSystemHandle.prototype.queryPermission = async () => allowed();
    FileSystemHandle.prototype.requestPermission = async () => (localStorage.setItem('test.permission', 'granted'), 'granted');
    DataTransferItem.prototype.getAsFileSystemHandle = async () => {
      const folder = await (await navigator.storage.getDirectory()).getDirectoryHandle('uploads', { create: true });
      for (const [student, text] of window.students) {
        const file = await (await folder.getDirectoryHandle(student, { create: true })).getFileHandle('lamp.obj', { create: true });
        const writer = await file.createWritable();
        await writer.write(text);
        await writer.close();
      }
      return folder;
    };
  });
  await page.goto(site.address);
  await idle(page);
  await page.evaluate((students) => (window.students = students), [['adam', QUAD], ['bea', MIRRORED]]);
  const devtools = await context.newCDPSession(page);
  const data = { items: [], files: [folderOf('uploads', { 'adam/lamp.obj': QUAD, 'bea/lamp.obj': MIRRORED })], dragOperationsMask: 1 };
  for (const type of ['dragEnter', 'dragOver', 'drop']) await devtools.send('Input.dispatchDragEvent', { type, x: 200, y: 300, data });
  await page.locator('#class').waitFor({ state: 'visible' });
  await idle(page);
  const files = (await rowsOf(page)).map(({ file }) => file).toSorted();
  assert.equal(await keptIn(page), 0, 'nothing is copied');
  await reload(page);
  assert.deepEqual((await rowsOf(page)).map(({ file }) => file).toSorted(), files);
  await page.evaluate(() => localStorage.setItem('test.permission', 'prompt'));
  await reload(page);
  assert.match(await page.locator('#class-earlier-text').innerText(), /uploads.* was open here/);
  await shot('class-earlier-narrow-dark');
  assert.deepEqual(await violations(page), []);
  await page.locator('#class-earlier-open').click();
  await page.locator('#class').waitFor({ state: 'visible' });
  await idle(page);
  assert.deepEqual((await rowsOf(page)).map(({ file }) => file).toSorted(), files);
  // The folder was deleted.
  await page.evaluate(async () => (await navigator.storage.getDirectory()).removeEntry('uploads', { recursive: true }));
  await reload(page);
  assert.match(await page.locator('#class-earlier-text').innerText(), /Drop the folder .*uploads.* again: grades, comments and notes are waiting/);
  assert.ok(await page.locator('#class-earlier-open').isHidden());
});

test('a class that cannot be stored says why, and is asked for by name after a reload', async (t) => {
  const { page, context, shot } = await site.openPage(t, { path: null });
  await context.addInitScript(() => {
    navigator.storage.estimate = async () => ({ quota: 1000, usage: 990 });
  });
  await page.goto(site.address);
  await idle(page);
  await give(page, 'term.zip', await zipOf({ 'adam/lamp.obj': QUAD, 'bea/lamp.obj': MIRRORED }));
  assert.match(await page.locator('#class-unkept').innerText(), /could not keep the files of this class: its storage is too full\. After a reload the page asks for them again/);
  await page.locator('[data-mark=grade]').first().fill('B');
  await reload(page);
  assert.match(await page.locator('#class-earlier-text').innerText(), /Drop the zip .*term\.zip.* again: grades, comments and notes are waiting/);
  await shot('class-asked-for');
  await give(page, 'term.zip', await zipOf({ 'adam/lamp.obj': QUAD, 'bea/lamp.obj': MIRRORED }));
  assert.equal(await page.locator('[data-mark=grade]').first().inputValue(), 'B');
  assert.ok(await page.locator('#class-earlier').isHidden());
});

test('points: all without findings, half for look, none for must fix; the form has each check', async () => {
  const result = (...findings) => ({ findings: findings.map(([kind, severity]) => ({ kind, severity })) });
  const rubric = { stretch: 4, flipped: 3, padding: 0.1, maximum: 10 };
  assert.deepEqual(pointsOf({ rubric }, result()), { points: 7.1, of: 10 });
  assert.deepEqual(pointsOf({ rubric }, result(['stretch', 'look'], ['stretch', 'look'], ['padding', 'info'], ['seams', 'must-fix'])), { points: 5.1, of: 10 });
  assert.deepEqual(pointsOf({ rubric: { stretch: 4, flipped: 3 } }, result(['stretch', 'look'], ['stretch', 'must-fix'])), { points: 3, of: 7 });
  assert.equal(pointsOf({ rubric: { maximum: 10 } }, result()), null);
  assert.equal(pointsOf({}, result()), null);
  assert.equal(pointsOf({ rubric }, null), null);
  const form = await (await fetch(new URL('brief.json', site.address))).json();
  const keys = form.sections.find(({ section }) => section === 'rubric').keys.map(({ key }) => key);
  assert.deepEqual(keys, ['maximum', ...CHECKS.map(([kind]) => kind)], 'the rubric has the checks of the page, in their order');
});

test('which of two files counts, decisions, rubric points; a second round compared finding by finding', async (t) => {
  const { page, shot } = await open(t);
  await page.locator('#brief-open').click();
  await page.locator('[data-section=rubric] summary').click();
  await page.locator('#brief-rubric-maximum').fill('10');
  await page.locator('#brief-rubric-stretch').fill('12');
  await page.locator('#brief-rubric-stretch').blur();
  await idle(page);
  assert.match(await page.locator('#brief-rubric-stretch-trouble').innerText(), /rubric\.maximum is 10, and the checks are worth 12 points together/);
  await page.locator('#brief-rubric-stretch').fill('6');
  await page.locator('#brief-rubric-coverage').fill('2');
  await page.locator('#brief-rubric-coverage').blur();
  await idle(page);
  await shot('brief-rubric');
  await page.locator('#brief-close').click();
  const first = { 'adam/lamp.obj': QUAD, 'bea/lamp v1.obj': MIRRORED, 'bea/lamp v2.obj': STRETCHED, 'cem/lamp.obj': STRETCHED };
  await give(page, 'term.zip', await zipOf(first));
  const told = async () => Object.fromEntries((await rowsOf(page)).map(({ file, findings, points, several, since }) => [file, { findings, points, several, since }]));
  let rows = await told();
  assert.deepEqual(rows['adam/lamp.obj'], { findings: 'none', points: '8 of 10', several: '', since: '' });
  assert.deepEqual([rows['bea/lamp v1.obj'].several, rows['bea/lamp v2.obj'].several], ['2 OBJs: which?', '2 OBJs: which?']);
  assert.deepEqual([rows['cem/lamp.obj'].findings, rows['cem/lamp.obj'].points], ['1 must fix, 1 to look at', '1 of 10'], 'stretch must be fixed, coverage is to be looked at');
  assert.match(await page.locator('#class-points-rule').innerText(), /all where a check has no finding, half where only “look”, none where “must fix”/);
  await page.locator('tr', { hasText: 'lamp v2' }).locator('.class-counts').click();
  await idle(page);
  assert.ok(await page.locator('#class').isVisible(), 'selecting opens nothing');
  rows = await told();
  assert.deepEqual([rows['bea/lamp v1.obj'].several, rows['bea/lamp v2.obj'].several], ['Does not count', '']);
  await shot('class-counts-wide-light');
  await page.setViewportSize({ width: 390, height: 844 });
  await idle(page);
  await shot('class-counts-narrow');
  assert.deepEqual(await violations(page), []);
  await page.setViewportSize({ width: 1280, height: 800 });

  // What is intended counts neither in the verdict nor in the points.
  await page.locator('tr', { hasText: 'cem' }).locator('button.class-file').click();
  await idle(page);
  await page.locator('#cards [data-finding^=stretch]').click();
  await page.locator('[data-act=intended]').click();
  await page.locator('#decide-reason').fill('a strip');
  await page.keyboard.press('Control+Enter');
  await idle(page);
  await page.locator('#class-back').click();
  await idle(page);
  rows = await told();
  assert.deepEqual([rows['cem/lamp.obj'].findings, rows['cem/lamp.obj'].points], ['1 to look at, 1 intended', '7 of 10']);
  const [download] = await Promise.all([page.waitForEvent('download'), page.locator('#class-save-table').click()]);
  const table = readFileSync(await download.path(), 'utf8').replace(/^\ufeff/, '').trim().split('\r\n').map((line) => line.split(','));
  const column = (name) => table.map((cells) => cells.at(table[0].indexOf(name) - table[0].length)).slice(1);
  assert.deepEqual(column('counts'), ['', 'no', 'yes', '']);
  assert.deepEqual(column('points'), ['8', '8', '1', '7']);
  assert.deepEqual(column('points_of'), ['10', '10', '10', '10']);
  assert.deepEqual(column('intended'), ['0', '0', '0', '1']);
  assert.deepEqual(column('must_fix_findings'), ['0', '1', '1', '0']);
  assert.deepEqual(table.slice(1).map((cells) => cells[2]), ['ready', 'not ready', 'not ready', 'look'], 'the verdict agrees with the decisions');

  // Two quads: one fault is fixed, and another of the same kind is new. Counted by kind nothing would have changed.
  const two = (one, other) => [[0, one], [40, other]].map(([at, text], index) => text.replace('v 0 0 0', `o part${index}\nv 0 0 0`)
    .replace(/^v (\S+)/gm, (_, x) => `v ${Number(x) + at}`).replace(/^vt (\S+) (\S+)/gm, (_, u, v) => `vt ${Number(u) * 0.4 + index * 0.5} ${Number(v) * 0.4}`)
    .replace(/^f.*/m, index ? 'f 5/5 6/6 7/7 8/8' : 'f 1/1 2/2 3/3 4/4')).join('');
  await give(page, 'round.zip', await zipOf({ 'adam/lamp.obj': two(STRETCHED, QUAD), 'bea/lamp.obj': QUAD }));
  await give(page, 'round (1).zip', await zipOf({ 'adam/lamp.obj': two(QUAD, STRETCHED), 'bea/lamp.obj': QUAD }));
  const since = (await told())['adam/lamp.obj'].since;
  assert.match(since, /^[1-9]\d* fixed, \d+ still there, [1-9]\d* new$/);
  await page.locator('tr', { hasText: 'adam' }).locator('button.class-file').click();
  await idle(page);
  await page.keyboard.press('l');
  await page.locator('[name=share-whom][value=owner]').check();
  await page.locator('[data-kind=view] .share-link').waitFor();
  await idle(page);
  const text = await page.locator('[data-kind=view] .share-paste').inputValue();
  assert.ok(text.includes(`Since the upload before: ${since}.`) && text.startsWith('For adam'), text);
});
