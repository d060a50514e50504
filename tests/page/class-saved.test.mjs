// Reports and review pages of a class, with the notes and decisions of each file.

import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { BlobReader, TextWriter, ZipReader } from '@zip.js/zip.js';
import { BAD, choose, CLASS_LIMIT, classroom, command, MIRRORED, MOST_COMPUTED_MS, QUAD, saved, STRETCHED } from './classes.mjs';
import { traceThread } from './thread.mjs';

const { site, work, folderOf, open } = classroom();

test('reports of all files in a zip, each identical to the command\'s', async (t) => {
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

test('a review page per file: size shown first, each opens from disk with its own notes, the page stays responsive', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const folder = folderOf('paged', { 'a/lamp.obj': QUAD, 'b/lamp.obj': MIRRORED, 'b/bad.obj': BAD, 'c.obj': STRETCHED });
  const { page, shot } = await site.openPage(t, { path: null });
  const stop = await traceThread(page);
  await page.goto(site.address);
  await page.evaluate(() => window.gridproof.idle());
  await page.setInputFiles('#folder-input', folder);
  await page.evaluate(() => window.gridproof.idle());
  // A decision about one file is in that file's page only.
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
  assert.ok(Math.abs(about / bytes.length - 1) < 0.1, `${about} was announced for ${bytes.length} bytes`);
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

test('creating review pages is cancelled, and nothing is saved', { timeout: CLASS_LIMIT }, async (t) => {
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

test('reports and review pages of a class contain each file’s notes and decisions, also from earlier visits', { timeout: CLASS_LIMIT }, async (t) => {
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
