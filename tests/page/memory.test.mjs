// What the browser stores between visits, and how it is cleared.

import assert from 'node:assert/strict';
import { join } from 'node:path';
import { test } from 'node:test';
import { gridproof, SHOTS } from './harness.mjs';

const site = gridproof();
const idle = (page) => page.evaluate(() => window.gridproof.idle());
const memory = (page) => page.evaluate(() => JSON.parse(localStorage.getItem('gridproof.memory') ?? 'null'));

async function settle(page) {
  await page.clock.runFor(5000);
}

test('brief and up axis are restored on the next visit until forgotten', async (t) => {
  const { page, context } = await site.openPage(t, { path: null });
  await page.clock.install();
  await page.goto(site.address);
  const wait = async (what) => {
    for (let tries = 0; tries < 200 && !(await page.evaluate(what)); tries += 1) await page.clock.runFor(50);
  };
  await wait(() => window.gridproof.state().engine === 'ok' && window.gridproof.state().form !== null);
  await page.keyboard.press('r');
  await page.locator('[data-section=stretch] input').first().fill('1.5');
  await settle(page);
  await settle(page);
  assert.deepEqual((await memory(page)).briefs, [{ stretch: { max_anisotropy: 1.5 } }]);
  await page.keyboard.press('Escape');

  const next = await context.newPage();
  await next.goto(site.address);
  await idle(next);
  await next.keyboard.press('r');
  const used = next.locator('#brief-used');
  assert.ok(await used.isVisible());
  assert.match(await used.innerText(), /stretch\.max_anisotropy 1\.5/);
  await used.selectOption('0');
  assert.deepEqual(await next.evaluate(() => window.gridproof.state().brief), { stretch: { max_anisotropy: 1.5 } });
  assert.equal(await next.locator('[data-section=stretch] input').first().inputValue(), '1.5');
  await next.keyboard.press('Escape');
  await next.locator('#help-open').click();
  assert.match(await next.locator('#memory').innerText(), /1\sbrief/);
  await next.screenshot({ path: join(SHOTS, 'memory.png') });
  await next.locator('#memory [data-forget]').click();
  await next.locator('#memory').waitFor({ state: 'hidden' });
  assert.ok(await next.evaluate(() => document.getElementById('help').contains(document.activeElement)), 'the focus stays in the dialog');
  assert.equal(await next.evaluate(() => Object.keys(localStorage).filter((key) => key.startsWith('gridproof')).length), 0);
});

test('the up axis is restored, but never put into a link', async (t) => {
  const { page, context } = await site.openPage(t);
  await idle(page);
  await page.evaluate(() => localStorage.setItem('gridproof.memory', JSON.stringify({ version: 1, up: 'z', briefs: [] })));
  const plain = await context.newPage();
  await plain.goto(site.address);
  await idle(plain);
  assert.equal(await plain.evaluate(() => window.gridproof.state().up), 'z');
  const link = await context.newPage();
  await link.goto(`${site.address}?demo=draft`);
  await idle(link);
  assert.equal(await link.evaluate(() => window.gridproof.state().up), 'y');
});

test('damaged storage is ignored', async (t) => {
  const { page, context } = await site.openPage(t);
  await idle(page);
  for (const text of ['{', '[]', '{"version":9}', '{"version":1,"up":"sideways","briefs":[{"map":{"width_px":-4}}]}']) {
    await page.evaluate((kept) => localStorage.setItem('gridproof.memory', kept), text);
    const next = await context.newPage();
    const errors = [];
    next.on('pageerror', (error) => errors.push(String(error)));
    await next.goto(`${site.address}`);
    await idle(next);
    assert.equal(await next.evaluate(() => window.gridproof.state().engine), 'ok', text);
    assert.deepEqual(errors, [], text);
    await next.close();
  }
});

const QUAD = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0.1 0.1\nvt 0.3 0.1\nvt 0.3 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n';
const notesAndDecisions = async (page) => {
  const { notes, decisions } = await page.evaluate(() => window.gridproof.state());
  return { notes: notes.map(({ text, place }) => [text, place !== null]), decisions };
};

