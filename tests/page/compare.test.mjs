// Two versions of a model: what was fixed, switching between them, carried-over notes and decisions, and what is not compared.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { violations } from './everybody.mjs';
import { gridproof, ROOT } from './harness.mjs';

const site = gridproof();
const DRAFT = join(ROOT, 'demo', 'lantern-draft.obj');
const REVISED = join(ROOT, 'demo', 'lantern-revised.obj');

/**
 * Two named squares. `low` is stretched, `width` its width on the sheet; `high` may be missing, and `unit` is
 * the length of a unit.
 */
function two({ width = 0.2, high = true, unit = 1, names = ['low', 'high'] } = {}) {
  const at = (...places) => places.map((place) => `v ${place.map((value) => value * unit).join(' ')}\n`).join('');
  const u = 0.1 + width;
  return `o ${names[0]}\n${at([0, 0, 0], [4, 0, 0], [4, 1, 0], [0, 1, 0])}vt 0.1 0.1\nvt ${u} 0.1\nvt ${u} 0.3\nvt 0.1 0.3\nf 1/1 2/2 3/3 4/4\n`
    + `${at([0, 2, 0], [2, 2, 0], [2, 4, 0], [0, 4, 0])}vt 0.6 0.6\nvt 0.8 0.6\nvt 0.8 0.8\nvt 0.6 0.8\n${high ? `o ${names[1]}\nf 5/5 6/6 7/7 8/8\n` : ''}`;
}

const idle = (page) => page.evaluate(() => window.gridproof.idle());
const state = (page) => page.evaluate(() => window.gridproof.state());
const report = (page) => page.evaluate(() => window.gridproof.report());
const card = (page) => page.locator('#versions');
const said = async (page) => (await page.locator('#versions-text').innerText()).replaceAll('\u00a0', ' ');
const near = (a, b, most) => a.every((value, axis) => Math.abs(value - b[axis]) <= most);

/** How many models are kept: each has a worker, and one more waits for the next model. */
async function models(page) {
  const workers = () => page.workers().filter((worker) => worker.url().endsWith('/model.worker.js')).length;
  let [count, since] = [workers(), Date.now()];
  while (Date.now() - since < 1000) {
    await page.waitForTimeout(50);
    if (workers() !== count) [count, since] = [workers(), Date.now()];
  }
  return count - 1;
}

async function give(page, file) {
  const given = typeof file === 'string' ? file : { name: file.name, mimeType: 'model/obj', buffer: Buffer.from(file.text) };
  const name = typeof file === 'string' ? file.slice(file.lastIndexOf('/') + 1) : file.name;
  await page.setInputFiles('#file-input', given);
  await page.waitForFunction((name) => {
    const { model, job, problem } = window.gridproof.state();
    if (problem) throw new Error(`${problem.title}: ${problem.detail}`);
    return model?.name === name && model.verdict !== null && job === null;
  }, name);
  await idle(page);
}

async function open(t, files, options) {
  const opened = await site.openPage(t, options);
  for (const file of files) await give(opened.page, file);
  return opened;
}

/** The middle of a file's box. */
function middleOf(file) {
  const places = readFileSync(file, 'utf8').split('\n').filter((line) => line.startsWith('v ')).map((line) => line.split(/\s+/).slice(1, 4).map(Number));
  return [0, 1, 2].map((axis) => places.reduce(([low, high], place) => [Math.min(low, place[axis]), Math.max(high, place[axis])], [Infinity, -Infinity])).map(([low, high]) => (low + high) / 2);
}

/** Clicks on the 3D view until a shell is selected. */
async function pressShell(page) {
  const box = await page.locator('#surface-large').boundingBox();
  for (const [x, y] of [[0.5, 0.5], [0.45, 0.4], [0.4, 0.35], [0.5, 0.3], [0.55, 0.6], [0.35, 0.45]]) {
    await page.mouse.click(box.x + box.width * x, box.y + box.height * y);
    await idle(page);
    const { chosen } = await state(page);
    if (chosen.length === 1) return;
  }
  assert.fail('there is no shell on the stage');
}

