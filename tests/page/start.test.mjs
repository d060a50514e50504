// Background work: the model in the address comes first; caching for offline use and the warm-up for the first file wait
// until the page is idle.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { gridproof, ROOT } from './harness.mjs';

const site = gridproof();
const DEMO = 'demo/lantern-draft.obj';
const registered = (page) => page.evaluate(async () => (await navigator.serviceWorker.getRegistrations()).length);

/** Opens the page with its requests of the demo counted, each held back until `release` is called. */
async function open(t, path, options = {}) {
  const opened = await site.openPage(t, { path: null, ...options });
  const { page } = opened;
  let release;
  const released = new Promise((resolve) => (release = resolve));
  const asked = [];
  await page.context().route(`**/${DEMO}`, async (route) => {
    asked.push(route.request().url());
    await released;
    await route.continue();
  });
  await page.goto(`${site.address}${path}`);
  await page.waitForFunction(() => window.gridproof?.state().engine === 'ok');
  return { ...opened, asked, release };
}

test('the service worker waits while a model is loading', async (t) => {
  const { page, release } = await open(t, '?demo=draft', { context: { serviceWorkers: 'allow' } });
  await page.waitForTimeout(1500);
  assert.equal(await registered(page), 0);
  release();
  await page.waitForFunction(() => window.gridproof.report());
  await page.evaluate(() => navigator.serviceWorker.ready);
  assert.equal(await registered(page), 1);
});

test('an empty page warms up on the demo once, invisibly', async (t) => {
  const { page, asked, release } = await open(t, '');
  for (let waited = 0; asked.length === 0 && waited < 100; waited += 1) await page.waitForTimeout(100);
  release();
  await page.waitForTimeout(1500);
  assert.equal(asked.length, 1);
  const { model, job, problem } = await page.evaluate(() => window.gridproof.state());
  assert.deepEqual([model, job, problem], [null, null, null]);
});

test('a file opened during the warm-up is read normally', async (t) => {
  const { page, asked, release } = await open(t, '');
  for (let waited = 0; asked.length === 0 && waited < 100; waited += 1) await page.waitForTimeout(100);
  assert.equal(asked.length, 1);
  release();
  await page.setInputFiles('#file-input', { name: 'mine.obj', mimeType: '', buffer: readFileSync(join(ROOT, 'demo/lantern-revised.obj')) });
  await page.waitForFunction(() => window.gridproof.report());
  const { file, verdict } = await page.evaluate(() => window.gridproof.report());
  assert.deepEqual([file.name, verdict], ['mine.obj', 'ready']);
});

test('no warm-up when a model is loaded', async (t) => {
  const { page, asked } = await open(t, '?demo=revised');
  await page.waitForFunction(() => window.gridproof.report());
  await page.evaluate(() => window.gridproof.idle());
  await page.waitForTimeout(2000);
  assert.equal(asked.length, 0);
});