async function give(page, name = 'quad.obj', text = QUAD) {
  await page.setInputFiles('#file-input', { name, mimeType: 'model/obj', buffer: Buffer.from(text) });
  await page.waitForFunction((name) => window.gridproof.state().model?.name === name && window.gridproof.report(), name);
  await idle(page);
}

/** The database's reviews by SHA-256; null without a database. */
const stored = (page) => page.evaluate(async () => {
  if (!(await indexedDB.databases()).some(({ name }) => name === 'gridproof')) return null;
  const database = await new Promise((done) => (indexedDB.open('gridproof').onsuccess = ({ target }) => done(target.result)));
  const store = database.transaction('reviews').objectStore('reviews');
  const [keys, values] = await Promise.all([store.getAllKeys(), store.getAll()].map((request) => new Promise((done) => (request.onsuccess = () => done(request.result)))));
  database.close();
  return Object.fromEntries(keys.map((key, at) => [key, values[at].text]));
});

async function review(page) {
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=intended]').click();
  await page.locator('#decide-reason').fill('wanted');
  await page.keyboard.press('Control+Enter');
  await idle(page);
  const box = await page.locator('#surface-large').boundingBox();
  for (let step = 2; step < 8 && !(await page.locator('#note').isVisible()); step += 1) {
    await page.mouse.dblclick(box.x + (box.width * step) / 10, box.y + box.height / 2);
    await idle(page);
  }
  await page.locator('#note-text').fill('too narrow');
  await page.keyboard.press('Control+Enter');
  await page.locator('#note').waitFor({ state: 'hidden' });
  await idle(page);
}

test('notes and decisions on a file are restored on the next visit until forgotten', async (t) => {
  const { page, context, shot } = await site.openPage(t, { reducedMotion: true });
  await idle(page);
  await give(page);
  await review(page);
  const written = await notesAndDecisions(page);
  assert.deepEqual([written.notes, written.decisions.length], [[['too narrow', true]], 1]);
  const { sha256 } = await page.evaluate(() => window.gridproof.report().file);
  const [[key, text]] = Object.entries(await stored(page));
  assert.equal(key, sha256);
  assert.deepEqual(Object.keys(JSON.parse(text)), ['schema', 'file', 'notes', 'decisions'], 'neither brief nor view');
  await page.close();

  const next = await context.newPage();
  await next.goto(site.address);
  await idle(next);
  await give(next, 'other.obj', QUAD.replaceAll('10', '12'));
  assert.deepEqual(await notesAndDecisions(next), { notes: [], decisions: [] }, 'another file has none');
  await give(next, 'again.obj');
  assert.deepEqual(await notesAndDecisions(next), written);
  assert.equal(await next.evaluate(() => window.gridproof.report().intended), 1, 'the verdict uses them');
  assert.match(await next.locator('#notice').innerText(), /earlier visit.*1\snote, 1\sdecision/);
  await next.locator('#help-open').click();
  assert.match(await next.locator('#memory').innerText(), /notes and decisions on 1\sfile/);
  await next.locator('#memory [data-forget]').click();
  await next.locator('#memory').waitFor({ state: 'hidden' });
  assert.equal(await stored(next), null);
  await next.close();

  const last = await context.newPage();
  await last.goto(site.address);
  await idle(last);
  await give(last);
  assert.deepEqual(await notesAndDecisions(last), { notes: [], decisions: [] });
});

