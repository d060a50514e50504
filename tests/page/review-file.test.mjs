// Review pages: one file that opens from disk in a fresh browser, without server or connection.

import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { gridproof } from './harness.mjs';

const site = gridproof();
const LIMIT = 120_000;

const idle = (page) => page.evaluate(() => window.gridproof.idle());
const state = (page) => page.evaluate(() => window.gridproof.state());

async function measured(page) {
  await page.waitForFunction(() => window.gridproof?.report(), null, { timeout: LIMIT });
  await idle(page);
}

async function note(page, text) {
  await page.locator('#surface-large').focus();
  await page.keyboard.press('0');
  await page.keyboard.press('ArrowLeft');
  await idle(page);
  await page.keyboard.press('n');
  await page.locator('#note-text').fill(text);
  await page.keyboard.press('Control+Enter');
  await page.locator('#note').waitFor({ state: 'hidden' });
  await idle(page);
}

/** Makes the review page of what is on screen and saves it in `folder`. */
async function savePage(page, folder, name) {
  await page.keyboard.press('l');
  await page.locator('[name=share-whom][value=student]').check();
  const button = page.getByRole('button', { name: 'Make the page' });
  const save = page.getByRole('button', { name: 'Save page' });
  await button.or(save).waitFor();
  if (await button.isVisible()) await button.click();
  await save.waitFor({ timeout: LIMIT });
  const [download] = await Promise.all([page.waitForEvent('download', { timeout: LIMIT }), save.click()]);
  const file = join(folder, name);
  await download.saveAs(file);
  return { file, said: await page.locator('[data-kind=page] .share-facts').innerText(), suggested: download.suggestedFilename() };
}

/** Opens a file in a new profile without network, and returns its errors too. */
async function openFile(t, file, options = {}) {
  const context = await site.browser.newContext({ viewport: { width: 1280, height: 800 }, offline: true, ...options });
  t.after(() => context.close());
  const page = await context.newPage();
  const problems = [];
  page.on('console', (message) => message.type() === 'error' && problems.push(message.text()));
  page.on('pageerror', (error) => problems.push(String(error.stack ?? error)));
  page.on('request', (request) => {
    if (!/^(blob|data|file):/.test(request.url())) problems.push(`asked for ${request.url()}`);
  });
  await page.addInitScript(() => {
    window.wasEmpty = false;
    new MutationObserver(() => (window.wasEmpty ||= document.body?.classList.contains('is-empty') ?? false)).observe(document, { subtree: true, childList: true, attributes: true });
  });
  await page.goto(pathToFileURL(file).href);
  return { page, problems };
}

test('a review page: saved, opened from disk, browsed, edited, saved again', { timeout: 600_000 }, async (t) => {
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-page-'));
  t.after(() => rmSync(folder, { recursive: true }));
  const { page, shot } = await site.openPage(t, { path: '?demo=draft' });
  await measured(page);
  await note(page, 'Zu schmal </script><b>\nשלום');
  await page.locator('#cards .card').first().click();
  await idle(page);
  const { file, said, suggested } = await savePage(page, folder, 'first.html');
  await shot('share-page');
  assert.equal(suggested, 'lantern-draft review.html');
  assert.match(said, /[\d.]+\sMB/);
  t.diagnostic(`${statSync(file).size} bytes`);
  const [sent, before] = [await page.evaluate(() => window.gridproof.report()), await state(page)];

  const opened = await openFile(t, file);
  await measured(opened.page);
  assert.deepEqual(await opened.page.evaluate(() => window.gridproof.report()), sent);
  const now = await state(opened.page);
  assert.deepEqual(now.notes.map(({ text }) => text), before.notes.map(({ text }) => text));
  assert.equal(now.finding, before.finding);
  assert.equal(now.graphics, 'gl');
  assert.equal(await opened.page.evaluate(() => window.wasEmpty), false, 'it never asks for a file');
  assert.equal((await opened.page.locator('#verdict').innerText()).trim().toLowerCase(), sent.verdict);
  await opened.page.screenshot({ path: 'tests/shots/review-page-file.png' });
  await opened.page.locator('#surface-large').focus();
  await opened.page.keyboard.press('ArrowRight');
  await idle(opened.page);
  assert.notDeepEqual((await state(opened.page)).camera, now.camera, 'the model turns');
  assert.ok(await opened.page.evaluate(() => document.fonts.check('16px Barlow')), 'with its face');

  // Notes added by others return the same way.
  await note(opened.page, 'answered');
  const { file: back } = await savePage(opened.page, folder, 'second.html');
  assert.equal(await opened.page.locator('[data-kind=view], [data-kind=carried], [data-kind=placed]').count(), 0, 'a file has no link');
  await opened.page.keyboard.press('Escape');
  await opened.page.keyboard.press('s');
  const [download] = await Promise.all([opened.page.waitForEvent('download', { timeout: LIMIT }), opened.page.locator('#save-go').click()]);
  assert.match(readFileSync(await download.path(), 'utf8'), /answered/, 'the report has the note');
  assert.deepEqual(opened.problems, []);

  const third = await openFile(t, back, { colorScheme: 'dark', viewport: { width: 390, height: 844 } });
  await measured(third.page);
  assert.deepEqual((await state(third.page)).notes.map(({ text }) => text), ['Zu schmal </script><b>\nשלום', 'answered']);
  await third.page.screenshot({ path: 'tests/shots/review-page-narrow-dark.png' });
  assert.deepEqual(third.problems, []);
});

test('a damaged review page is reported and fetches nothing', { timeout: 600_000 }, async (t) => {
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-page-'));
  t.after(() => rmSync(folder, { recursive: true }));
  const { page } = await site.openPage(t, { path: '?demo=revised' });
  await measured(page);
  const { file } = await savePage(page, folder, 'whole.html');
  const text = readFileSync(file, 'utf8');
  const at = text.indexOf('<script id="site"') + 20_000;
  const hurt = join(folder, 'hurt.html');
  writeFileSync(hurt, text.slice(0, at) + text.slice(at + 4_000));
  const opened = await openFile(t, hurt);
  await opened.page.getByRole('alert').waitFor();
  assert.match(await opened.page.getByRole('alert').innerText(), /could not be opened.*cut short/);
  assert.ok(await opened.page.locator('.dropzone').isHidden());
  await opened.page.screenshot({ path: 'tests/shots/review-page-hurt.png' });
});