test('draft, then revised: everything is fixed, as in the command; one key switches versions in the same views', async (t) => {
  const { page, shot } = await open(t, [DRAFT, REVISED]);
  const { GRIDPROOF_COMMAND: built } = process.env;
  const [program, first] = built ? [built, []] : ['cargo', ['run', '--quiet', '--']];
  const ran = spawnSync(program, [...first, 'compare', '--json', DRAFT, REVISED], { cwd: ROOT, encoding: 'utf8', maxBuffer: 1 << 28 });
  assert.equal(ran.status, 0, ran.stderr);
  const told = JSON.parse(ran.stdout);
  const { fixed, still_there: still, new: fresh } = told.findings;
  const kinds = new Set(fixed.map(({ kind }) => kind));
  // What the demo's generator planted.
  for (const kind of ['stretch', 'density', 'flipped', 'partial-overlap', 'folded', 'mirrored']) assert.ok(kinds.has(kind), kind);
  assert.deepEqual([still.length, fresh.length], [0, 0]);
  assert.equal(await said(page), `Compared with lantern-draft.obj: ${fixed.length} fixed, 0 still there, 0 new.`);
  await shot('compare-card-wide-light');

  // Turned, and the sheet moved, so that nothing is at its default place.
  await page.locator('#surface-large').focus();
  for (const key of ['ArrowLeft', 'ArrowUp', '+']) await page.keyboard.press(key);
  await page.locator('#surface-small').focus();
  for (const key of ['+', '+', 'ArrowLeft']) await page.keyboard.press(key);
  await idle(page);
  const sheet = await page.locator('#surface-small').boundingBox();
  const spot = [sheet.x + sheet.width * 0.4, sheet.y + sheet.height * 0.55];
  const under = async () => {
    await page.mouse.move(spot[0] + 1, spot[1]);
    await page.mouse.move(...spot);
    await page.waitForFunction(() => window.gridproof.state().under !== null);
    await idle(page);
    return (await state(page)).under;
  };
  await page.keyboard.press('2');
  const [before, newer] = [await state(page), await under()];
  assert.equal(before.previous, false);

  await page.keyboard.press('v');
  await idle(page);
  const flipped = await state(page);
  assert.deepEqual([flipped.previous, flipped.model.name, flipped.lens, flipped.model.verdict], [true, 'lantern-draft.obj', 'stretch', 'not ready']);
  for (const point of ['eye', 'target']) assert.ok(near(flipped.camera[point], before.camera[point], 1e-6), `${point}: ${flipped.camera[point]} ${before.camera[point]}`);
  const older = await under();
  assert.ok(near([older.u, older.v], [newer.u, newer.v], 1e-9), JSON.stringify([older, newer]));
  assert.equal(await page.locator('#file-name').innerText(), 'lantern-draft.obj');
  assert.equal(await page.locator('#file-facts').innerText(), 'previous version');
  assert.match(await page.title(), /previous version/);
  assert.match(await page.locator('#announcement').innerText(), /^The previous version is shown: lantern-draft\.obj\. Verdict: Not ready\./);
  assert.match(await said(page), /^On screen: the previous version, lantern-draft\.obj/);
  assert.equal(await page.locator('#versions-flip').getAttribute('aria-pressed'), 'true');
  assert.equal((await report(page)).findings.length, fixed.length);
  await shot('compare-previous-wide-light');

  await page.locator('#versions-flip').click();
  await idle(page);
  const back = await state(page);
  assert.deepEqual([back.previous, back.model.name, back.model.verdict], [false, 'lantern-revised.obj', 'ready']);
  for (const point of ['eye', 'target']) assert.ok(near(back.camera[point], before.camera[point], 1e-6));
  assert.equal((await under()).shell_label, newer.shell_label, 'probes go to the worker of what is shown');
});

test('details by keyboard: three lists and the numbers; a fixed finding is shown in the previous version', async (t) => {
  const { page } = await open(t, [DRAFT, REVISED]);
  await page.locator('#versions-details').press('Enter');
  const details = page.locator('#compare');
  await details.waitFor({ state: 'visible' });
  assert.equal(`${await page.locator('ul[aria-labelledby="compare-fixed"] li').count()} fixed`, await page.locator('#compare-open').innerText());
  assert.equal(await page.locator('#compare-numbers tr').count(), 32);
  const changed = page.locator('#compare-numbers tr.is-changed', { hasText: 'anisotropy, 95' });
  assert.match(await changed.innerText(), /[↑↓]/);
  assert.deepEqual(await violations(page), []);
  await page.locator('ul[aria-labelledby="compare-fixed"] button').first().press('Enter');
  await idle(page);
  const flipped = await state(page);
  assert.ok(flipped.previous && flipped.finding, 'it is selected in the version that has it');
  const finding = (await report(page)).findings.find(({ id }) => id === flipped.finding);
  const centre = middleOf(DRAFT);
  assert.ok(near(flipped.camera.target, finding.camera.target.map((value, axis) => value - centre[axis]), 1e-3), 'the camera has flown there');
  assert.equal(await page.evaluate(() => document.activeElement?.dataset.entry?.slice(0, 4)), 'old-', 'the focus stays in the list');
  await page.keyboard.press('v');
  await idle(page);
  assert.equal((await state(page)).previous, false);
  await page.keyboard.press('Escape');
  await details.waitFor({ state: 'hidden' });
  assert.equal(await page.evaluate(() => document.activeElement?.id), 'versions-details');
  // The card can be closed; what was fixed is above the findings.
  await page.locator('#versions-close').click();
  assert.ok(await card(page).isHidden());
  await page.locator('#compare-open').click();
  assert.ok(await details.isVisible());
});

