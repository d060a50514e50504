// The main journeys in Firefox, from opening a file to what a recipient sees. Each leaves screenshots
// (tests/shots/firefox-*.png).

import assert from 'node:assert/strict';
import { cpSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { after, test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { LANTERNS, lanternsIn, missedFaults, rowsOf, zipOf } from './classes.mjs';
import { buildSite, serveElsewhere } from './elsewhere.mjs';
import { firefox } from './firefox.mjs';
import { isDrawn, ROOT, served } from './harness.mjs';

const DRAFT = join(ROOT, 'demo', 'lantern-draft.obj');
const REVISED = join(ROOT, 'demo', 'lantern-revised.obj');

const course = await serveElsewhere({
  '/embed.html': { type: 'text/html', body: readFileSync(join(ROOT, 'demo', 'embed.html')) },
  '/embed.js': { type: 'text/javascript', body: readFileSync(join(ROOT, 'demo', 'embed.js')) },
  '/lantern-draft.obj': { type: 'model/obj', body: readFileSync(DRAFT) },
});
after(course.stop);

const browser = firefox();
const site = served();
/** A site with a service worker. */
const keeping = served({ folder: () => process.env.GRIDPROOF_SITE ?? join(ROOT, 'target', 'site-test') });
/** A site that the course's pages may put into a frame. */
const framed = served({ folder: () => buildSite('site-framed', ['--allow-parent', course.origin]) });

const work = mkdtempSync(join(tmpdir(), 'gridproof-firefox-'));
after(() => rmSync(work, { recursive: true }));

const idle = (page) => page.evaluate(() => window.gridproof.idle());
const state = (page) => page.evaluate(() => window.gridproof.state());
const report = (page) => page.evaluate(() => window.gridproof.report());
const textOf = async (page, selector) => (await page.$eval(selector, (element) => element.innerText)).replaceAll('\u00a0', ' ').trim();
const visible = (page, selector) => page.waitForSelector(selector, { visible: true });

/** Waits until this file is measured. */
async function measured(page, name) {
  await page.waitForFunction((wanted) => {
    const { model, job, problem } = window.gridproof?.state() ?? {};
    if (problem) throw new Error(`${problem.title}: ${problem.message}`);
    return model?.name === wanted && model.verdict !== null && job === null;
  }, {}, name);
  await idle(page);
}

/** Chooses files by the button. */
async function choose(page, ...files) {
  await (await page.$('#file-input')).uploadFile(...files);
}

/**
 * Drops a file on the page by synthetic events: WebDriver cannot drag files.
 * @param {string} file
 */
async function drop(page, file) {
  const held = await page.evaluateHandle(() => Object.assign(document.createElement('input'), { type: 'file' }));
  await held.uploadFile(file);
  const veil = await held.evaluate((input) => {
    const transfer = new DataTransfer();
    transfer.items.add(input.files[0]);
    const send = (type) => document.body.dispatchEvent(new DragEvent(type, { bubbles: true, cancelable: true, dataTransfer: transfer }));
    send('dragenter');
    send('dragover');
    const said = document.getElementById('veil').innerText;
    send('drop');
    return said;
  });
  assert.match(veil, /Drop to read it/);
  await measured(page, basename(file));
}

/** Chooses the first finding by its card. */
async function chooseFirst(page) {
  await page.click('#cards .card');
  await idle(page);
  const { finding } = await state(page);
  assert.equal(finding, (await report(page)).findings[0].id);
  return finding;
}

/** Writes a note at the crosshair, once it is on the model or, where only the sheet is drawn, on a shell. */
async function writeNote(page, text) {
  await page.focus('#surface-large');
  await page.keyboard.press('0');
  for (let step = 0; step < 8 && (await state(page)).draft === null; step += 1) {
    for (const key of ['ArrowUp', 'n']) {
      await page.keyboard.press(key);
      await idle(page);
    }
  }
  await visible(page, '#note');
  await page.type('#note-text', text);
  await page.keyboard.down('Control');
  await page.keyboard.press('Enter');
  await page.keyboard.up('Control');
  await page.waitForSelector('#note', { hidden: true });
  await idle(page);
}

test('a file is dropped, another chosen: the verdict, and going to a finding', async (t) => {
  const { page, shot } = await browser.openPage(t, { site: site.address });
  await idle(page);
  await drop(page, DRAFT);
  assert.equal((await state(page)).graphics, browser.graphics);
  assert.match(await textOf(page, '#verdict'), /^Not ready/);
  await isDrawn(page, '#surface-large');
  await shot('verdict');
  const before = (await state(page)).camera;
  await chooseFirst(page);
  assert.match(page.url(), /#finding=/);
  if (browser.graphics === 'gl') assert.notDeepEqual((await state(page)).camera, before, 'the camera has flown there');
  await shot('finding');
  await choose(page, REVISED);
  await measured(page, 'lantern-revised.obj');
  assert.match(await textOf(page, '#verdict'), /^Ready/);
});

test('every kind of link and both files open in a new profile', async (t) => {
  const { page, shot, saved } = await browser.openPage(t, { site: site.address, path: '?demo=draft' });
  await measured(page, 'lantern-draft.obj');
  await writeNote(page, 'Zu schmal\nשלום');
  const finding = await chooseFirst(page);
  const sent = await report(page);
  await page.keyboard.press('l');
  await visible(page, '#share-more');
  await page.click('#share-more > summary');
  await visible(page, '[data-kind=view] .share-link');
  const press = (kind) => page.click(`[data-kind=${kind}] .entry-actions button`);
  await press('carried');
  await visible(page, '[data-kind=carried] .share-link');
  await press('page');
  await page.waitForFunction(() => /Save/.test(document.querySelector('[data-kind=page] .entry-actions button')?.textContent));
  await idle(page);
  await shot('share');
  const link = (kind) => page.$eval(`[data-kind=${kind}] .share-link`, (field) => field.value);
  const links = { view: await link('view'), placed: await link('placed'), carried: await link('carried') };
  const files = { page: await saved(() => press('page')), file: await saved(() => press('file')) };
  for (const [kind, name] of [['page', 'lantern-draft review.html'], ['file', 'lantern-draft review.json']]) assert.equal(basename(files[kind]), name);
  // Survives the browser that saved it.
  for (const [kind, file] of Object.entries(files)) cpSync(file, (files[kind] = join(work, basename(file))));

  /** Both sides show the same. */
  const agrees = async (other, exact = true) => {
    const [got, now] = [await report(other.page), await state(other.page)];
    assert.equal(got.verdict, sent.verdict);
    assert.deepEqual(got.findings.map(({ id, severity }) => [id, severity]), sent.findings.map(({ id, severity }) => [id, severity]));
    if (exact) assert.deepEqual(got.sheet, sent.sheet);
    assert.equal(now.finding, finding);
    assert.deepEqual(now.notes.map(({ text, place }) => [text, place !== null]), [['Zu schmal\nשלום', true]]);
    assert.equal(now.graphics, browser.graphics);
    await isDrawn(other.page, '#surface-large');
  };
  for (const kind of ['placed', 'carried']) {
    const other = await browser.openFresh(t, { site: site.address, path: links[kind] });
    await measured(other.page, 'lantern-draft.obj');
    await agrees(other, kind === 'placed');
    await other.shot(`link-${kind}`);
  }
  const viewed = await browser.openFresh(t, { site: site.address, path: links.view.replace('?demo=draft', '') });
  await idle(viewed.page);
  assert.match(await textOf(viewed.page, '#awaited'), /This link is about lantern-draft\.obj/);
  await viewed.shot('link-view');
  await drop(viewed.page, DRAFT);
  await agrees(viewed);
  const reviewed = await browser.openFresh(t, { site: site.address });
  await idle(reviewed.page);
  await choose(reviewed.page, DRAFT, files.file);
  await measured(reviewed.page, 'lantern-draft.obj');
  await agrees(reviewed);
  await reviewed.shot('review-file');

  // As by a double click: from disk, without any server.
  const disk = await browser.openFresh(t, { site: pathToFileURL(files.page).href });
  await measured(disk.page, 'lantern-draft.obj');
  await agrees(disk);
  await disk.shot('review-page');
  // Notes added by others are saved too.
  await writeNote(disk.page, 'answered');
  await disk.page.keyboard.press('s');
  await visible(disk.page, '#save');
  assert.match(readFileSync(await disk.saved(() => disk.page.click('#save-go')), 'utf8'), /answered/);
});

test('a class as a zip: thirty lanterns in the table, sorted and stepped through', async (t) => {
  const { folder, faults } = lanternsIn(work);
  const zip = join(work, 'hand-ins.zip');
  const names = readdirSync(folder).filter((name) => name.endsWith('.obj'));
  writeFileSync(zip, await zipOf(Object.fromEntries(names.map((name) => [name, readFileSync(join(folder, name))]))));
  const { page, shot } = await browser.openPage(t, { site: site.address });
  await idle(page);
  await choose(page, zip);
  await visible(page, '#class');
  await page.waitForFunction((count) => document.querySelectorAll('#class-rows > tr').length === count && document.getElementById('class-job').hidden, {}, LANTERNS);
  await idle(page);
  const rows = await rowsOf(page);
  assert.deepEqual(rows.map(({ file }) => file).toSorted(), [...faults.keys()].toSorted());
  for (const { file, verdict, worst, triangles } of rows) {
    assert.equal(verdict, 'Not ready', file);
    assert.match(worst, /\w/, file);
    assert.match(triangles, /^\d+,\d{3}$/, file);
  }
  assert.deepEqual(await missedFaults(page, faults, (kind) => page.select('#class-kind', kind)), [], 'every planted fault is found');
  await page.select('#class-kind', '');
  await idle(page);
  assert.ok(await page.$$eval('#class-rows canvas', (all) => all.length > 0 && all.every((canvas) => new Set(new Uint32Array(canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data.buffer)).size > 20)), 'pictures of the models');
  await shot('class');
  await page.click('#class-heads button[data-key=density]');
  await idle(page);
  const sorted = await rowsOf(page);
  const order = sorted.map(({ density }) => Number.parseFloat(density));
  const rising = await page.$eval('#class-heads th:has([data-key=density])', (head) => head.ariaSort === 'ascending');
  assert.deepEqual(order, order.toSorted((a, b) => (rising ? a - b : b - a)));
  assert.ok(new Set(order).size > 3, order.join(' '));
  await shot('class-sorted');
  const shown = () => textOf(page, '#file-name');
  await page.click('button.class-file');
  for (const [key, at] of [[null, 0], ['j', 1], ['j', 2], ['k', 1]]) {
    if (key) await page.keyboard.press(key);
    await idle(page);
    assert.equal(await shown(), sorted[at].file);
    assert.equal(await textOf(page, '#class-position'), `${at + 1} of ${LANTERNS}`);
  }
  assert.ok(await page.$eval('#chips', ({ scrollWidth, clientWidth }) => scrollWidth <= clientWidth), 'no chip is cut');
  await isDrawn(page, '#surface-large');
  await shot('class-file');
  await page.keyboard.press('f');
  assert.equal(await page.evaluate(() => document.activeElement.textContent), sorted[1].file, 'back where one was');
});

test('two versions: a second file is compared with the first, and V switches', async (t) => {
  const { page, shot } = await browser.openPage(t, { site: site.address });
  await idle(page);
  await drop(page, DRAFT);
  const { findings } = await report(page);
  await drop(page, REVISED);
  assert.equal(await textOf(page, '#versions-text'), `Compared with lantern-draft.obj: ${findings.length} fixed, 0 still there, 0 new.`);
  await shot('compare');
  for (const [previous, name, verdict] of [[true, 'lantern-draft.obj', 'not ready'], [false, 'lantern-revised.obj', 'ready']]) {
    await page.keyboard.press('v');
    await idle(page);
    const now = await state(page);
    assert.deepEqual([now.previous, now.model.name, now.model.verdict], [previous, name, verdict]);
    await isDrawn(page, '#surface-large');
    if (previous) await shot('compare-previous');
  }
});

test('after one visit the page opens and measures without the server', async (t) => {
  // Requests that go to the network first, such as the check for a newer version, may report a failed connection.
  const { page, shot } = await browser.openPage(t, { site: keeping.address, allow: [/NetworkError|NS_ERROR_|service ?worker|connect/i] });
  await idle(page);
  await visible(page, '#offline-ready');
  keeping.stop();
  await assert.rejects(fetch(keeping.address), 'the server is gone');
  await page.reload();
  await idle(page);
  assert.ok(await page.evaluate(() => navigator.serviceWorker.controller !== null));
  await drop(page, DRAFT);
  assert.match(await textOf(page, '#verdict'), /^Not ready/);
  await shot('offline');
});

test('a course page of another origin sends a model and gets its report', async (t) => {
  const { page, shot } = await browser.openPage(t, {
    site: course.origin,
    path: `embed.html?page=${encodeURIComponent(framed.address)}`,
    allow: [new RegExp(`^asked another host: ${framed.address}`)],
  });
  const said = (text) => page.waitForFunction((wanted) => document.getElementById('answer').textContent.includes(wanted), {}, text);
  await said('Ready');
  await page.click('#draft');
  await said('lantern-draft.obj: not ready');
  const frame = page.frames().find((one) => one.url().startsWith(framed.address));
  await idle(frame);
  assert.match(await textOf(page, '#answer'), new RegExp(`not ready, ${(await report(frame)).findings.length} findings`));
  await page.select('#lens', 'flipped');
  await frame.waitForFunction(() => window.gridproof.state().lens === 'flipped');
  await idle(frame);
  await shot('embedded');
});