test('undone notes are not stored; damaged entries are skipped and reported', async (t) => {
  const { page, context } = await site.openPage(t, { reducedMotion: true });
  await idle(page);
  await give(page);
  await review(page);
  const { sha256 } = await page.evaluate(() => window.gridproof.report().file);
  const good = (await stored(page))[sha256];
  await page.locator('#notes-list .note-card').first().click();
  await page.getByRole('button', { name: 'Delete' }).click();
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=intended]').click();
  await idle(page);
  assert.deepEqual(await stored(page), {});
  for (const text of ['{', good.replace('"face"', '"fase"'), good.replace(sha256, 'ab'.repeat(32)), good.replace('review/2', 'review/9'), 7]) {
    await page.evaluate(async ([key, text]) => {
      const database = await new Promise((done) => (indexedDB.open('gridproof').onsuccess = ({ target }) => done(target.result)));
      const writing = database.transaction('reviews', 'readwrite');
      writing.objectStore('reviews').put({ text, at: 1 }, key);
      await new Promise((done) => (writing.oncomplete = done));
      database.close();
    }, [sha256, text]);
    const next = await context.newPage();
    await next.goto(site.address);
    await idle(next);
    await give(next);
    assert.deepEqual(await notesAndDecisions(next), { notes: [], decisions: [] }, String(text));
    assert.match(await next.locator('#notice').innerText(), /damaged and were left out/);
    assert.deepEqual(await stored(next), {}, 'it is dropped');
    await next.close();
  }
});

test('in a frame of another page nothing is stored', async (t) => {
  const { page } = await site.openPage(t, { path: 'demo/embed.html' });
  const frame = page.frames().find((one) => one.parentFrame() === page.mainFrame());
  await frame.waitForFunction(() => window.gridproof?.state().engine === 'ok');
  await page.locator('#draft').click();
  await frame.waitForFunction(() => window.gridproof.report());
  await frame.locator('#cards [data-finding]').first().press('Enter');
  await frame.locator('[data-act=to-fix]').press('Enter');
  await frame.waitForFunction(() => window.gridproof.state().decisions.length === 1);
  await frame.evaluate(() => window.gridproof.idle());
  assert.equal(await stored(page), null);
});

test('a file chosen with the button can be reopened on the next visit', async (t) => {
  const { page, context } = await site.openPage(t, { path: null });
  // The browser's own dialog cannot be driven; a handle from the private file system stands in for its answer.
  await context.addInitScript(() => {
    window.showOpenFilePicker = async () => {
      if (window.cancels) throw new DOMException('left', 'AbortError');
      const root = await navigator.storage.getDirectory();
      const handle = await root.getFileHandle('chosen.obj', { create: true });
      const writer = await handle.createWritable();
      await writer.write(window.content);
      await writer.close();
      return [handle];
    };
  });
  await page.goto(site.address);
  await idle(page);
  await page.evaluate((content) => (window.content = content), QUAD);
  await page.evaluate(() => (window.cancels = true));
  await page.locator('.dropzone').click();
  assert.equal(await page.evaluate(() => window.gridproof.state().job), null, 'nothing was chosen');
  await page.evaluate(() => (window.cancels = false));
  await page.keyboard.press('o');
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  assert.equal(await page.evaluate(() => window.gridproof.state().model.name), 'chosen.obj');
  await page.waitForFunction(() => /1\sfile/.test(document.getElementById('memory-facts').textContent));

  const next = await context.newPage();
  await next.goto(site.address);
  await idle(next);
  await next.getByRole('button', { name: 'chosen.obj' }).click();
  await next.waitForFunction(() => window.gridproof.report());
  assert.equal(await next.evaluate(() => window.gridproof.state().model.name), 'chosen.obj');
  await next.goto(site.address);
  await idle(next);
  await next.locator('#recent [data-forget]').click();
  await next.locator('#recent').waitFor({ state: 'hidden' });
});

test('without the file picker API the button uses a file input', async (t) => {
  const { page, context } = await site.openPage(t, { path: null });
  await context.addInitScript(() => delete window.showOpenFilePicker);
  await page.goto(site.address);
  await idle(page);
  const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.locator('.dropzone').click()]);
  await chooser.setFiles({ name: 'quad.obj', mimeType: 'model/obj', buffer: Buffer.from(QUAD) });
  await page.waitForFunction(() => window.gridproof.report());
});