test('notes and decisions are carried over; those whose place is gone are marked', async (t) => {
  const { page, shot } = await open(t, [{ name: 'first.obj', text: two() }]);
  const meant = (await report(page)).findings.find(({ kind }) => kind === 'stretch').id;
  const note = (text, face, barycentric, point, uv) => ({ text, face, triangle: 0, barycentric, point, uv, camera: { eye: [point[0], point[1], 9], target: point, radius: 3, up: 'y' }, lens: 'grid' });
  const review = {
    schema: 'gridproof-review/2',
    file: (await report(page)).file,
    notes: [note('on low', 0, [0.75, 0, 0.25], [1, 0.25, 0], [0.15, 0.15]), note('on high', 1, [0.5, 0, 0.5], [1, 3, 0], [0.7, 0.7])],
    decisions: [{ finding: meant, kind: 'intended', reason: 'a ribbon' }],
  };
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-compare-'));
  t.after(() => rmSync(folder, { recursive: true }));
  const file = join(folder, 'first review.json');
  writeFileSync(file, JSON.stringify(review));
  await page.setInputFiles('#file-input', file);
  await page.waitForFunction(() => window.gridproof.state().notes.length === 2);
  await idle(page);
  await give(page, { name: 'second.obj', text: two({ width: 0.22, high: false }) });
  const { notes, decisions } = await state(page);
  assert.deepEqual(notes.map(({ text, place }) => [text, place !== null]), [['on low', true], ['on high', false]]);
  assert.ok(near(notes[0].place.uv, [0.15, 0.15], 1e-6), JSON.stringify(notes[0]));
  const kept = (await report(page)).findings.find(({ kind }) => kind === 'stretch');
  assert.deepEqual([decisions.length, kept.decision], [1, { kind: 'intended', reason: 'a ribbon' }]);
  assert.match(await said(page), /Taken over: 2 notes, 1 decision\. 1 note has no place on this version; the list has it all the same\./);
  assert.match(await page.locator('#notes-list').innerText(), /on high\s+not found on this model/);
  await shot('compare-notes-wide-light');
  // Each version has its own.
  await page.keyboard.press('v');
  await idle(page);
  assert.deepEqual((await state(page)).notes.map(({ place }) => place !== null), [true, true]);
  await page.keyboard.press('v');
  await idle(page);
  assert.deepEqual((await state(page)).notes.map(({ place }) => place !== null), [true, false]);
  // A note that is too long keeps the versions from switching.
  await page.locator('#notes-list button.note-card').first().click();
  await page.locator('#notes-list').getByText('Edit …').click();
  await page.locator('#note-text').fill('x'.repeat(2001));
  await page.locator('#versions-flip').click();
  assert.deepEqual([(await state(page)).previous, await page.locator('#note').isVisible()], [false, true]);
  await page.locator('#note-discard').click();
  // Opening the first file again duplicates nothing.
  await give(page, { name: 'first.obj', text: two() });
  assert.deepEqual((await state(page)).notes.map(({ text }) => text), ['on low', 'on high']);
});

