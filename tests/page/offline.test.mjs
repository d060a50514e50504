// Without a connection: after one visit the page opens, reads and measures without the server; a newer version waits
// until the user accepts it; nothing else of the site is cached.

import assert from 'node:assert/strict';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { violations } from './everybody.mjs';
import { gridproof, ROOT } from './harness.mjs';

const usual = process.env.GRIDPROOF_SITE ?? join(ROOT, 'target', 'site-test');
const parent = mkdtempSync(join(tmpdir(), 'gridproof-offline-'));
// Below a path, as on a host that has other sites too.
const copy = join(parent, 'tools', 'proof');
cpSync(usual, copy, { recursive: true });
writeFileSync(join(parent, 'index.html'), '<!doctype html><title>Elsewhere on this host</title>');
process.on('exit', () => rmSync(parent, { recursive: true, force: true }));

const site = gridproof({ folder: () => parent });
const allow = { path: 'tools/proof/', context: { serviceWorkers: 'allow' } };

const ready = (page) => page.evaluate(async () => {
  await window.gridproof.idle();
  await navigator.serviceWorker.ready;
});

test('after one visit the page and its demo open without a connection, below a path', async (t) => {
  const { page, context, shot } = await site.openPage(t, allow);
  await ready(page);
  await page.locator('#offline-ready').waitFor({ state: 'visible' });
  await context.setOffline(true);
  await page.goto(`${site.address}tools/proof/?demo=draft`);
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.evaluate(() => window.gridproof.state().model?.verdict), 'not ready');
  await shot('offline');
  // Saving loads the second module.
  await page.evaluate(() => document.getElementById('save-open').click());
  const [saved] = await Promise.all([page.waitForEvent('download'), page.locator('#save-go').click()]);
  assert.match(readFileSync(await saved.path(), 'utf8'), /<!doctype html>/i);
});

test('every file of the site is cached, and other pages of the host are not intercepted', async (t) => {
  const { page, context } = await site.openPage(t, { ...allow, allow: [/ERR_INTERNET_DISCONNECTED|404|not loaded/] });
  await ready(page);
  const kept = await page.evaluate(async () => {
    const names = await caches.keys();
    const cache = await caches.open(names[0]);
    return { names, files: (await cache.keys()).map(({ url }) => new URL(url).pathname) };
  });
  assert.equal(kept.names.length, 1);
  assert.match(kept.names[0], /^gridproof \/tools\/proof\/ [0-9a-f]{64}$/);
  for (const file of ['', 'brief.json', 'www/app/app.js', 'wasm/gridproof_bg.wasm', 'wasm/gridproof_report_bg.wasm', 'demo/lantern-draft.obj']) {
    assert.ok(kept.files.includes(`/tools/proof/${file}`), `${file} is cached`);
  }
  const answers = async () => page.evaluate(async () => Promise.all(['../../', '?demo=draft'].map((path) => fetch(path).then(({ ok }) => ok, () => false))));
  assert.deepEqual(await answers(), [true, true]);
  await context.setOffline(true);
  assert.deepEqual(await answers(), [false, true]);
});

test('a newer version is offered and loads on request', async (t) => {
  const { page, shot } = await site.openPage(t, allow);
  await ready(page);
  assert.ok(await page.locator('#newer').isHidden());
  const index = join(copy, 'index.html');
  const worker = join(copy, 'sw.js');
  const previous = [readFileSync(index, 'utf8'), readFileSync(worker, 'utf8')];
  t.after(() => {
    writeFileSync(index, previous[0]);
    writeFileSync(worker, previous[1]);
  });
  writeFileSync(index, previous[0].replace('<body', '<body data-newer=""'));
  writeFileSync(worker, previous[1].replace(/"version":"[0-9a-f]{4}/, '"version":"ffff'));
  await page.reload();
  await ready(page);
  assert.equal(await page.locator('body[data-newer]').count(), 0, 'the previous version until the page is left');
  await page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
  await page.locator('#newer').waitFor({ state: 'visible' });
  await shot('newer-version');
  assert.deepEqual(await violations(page), []);
  await page.locator('#newer-take').click();
  await page.waitForFunction(() => 'newer' in document.body.dataset && 'gridproof' in window);
  await ready(page);
  assert.equal((await page.evaluate(() => caches.keys())).length, 1, 'the previous one is deleted');
});

test('the manifest is installable: name, start URL and icons', async (t) => {
  const { page } = await site.openPage(t, allow);
  const found = await page.evaluate(async () => {
    const link = document.querySelector('link[rel=manifest]');
    const manifest = await (await fetch(link.href)).json();
    const icons = await Promise.all(manifest.icons.map(async ({ src }) => (await fetch(new URL(src, link.href))).ok));
    return { start: new URL(manifest.start_url, link.href).href, scope: new URL(manifest.scope, link.href).href, icons, name: manifest.name };
  });
  const folder = `${site.address}tools/proof/`;
  assert.deepEqual(found, { start: folder, scope: folder, icons: [true, true], name: 'Gridproof' });
});