test('the selection is matched by place, in any unit', async (t) => {
  const { page } = await open(t, [{ name: 'metres.obj', text: two() }, { name: 'centimetres.obj', text: two({ width: 0.4, unit: 100 }) }]);
  assert.match(await said(page), /^Compared with metres\.obj: 0 fixed, 2 still there, 1 new\./);
  const chosen = (await report(page)).findings.find(({ kind }) => kind === 'stretch');
  await page.locator(`[data-finding="${chosen.id}"]`).click();
  await idle(page);
  const before = await state(page);
  await page.keyboard.press('v');
  await idle(page);
  const flipped = await state(page);
  assert.deepEqual(flipped.chosen, chosen.shells);
  assert.ok(near(flipped.camera.eye.map((value) => value * 100), before.camera.eye, 1e-3), JSON.stringify([flipped.camera, before.camera]));
  await page.keyboard.press('Escape');
  await page.keyboard.press('0');
  await idle(page);
  await pressShell(page);
  const pressed = await state(page);
  assert.equal(pressed.chosen.length, 1);
  await page.keyboard.press('v');
  await idle(page);
  assert.deepEqual((await state(page)).chosen, pressed.chosen);
  await page.locator('#versions-details').click();
  assert.ok(await page.locator('#compare-box').isVisible());
  assert.match((await page.locator('ul[aria-labelledby="compare-still"]').innerText()).replaceAll('\n', ' '), /4\.00 .* 2\.00.*better/);
});

test('a wholly different file is only offered for comparison; closing releases the previous one', async (t) => {
  const { page, shot } = await open(t, [{ name: 'first.obj', text: two() }, { name: 'other.obj', text: two({ names: ['cup', 'saucer'] }) }]);
  assert.equal(await said(page), 'Compare with first.obj? The two have little in common.');
  assert.ok(await page.locator('#versions-flip').isHidden());
  await page.keyboard.press('v');
  assert.equal((await state(page)).previous, false);
  await shot('compare-offer-wide-light');
  await page.locator('#versions-compare').click();
  await page.waitForFunction(() => /fixed/.test(document.getElementById('versions-text').textContent));
  await idle(page);
  assert.match(await said(page), /^Compared with first\.obj: /);
  await give(page, { name: 'third.obj', text: two({ names: ['a', 'b'] }) });
  assert.equal(await models(page), 2);
  await page.locator('#versions-close').click();
  await page.waitForFunction(() => document.getElementById('versions').hidden);
  assert.equal(await models(page), 1);
});

test('a third file drops the oldest, also while the previous version is shown; an unreadable file changes nothing', async (t) => {
  const { page } = await open(t, [{ name: 'a.obj', text: two() }, { name: 'b.obj', text: two({ width: 0.3 }) }]);
  assert.equal(await models(page), 2);
  await page.keyboard.press('v');
  await idle(page);
  assert.equal((await state(page)).model.name, 'a.obj');
  await page.setInputFiles('#file-input', { name: 'bad.obj', mimeType: 'model/obj', buffer: Buffer.from('nothing') });
  await page.waitForFunction(() => window.gridproof.state().problem !== null);
  await page.locator('#problem-close').click();
  assert.deepEqual([(await state(page)).model.name, (await state(page)).previous, await models(page)], ['a.obj', true, 2]);
  await give(page, { name: 'c.obj', text: two({ width: 0.8 }) });
  assert.match(await said(page), /^Compared with b\.obj: /);
  assert.deepEqual([(await state(page)).previous, await models(page)], [false, 2]);
  await page.keyboard.press('v');
  await idle(page);
  assert.equal((await state(page)).model.name, 'b.obj');
});

test('a file whose measuring was cancelled is not compared; the one before it is', async (t) => {
  const { page } = await open(t, [{ name: 'a.obj', text: two() }]);
  // Cancelled as soon as something is shown.
  await page.evaluate(() => {
    new MutationObserver((_, observer) => {
      if (document.getElementById('file-name').textContent !== 'lantern-draft.obj') return;
      observer.disconnect();
      document.getElementById('job-cancel').click();
    }).observe(document.getElementById('file-name'), { childList: true });
  });
  await page.setInputFiles('#file-input', DRAFT);
  await page.waitForFunction(() => window.gridproof.state().model.name === 'lantern-draft.obj' && !window.gridproof.state().job);
  assert.equal((await state(page)).model.verdict, null);
  assert.ok(await card(page).isHidden());
  await give(page, { name: 'c.obj', text: two({ width: 0.8 }) });
  assert.match(await said(page), /^Compared with a\.obj: /);
  assert.equal(await models(page), 2);
  await page.keyboard.press('v');
  await idle(page);
  assert.equal((await state(page)).model.name, 'a.obj');
});

test('another brief judges both versions', async (t) => {
  const { page } = await open(t, [{ name: 'a.obj', text: two() }, { name: 'b.obj', text: two({ width: 0.8 }) }]);
  assert.match(await said(page), /: 1 fixed, /);
  const brief = { stretch: { max_anisotropy: 8 }, density: { tolerance_percent: 900 }, coverage: { min_share: 0.01 } };
  await page.setInputFiles('#file-input', { name: 'brief.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(brief)) });
  await page.waitForFunction(() => window.gridproof.state().brief.stretch?.max_anisotropy === 8);
  await idle(page);
  assert.match(await said(page), /: 0 fixed, 0 still there, 0 new\./);
  await page.locator('#brief-close').click();
  await page.locator('#surface-large').focus();
  await page.keyboard.press('v');
  await idle(page);
  assert.deepEqual([(await state(page)).model.name, (await state(page)).model.verdict], ['a.obj', 'ready']);
});

test('files of a class and the demo are not compared, nor are two that are too large together', async (t) => {
  const { page } = await open(t, [], {});
  await page.setInputFiles('#file-input', ['a', 'b', 'c'].map((name) => ({ name: `${name}.obj`, mimeType: 'model/obj', buffer: Buffer.from(two()) })));
  await page.locator('#class-rows button.class-file').first().click();
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'a.obj' && window.gridproof.report());
  await idle(page);
  await page.keyboard.press('j');
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'b.obj' && window.gridproof.report());
  await idle(page);
  assert.ok(await card(page).isHidden());
  assert.equal(await models(page), 1);

  const large = await site.openPage(t, { path: null });
  // A real gigabyte of files would prove the same and take minutes.
  await large.page.route('**/www/compare/compare.js', async (route) => {
    const response = await route.fetch();
    const body = await response.text();
    assert.match(body, /MOST_BYTES = 1e9;/);
    await route.fulfill({ response, body: body.replace('MOST_BYTES = 1e9;', 'MOST_BYTES = 400;') });
  });
  await large.page.goto(site.address);
  await give(large.page, { name: 'large-a.obj', text: two() });
  await give(large.page, { name: 'large-b.obj', text: two() });
  assert.ok(await card(large.page).isHidden());
  assert.match(await large.page.locator('#notice-text').innerText(), /large-a\.obj was not kept to be compared: the two files have \d+.B together, and 400.B are the most/);
  assert.equal(await models(large.page), 1);
});

test('a closed connection: the page reports that it could not compare, and still works', async (t) => {
  const { page } = await open(t, [], { allow: [/gridproof_report/] });
  await page.route('**/gridproof_report*', (route) => route.abort());
  for (const name of ['a.obj', 'b.obj']) await give(page, { name, text: two() });
  assert.match(await said(page), /^It could not be compared with a\.obj: the module that does it could not be loaded\./);
  await page.unroute('**/gridproof_report*');
  assert.equal((await state(page)).model.name, 'b.obj');
});

for (const [name, options] of Object.entries({
  'wide-light': {},
  'wide-dark': { dark: true },
  'narrow-light': { width: 390, height: 844, touch: true },
  'narrow-dark': { width: 390, height: 844, dark: true, touch: true },
  'least-light': { width: 320, height: 640, touch: true },
})) {
  test(`usable and without overflow, ${name}`, async (t) => {
    const { page, shot } = await open(t, [DRAFT, REVISED], options);
    await shot(`compare-card-${name}`);
    const inside = async (selector) => {
      const box = await page.locator(selector).boundingBox();
      const { width } = page.viewportSize();
      assert.ok(box.x >= 0 && box.x + box.width <= width, `${selector}: ${JSON.stringify(box)}`);
    };
    for (const selector of ['#versions', '#versions-flip', '#versions-details', '#versions-close']) await inside(selector);
    await page.locator('#versions-flip').click();
    await idle(page);
    await shot(`compare-previous-${name}`);
    await page.locator('#versions-flip').click();
    await idle(page);
    await page.locator('#versions-details').click();
    await page.locator('#compare').waitFor({ state: 'visible' });
    await idle(page);
    await inside('#compare');
    assert.ok(await page.locator('#compare .brief-body').evaluate((body) => body.scrollWidth <= body.clientWidth), 'nothing overflows');
    await shot(`compare-details-${name}`);
    await page.locator('#compare-numbers-title').scrollIntoViewIfNeeded();
    await shot(`compare-numbers-${name}`);
    assert.deepEqual(await violations(page), []);
  });
}
