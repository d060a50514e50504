// A review in the page: notes on the surface, decisions and the verdict, Back and Forward, links that ask for their file, and
// invalid links.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { deflateRawSync, inflateRawSync } from 'node:zlib';
import { gridproof, ROOT } from './harness.mjs';

const site = gridproof();

/** Two squares, one above the other; only the lower one has a finding: it is stretched. */
const TWO = 'o low\nv 0 0 0\nv 4 0 0\nv 4 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.3 0.1\nvt 0.3 0.3\nvt 0.1 0.3\nf 1/1 2/2 3/3 4/4\n'
  + 'o high\nv 0 2 0\nv 2 2 0\nv 2 4 0\nv 0 4 0\nvt 0.5 0.5\nvt 0.7 0.5\nvt 0.7 0.7\nvt 0.5 0.7\nf 5/5 6/6 7/7 8/8\n';

const idle = (page) => page.evaluate(() => window.gridproof.idle());
const state = (page) => page.evaluate(() => window.gridproof.state());

async function openDraft(t, options = {}) {
  const opened = await site.openPage(t, { path: '?demo=draft', ...options });
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await idle(opened.page);
  return opened;
}

async function give(page, name, text) {
  await page.setInputFiles('#file-input', { name, mimeType: 'model/obj', buffer: Buffer.from(text) });
  await page.waitForFunction((name) => window.gridproof.state().model?.name === name && window.gridproof.report(), name);
  await idle(page);
}

/** The review in an address. */
function reviewIn(url) {
  const packed = new URLSearchParams(new URL(url).hash.slice(1)).get('r');
  assert.ok(packed, `a review in ${url}`);
  return JSON.parse(inflateRawSync(Buffer.from(packed, 'base64url')).toString());
}

const packed = (value) => deflateRawSync(typeof value === 'string' ? value : JSON.stringify(value)).toString('base64url');

/** A point near the middle of the model where no panel covers it. */
async function onModel(page) {
  return page.evaluate(() => {
    const box = document.querySelector('#surface-large').getBoundingClientRect();
    for (let ring = 0; ring < 12; ring += 1) {
      for (const [dx, dy] of [[0, 0], [1, 0], [0, 1], [-1, 0], [0, -1]]) {
        const [x, y] = [box.x + box.width * (0.5 + dx * ring * 0.03), box.y + box.height * (0.5 + dy * ring * 0.03)];
        if (document.elementFromPoint(x, y)?.id === 'surface-large') return { x, y };
      }
    }
    throw new Error('the model is covered');
  });
}

async function write(page, text) {
  await page.locator('#note').waitFor({ state: 'visible' });
  await page.locator('#note-text').fill(text);
  await page.keyboard.press('Control+Enter');
  await page.locator('#note').waitFor({ state: 'hidden' });
  await idle(page);
}

test('a note by double click: pinned there, in the list, the report and the address', async (t) => {
  const { page, shot } = await openDraft(t);
  const spot = await onModel(page);
  await page.mouse.dblclick(spot.x, spot.y);
  await write(page, 'Zu schmal\nשלום <b>not bold</b>');
  const { notes } = await state(page);
  assert.equal(notes.length, 1);
  assert.ok(notes[0].shell && notes[0].uv && notes[0].camera, JSON.stringify(notes[0]));
  const pin = await page.locator('#pins-model .pin').boundingBox();
  assert.ok(Math.abs(pin.x + pin.width / 2 - spot.x) < 2 && Math.abs(pin.y + pin.height - spot.y) < 2, JSON.stringify({ pin, spot }));
  assert.equal(await page.locator('#pins-sheet .pin').count(), 1);
  assert.equal(await page.locator('#notes-list .note-text').innerText(), 'Zu schmal\nשלום <b>not bold</b>');
  const report = await page.evaluate(() => window.gridproof.report());
  assert.deepEqual(report.notes.map(({ text, face }) => [text, face]), [[notes[0].text, notes[0].face]]);
  const review = reviewIn(page.url());
  assert.equal(review.notes[0].text, notes[0].text);
  assert.equal(review.note, 1);
  assert.equal(review.file.name, 'lantern-draft.obj');
  await shot('review-note-wide-light');
});

test('a note by keyboard: at the crosshair, edited, deleted, restored', async (t) => {
  const { page } = await openDraft(t);
  await page.locator('#surface-large').focus();
  await page.keyboard.press('ArrowLeft');
  await idle(page);
  await page.keyboard.press('n');
  await write(page, 'first');
  // Typed text is kept when the dialog is closed.
  await page.locator('#surface-large').focus();
  await page.keyboard.press('ArrowLeft');
  await idle(page);
  await page.keyboard.press('n');
  await page.locator('#note-text').fill('second');
  await page.keyboard.press('Escape');
  await idle(page);
  const texts = async () => (await state(page)).notes.map(({ text }) => text);
  assert.deepEqual(await texts(), ['first', 'second']);
  await page.locator('#notes-list .note-card').first().press('Enter');
  await page.getByRole('button', { name: 'Edit …' }).press('Enter');
  await write(page, 'first, changed');
  assert.deepEqual(await texts(), ['first, changed', 'second']);
  await page.getByRole('button', { name: 'Delete' }).press('Enter');
  assert.deepEqual(await texts(), ['second']);
  assert.equal(await page.evaluate(() => document.activeElement?.id), 'note-undo');
  await page.keyboard.press('Enter');
  await idle(page);
  assert.deepEqual(await texts(), ['first, changed', 'second']);
  assert.deepEqual((await page.evaluate(() => window.gridproof.report())).notes.map(({ text }) => text), ['first, changed', 'second']);
  // A pin can be focused and selects its note.
  await page.locator('#pins-model .pin').last().focus();
  await page.keyboard.press('Enter');
  await idle(page);
  assert.equal(await page.locator('#notes-list [aria-current=true] .note-text').innerText(), 'second');
});

test('the button asks for a place, also on the sheet; a discarded note is gone', async (t) => {
  const { page } = await openDraft(t);
  await page.locator('#note-new').click();
  await page.locator('#placing').waitFor({ state: 'visible' });
  await page.keyboard.press('Escape');
  await page.locator('#placing').waitFor({ state: 'hidden' });
  await page.locator('#note-new').click();
  await page.locator('#beside').click();
  await idle(page);
    await page.locator('#placing').waitFor({ state: 'visible' });
  const box = await page.locator('#surface-small').boundingBox();
  // The sheet is fitted: some click in a coarse grid hits a shell.
  let begun = false;
  for (let row = 3; row < 9 && !begun; row += 1) {
    for (let column = 3; column < 9 && !begun; column += 1) {
      await page.mouse.click(box.x + (box.width * column) / 12, box.y + (box.height * row) / 12);
      await idle(page);
      begun = await page.locator('#note').isVisible();
    }
  }
  assert.ok(begun, 'a shell was hit');
  await page.locator('#note-text').fill('not meant');
  await page.locator('#note-discard').click();
  assert.equal((await state(page)).notes.length, 0);
  assert.equal(await page.locator('#pins-sheet .pin').count(), 0);
});

test('a pin is fainter only behind the model', async (t) => {
  const { page } = await openDraft(t, { reducedMotion: true });
  const spot = await onModel(page);
  await page.mouse.dblclick(spot.x, spot.y);
  await write(page, 'in front');
  const behind = () => page.locator('#pins-model .pin').evaluate((pin) => pin.classList.contains('is-behind'));
  assert.equal(await behind(), false);
  await page.locator('#surface-large').focus();
  // A press turns by 24 px of half a turn a stage's shorter side.
  const side = await page.evaluate(() => Math.min(document.querySelector('#surface-large').clientWidth, document.querySelector('#surface-large').clientHeight));
  for (let press = 0; press < Math.round(side / 24); press += 1) await page.keyboard.press('ArrowLeft');
  await idle(page);
  assert.equal(await behind(), true);
});

test('an intended finding is left out of the verdict, with its reason, until undone', async (t) => {
  const { page, shot } = await site.openPage(t);
  await idle(page);
  await give(page, 'two.obj', TWO);
  const verdict = async () => (await page.locator('#verdict').innerText()).trim();
  const before = await page.evaluate(() => window.gridproof.report());
  assert.equal(before.verdict, 'not ready');
  assert.ok(before.findings.filter(({ severity }) => severity !== 'info').length > 0);
  for (const finding of before.findings.filter(({ severity }) => severity !== 'info')) {
    await page.locator(`#cards [data-finding="${finding.id}"]`).click();
    await page.locator('[data-act=intended]').click();
    await page.locator('.decide-form button[type=submit]').click();
    assert.match(await page.locator('.decide-trouble').innerText(), /Say why/, 'a reason is asked for');
    await page.locator('#decide-reason').fill(`wanted: ${finding.kind}`);
    await page.keyboard.press('Control+Enter');
    await idle(page);
    const card = page.locator(`#cards [data-finding="${finding.id}"]`);
    assert.ok(await card.evaluate((element) => element.classList.contains('is-intended')));
    assert.match(await card.innerText(), new RegExp(`Intended\\.\\s*wanted: ${finding.kind}`));
    assert.equal(await page.evaluate(() => document.activeElement?.getAttribute('data-act')), 'intended', 'the focus stays at the decision');
  }
  const count = before.findings.filter(({ severity }) => severity !== 'info').length;
  assert.equal(await verdict(), `Ready, ${count} intended`);
  const after = await page.evaluate(() => window.gridproof.report());
  assert.deepEqual([after.verdict, after.intended], ['ready', count]);
  await shot('review-intended-wide-light');
  await page.locator('[data-act=intended]').click();
  await idle(page);
  assert.equal((await page.evaluate(() => window.gridproof.report())).intended, count - 1);
  await page.locator('[data-act=to-fix]').click();
  await idle(page);
  assert.match(await page.locator('#cards [aria-current=true]').innerText(), /To fix\./);
  assert.equal((await page.evaluate(() => window.gridproof.report())).verdict === 'ready', false, 'findings to fix count');
});

test('the saved report has intended findings and notes', async (t) => {
  const { page } = await openDraft(t);
  const { file, findings } = await page.evaluate(() => window.gridproof.report());
  const review = {
    schema: 'gridproof-review/2', file,
    notes: [{ text: 'first\nsecond <i>line</i>', face: 0, triangle: 0, barycentric: [1, 0, 0], point: [0, 0, 0] }],
    decisions: [{ finding: findings[0].id, kind: 'intended', reason: 'never seen' }],
  };
  await page.evaluate((letters) => (location.hash = `r=${letters}`), packed(review));
  await page.waitForFunction(() => window.gridproof.report().intended === 1);
  await idle(page);
  await page.locator('#save-open').click();
  const [download] = await Promise.all([page.waitForEvent('download', { timeout: 120_000 }), page.locator('#save-go').click()]);
  const html = readFileSync(await download.path(), 'utf8');
  assert.match(html, /<strong class="stop">not ready, 1 intended<\/strong>/);
  assert.match(html, /<b>Intended\.<\/b> <bdi class="written">never seen<\/bdi>/);
  assert.match(html, /<p class="written" dir="auto">first<br>second &lt;i&gt;line&lt;\/i&gt;<\/p>/);
});

test('reopening a file restores its notes and decisions; another file has none', async (t) => {
  const { page } = await site.openPage(t);
  await idle(page);
  await give(page, 'two.obj', TWO);
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=intended]').click();
  await page.locator('#decide-reason').fill('wanted');
  await page.keyboard.press('Control+Enter');
  await idle(page);
  // Far off, so that it is no version of the first: to one, decisions would go along.
  await give(page, 'other.obj', TWO.replace(/^v (\S+)/gm, (_, x) => `v ${Number(x) + 1000}`));
  assert.deepEqual((await state(page)).decisions, []);
  assert.equal((await page.evaluate(() => window.gridproof.report())).intended, 0);
  await give(page, 'again.obj', TWO);
  assert.equal((await state(page)).decisions.length, 1);
  assert.equal((await page.evaluate(() => window.gridproof.report())).intended, 1);
});

test('Back and Forward step through findings, lenses and views; notes stay', async (t) => {
  const { page } = await openDraft(t, { reducedMotion: true });
  const view = async () => {
    const { finding, lens, camera } = await state(page);
    return { finding, lens, eye: camera.eye.map((at) => Number(at.toPrecision(4))) };
  };
  const steps = [await view()];
  await page.locator('#cards [data-finding]').nth(0).click();
  await idle(page);
  steps.push(await view());
  await page.locator('#surface-large').focus();
  for (let press = 0; press < 3; press += 1) await page.keyboard.press('ArrowUp');
  await idle(page);
  steps.push(await view());
  assert.notDeepEqual(steps[2].eye, steps[1].eye);
  assert.ok(page.url().includes('#r='), 'a turned view is in the address');
  // Another lens than the finding's own.
  await page.keyboard.press('4');
  await idle(page);
  steps.push(await view());
  await page.locator('#cards [data-finding]').nth(1).click();
  await idle(page);
  steps.push(await view());
  const spot = await onModel(page);
  await page.mouse.dblclick(spot.x, spot.y);
  if (await page.locator('#note').isVisible().catch(() => false)) await write(page, 'stays');
  await idle(page);
  const { notes } = await state(page);
  // A double click on nothing clears the selection, which is an entry too.
  const extra = notes.length > 0 || (await state(page)).finding === null ? 1 : 0;
  const length = await page.evaluate(() => history.length);
  assert.ok(length >= steps.length + extra, `${length} entries`);
  for (let back = 0; back < 4 && (await state(page)).finding !== steps[4].finding; back += 1) {
    await page.goBack();
    await idle(page);
  }
  for (const [index, step] of [...steps.entries()].reverse()) {
    const now = await view();
    assert.deepEqual([now.finding, now.lens], [step.finding, step.lens], `step ${index}`);
    const cosine = now.eye.reduce((sum, at, axis) => sum + at * step.eye[axis], 0) / Math.hypot(...now.eye) / Math.hypot(...step.eye);
    // The same is visible as before, beside the lens's legend, which the distance depends on.
    const nearer = Math.hypot(...now.eye) / Math.hypot(...step.eye);
    assert.ok(cosine > 0.999 && nearer > 0.7 && nearer < 1.4, `step ${index}: ${now.eye} for ${step.eye}`);
    assert.deepEqual((await state(page)).notes.length, notes.length, 'notes are not part of a view');
    if (index > 0) {
      await page.goBack();
      await idle(page);
    }
  }
  await page.goForward();
  await idle(page);
  assert.equal((await state(page)).finding, steps[1].finding);
});

/** Makes a note and a decision on two.obj and gives the view link that the dialog shows. */
async function shareTwo(t, { withNotes = true } = {}) {
  const { page, shot } = await site.openPage(t);
  await idle(page);
  await give(page, 'two.obj', TWO);
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=intended]').click();
  await page.locator('#decide-reason').fill('wanted');
  await page.keyboard.press('Control+Enter');
  await idle(page);
  await page.keyboard.press('0');
  const spot = await onModel(page);
  for (const [dx, dy] of [[0, 0], [-60, 80], [60, 80], [0, -90], [-90, 0]]) {
    await page.mouse.dblclick(spot.x + dx, spot.y + dy);
    await idle(page);
    if (await page.locator('#note').isVisible()) break;
  }
  await write(page, 'look here');
  const eye = (await state(page)).notes[0].camera;
  await page.keyboard.press('l');
  await idle(page);
  assert.equal(await page.locator('#share-kinds > li').count(), 0, 'first question: for whom?');
  await shot('review-share-whom');
  await page.locator('[name=share-whom][value=owner]').check();
  await page.locator('[data-kind=view] .share-link').waitFor();
  await page.locator('#share-sender').fill('Zoë\u202e Meyer');
  await idle(page);
  if (!withNotes) {
    await page.locator('#share-with').click();
    await idle(page);
  }
  await shot(`review-share${withNotes ? '' : '-bare'}`);
  const link = await page.locator('[data-kind=view] .share-link').inputValue();
  const facts = await page.locator('[data-kind=view] .share-facts').innerText();
  return { page, link, facts, eye };
}

test('a view link asks for its file, and shows everything on the right file', async (t) => {
  const { link, facts, eye } = await shareTwo(t);
  assert.match(facts, new RegExp(`${link.length.toLocaleString('en')}\\scharacters`));
  assert.match(facts, /your name.*1\snote with its place, 1\sdecision and why things are intended\. Not the model/);
  const { page, shot } = await site.openPage(t, { path: link.slice(site.address.length) });
  await idle(page);
  assert.match(await page.locator('#awaited').innerText(), /From Zoë  ?Meyer\. This link is about two\.obj \(.*SHA-256 [0-9a-f]{12}.*: drop that file to see it[\s\S]*1\snote, 1\sdecision/);
  assert.deepEqual(await page.locator('#awaited-notes li').allInnerTexts(), ['look here', 'Intended (stretched): wanted'], 'all that was written can be read before the file is there');
  assert.match(await page.locator('#dropzone-title').innerText(), /Drop two\.obj anywhere/);
  await shot('review-awaited');
  const url = page.url();
  await give(page, 'renamed.obj', TWO);
  const { notes, decisions, awaited, camera } = await state(page);
  assert.equal(awaited, null);
  assert.deepEqual([notes.map(({ text }) => text), decisions], [['look here'], [{ finding: decisions[0].finding, kind: 'intended', reason: 'wanted' }]]);
  assert.ok(notes[0].place, 'the note has its place');
  assert.equal((await page.evaluate(() => window.gridproof.report())).intended, 1);
  assert.equal(await page.locator('#notes-list [aria-current=true]').count(), 1, 'the selected note is selected');
  const centre = [2, 2, 0];
  const off = camera.eye.map((at, axis) => at + centre[axis] - eye.target[axis]);
  const own = eye.eye.map((at, axis) => at - eye.target[axis]);
  const cosine = off.reduce((sum, at, axis) => sum + at * own[axis], 0) / Math.hypot(...off) / Math.hypot(...own);
  const nearer = Math.hypot(...off) / Math.hypot(...own);
  assert.ok(cosine > 0.999 && nearer > 0.95 && nearer < 1.05, `${off} for ${own}`);
  assert.match(await page.locator('#notice-text').innerText(), /From Zoë  ?Meyer\./);
  const { sender, schema, ...sent } = reviewIn(url);
  assert.deepEqual([sender, schema], ['Zoë  Meyer', 'gridproof-review/3']);
  assert.deepEqual({ ...reviewIn(page.url()), file: null }, { ...sent, schema: 'gridproof-review/2', file: null }, 'the address has the same state, without the sender');
});

test('a view link on another file is reported, and applied there only on request', async (t) => {
  const { link } = await shareTwo(t);
  const { page, shot } = await site.openPage(t, { path: link.slice(site.address.length) });
  await idle(page);
  // One more corner before all others: every face has another number and the same place.
  const moved = `o first\nv 9 0 0\nv 9.5 0 0\nv 9.5 0.5 0\nvt 0.8 0.8\nvt 0.85 0.8\nvt 0.85 0.85\nf 1/1 2/2 3/3\n${TWO.replace(/^f .*$/gm, (face) => face.replace(/\d+/g, (number) => String(Number(number) + 3)))}`;
  await give(page, 'two.obj', moved);
  assert.match(await page.locator('#other').innerText(), /another file[\s\S]*The review is about two\.obj[\s\S]*On screen is two\.obj[\s\S]*The name is the same, the content is not/);
  assert.deepEqual((await state(page)).notes, []);
  assert.ok(page.url().includes(link.split('#')[1]), 'the link stays until the user decides');
  await shot('review-other');
  await page.locator('#other-show').click();
  await idle(page);
  const { notes } = await state(page);
  assert.ok(notes[0]?.place, 'the note found its place');
  const original = reviewIn(link).notes[0];
  assert.equal(notes[0].face, original.face + 1, 'at the face that is there now');
  for (const axis of [0, 1, 2]) assert.ok(Math.abs(notes[0].point[axis] - original.point[axis]) < 1e-6);
  assert.ok(await page.locator('#other').isHidden());
});

test('a link without notes shows none', async (t) => {
  const { link, facts } = await shareTwo(t, { withNotes: false });
  const review = reviewIn(link);
  assert.deepEqual([review.notes, review.decisions, review.note], [undefined, undefined, undefined]);
  assert.doesNotMatch(facts, /note|decision/);
});

test('a way to share for each of four recipients, the rest under “More ways”; the name is stored until forgotten', async (t) => {
  const { page, shot } = await site.openPage(t, { width: 390, height: 844, dark: true });
  await idle(page);
  await give(page, 'two.obj', TWO);
  await page.keyboard.press('l');
  await idle(page);
  const kinds = (list) => page.locator(`${list} > li`).evaluateAll((all) => all.map((item) => item.dataset.kind));
  const all = ['view', 'page', 'carried', 'placed', 'frame', 'file', 'report'];
  assert.deepEqual([await kinds('#share-kinds'), await kinds('#share-others')], [[], all]);
  assert.equal(await page.locator('#share-more').getAttribute('open'), null);
  for (const [whom, fitting] of Object.entries({ student: ['page', 'carried'], owner: ['view', 'file'], course: ['placed', 'frame'], print: ['report'] })) {
    await page.locator(`[name=share-whom][value=${whom}]`).check();
    await idle(page);
    assert.deepEqual([await kinds('#share-kinds'), await kinds('#share-others')], [fitting, all.filter((kind) => !fitting.includes(kind))], whom);
    await shot(`share-${whom}-narrow-dark`);
  }
  await page.getByRole('button', { name: 'Make the report' }).click();
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save report' }).click()]);
  assert.equal(download.suggestedFilename(), 'two report.html');
  assert.match(readFileSync(await download.path(), 'utf8'), /<title>.*two\.obj/);
  await page.locator('#share-sender').fill('Zoë');
  await idle(page);
  await page.reload();
  await idle(page);
  await give(page, 'two.obj', TWO);
  await page.keyboard.press('l');
  assert.equal(await page.locator('#share-sender').inputValue(), 'Zoë');
  await page.keyboard.press('Escape');
  await page.keyboard.press('?');
  assert.match(await page.locator('#memory-facts').innerText(), /your name/);
  await page.locator('#memory [data-forget]').click();
  await page.waitForFunction(() => localStorage.length === 0);
  await page.keyboard.press('Escape');
  await page.locator('#share-open').click();
  assert.equal(await page.locator('#share-sender').inputValue(), '', 'forgotten');
});

test('copying gives the link, or a text with it; if the clipboard is refused it is selected', async (t) => {
  const { page, link } = await shareTwo(t);
  await page.context().grantPermissions(['clipboard-read', 'clipboard-write']);
  await page.locator('[data-kind=view] .button-strong').click();
  await page.waitForFunction(() => document.querySelector('#share-outcome').textContent !== '');
  assert.match(await page.locator('#share-outcome').innerText(), /Link to this view copied/);
  assert.equal(await page.evaluate(() => navigator.clipboard.readText()), link);
  await page.locator('[data-kind=view]').getByRole('button', { name: 'Copy as text' }).click();
  await page.waitForFunction(() => /Text with the link to this view copied/.test(document.querySelector('#share-outcome').textContent));
  const text = await page.evaluate(() => navigator.clipboard.readText());
  assert.match(text, /^\u2068?two\.obj\u2069?: (not ready|have a look)\. [^]*\nNotes:\n1\. look here\n\nZoë  Meyer\n\n/);
  assert.ok(text.endsWith(`\n${link}`), 'the link comes last');
  const report = await page.evaluate(() => window.gridproof.report());
  const must = report.findings.filter(({ severity, decision }) => severity === 'must-fix' && decision?.kind !== 'intended');
  const told = must.slice(0, 5).map(({ title, number, limit }, at) => `${at + 1}. ${title}: ${number.text}${limit ? ` (limit ${limit.text})` : ''}`);
  assert.equal(must.length > 0, text.includes('Must fix:'));
  if (told.length > 0) assert.ok(text.includes(`Must fix:\n${told.join('\n')}`), text);
  await page.evaluate(() => {
    navigator.clipboard.writeText = () => Promise.reject(new Error('refused'));
    document.execCommand = () => false;
  });
  await page.locator('[data-kind=view] .button-strong').click();
  await page.waitForFunction(() => /selected/.test(document.querySelector('#share-outcome').textContent));
  assert.equal(await page.evaluate(() => String(document.getSelection()) || document.activeElement.value.slice(document.activeElement.selectionStart, document.activeElement.selectionEnd)), link);
});

test('a saved review opens again when dropped with its model, and the command reads it', async (t) => {
  const { page } = await shareTwo(t);
  // A name that was just typed is taken when the field is left: by pressing the button, which must stay until it is released.
  await page.locator('#share-sender').fill('Zoë  Meyer');
  await page.getByRole('button', { name: 'Save review' }).hover();
  await page.mouse.down();
  await page.waitForTimeout(300);
  const [download] = await Promise.all([page.waitForEvent('download'), page.mouse.up()]);
  assert.equal(download.suggestedFilename(), 'two review.json');
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-review-'));
  t.after(() => rmSync(folder, { recursive: true }));
  const file = join(folder, 'two review.json');
  await download.saveAs(file);
  const text = readFileSync(file, 'utf8');
  assert.deepEqual([JSON.parse(text).schema, JSON.parse(text).sender], ['gridproof-review/3', 'Zoë  Meyer'], 'with its sender');

  const other = await site.openPage(t);
  await idle(other.page);
  await other.page.setInputFiles('#share-file', { name: 'two review.json', mimeType: 'application/json', buffer: Buffer.from(text) });
  await other.page.locator('#awaited').waitFor({ state: 'visible' });
  await give(other.page, 'two.obj', TWO);
  const report = await other.page.evaluate(() => window.gridproof.report());
  assert.deepEqual([report.intended, report.notes.length], [1, 1]);

  writeFileSync(join(folder, 'two.obj'), TWO);
  const command = process.env.GRIDPROOF_COMMAND;
  const [program, first] = command ? [command, []] : ['cargo', ['run', '--quiet', '--']];
  const ran = spawnSync(program, [...first, 'check', '--json', '--review', file, join(folder, 'two.obj')], { cwd: ROOT, encoding: 'utf8' });
  const told = JSON.parse(ran.stdout);
  assert.deepEqual([told.verdict, told.intended, told.notes], [report.verdict, report.intended, report.notes]);
  assert.deepEqual(told.findings.map(({ decision }) => decision), report.findings.map(({ decision }) => decision));
});

test('damaged, malicious and unknown links are refused with a message, and the page works', async (t) => {
  const sha256 = 'ab'.repeat(32);
  const file = { name: 'x.obj', bytes: 1, sha256 };
  const review = { schema: 'gridproof-review/2', file };
  const good = packed({ ...review, lens: 'stretch', notes: [{ text: 'x', face: 0, triangle: 0, barycentric: [1, 0, 0], point: [0, 0, 0] }] });
  const cases = [
    ['', /damaged or was cut short/],
    [good.slice(0, good.length >> 1), /damaged or was cut short/],
    [`${good}!`, /damaged or was cut short/],
    [`${good}AAAA`, /damaged or was cut short/],
    [packed('{"schema":'), /no JSON/],
    [packed({ ...review, schema: 'gridproof-review/9' }), /schema: is version 9.*Reload the page/],
    [packed({ ...review, extra: 1 }), /extra: is no key of a review/],
    [packed({ ...review, notes: [{ text: 'x' }] }), /notes\[0\]\.face: is missing/],
    [packed(`{"schema":"gridproof-review/2","file":{"name":"x","bytes":1,"sha256":"${sha256}"},"__proto__":{"a":1}}`), /__proto__: is no key/],
    [packed(' '.repeat(30_000_000)), /unfolds to more than 4 MB/],
    [packed('['.repeat(1_000_000)), /no JSON|no review|is an object/],
  ];
  const { page } = await site.openPage(t);
  await idle(page);
  for (const [letters, reason] of cases) {
    // Like pasting a link into the address bar: same page, another fragment.
    await page.evaluate((letters) => (location.hash = `r=${letters}`), letters);
    await page.waitForFunction(() => window.gridproof.state().notice !== '');
    const { notice } = await state(page);
    assert.match(notice, reason);
    assert.ok(notice.length < 400, notice);
    await page.locator('#notice-close').click();
    await page.evaluate(() => history.replaceState(history.state, '', location.pathname));
  }
  await page.goto('about:blank');
  await page.goto(`${site.address}#r=${good.slice(0, 40)}`);
  await page.waitForFunction(() => window.gridproof?.state().notice !== '');
  assert.match((await state(page)).notice, /The review in the link could not be taken\..*The page works without it/);
  await give(page, 'two.obj', TWO);
  assert.ok(await page.evaluate(() => window.gridproof.report()));
  // A brief that cannot be used is refused as a whole.
  const own = (await page.evaluate(() => window.gridproof.report())).file;
  await page.evaluate((letters) => (location.hash = `r=${letters}`), packed({ ...review, file: own, brief: { map: { width_px: -5 } } }));
  await page.waitForFunction(() => /could not be taken\. brief: .*-5/.test(window.gridproof.state().notice));
  assert.deepEqual((await state(page)).brief, {});
});

test('a review with its own brief is judged by it, and one of the demo opens the demo', async (t) => {
  const first = await openDraft(t);
  const { file } = await first.page.evaluate(() => window.gridproof.report());
  const review = { schema: 'gridproof-review/2', file, lens: 'density', brief: { map: { width_px: 4096, height_px: 4096 } }, decisions: [{ finding: 'flipped-0', kind: 'to-fix' }] };
  const { page } = await site.openPage(t, { path: `?demo=draft#r=${packed(review)}` });
  await page.waitForFunction(() => window.gridproof?.report());
  await idle(page);
  const now = await state(page);
  assert.deepEqual([now.awaited, now.lens, now.brief, now.decisions], [null, 'density', review.brief, review.decisions]);
  assert.deepEqual({ ...reviewIn(page.url()) }, review);
});

for (const [name, options] of Object.entries({
  'narrow-light': { width: 390, height: 844, touch: true },
  'narrow-dark': { width: 320, height: 640, dark: true, touch: true },
  'wide-dark': { dark: true },
})) {
  test(`notes, decisions and sharing fit: ${name}`, async (t) => {
    const { page, shot } = await openDraft(t, options);
    const { file, findings } = await page.evaluate(() => window.gridproof.report());
    const notes = findings.filter(({ camera, region_uv }) => camera && region_uv).slice(0, 3).map(({ camera, title }, index) => ({
      text: index === 0 ? `${title}: here the strap is pulled along the drum. ${'Long '.repeat(30)}` : title,
      face: 40 * index, triangle: 0, barycentric: [0.3, 0.3, 0.4], point: camera.target, camera: { ...camera, up: 'y' },
    }));
    const decisions = [{ finding: findings[0].id, kind: 'intended', reason: 'The keeper’s side is never seen.' }, { finding: findings[1].id, kind: 'to-fix' }];
    await page.evaluate((letters) => (location.hash = `r=${letters}`), packed({ schema: 'gridproof-review/2', file, finding: findings[0].id, notes, decisions }));
    await page.waitForFunction(() => window.gridproof.state().notes.length > 0);
    await idle(page);
    await shot(`review-${name}-stage`);
    const fits = () => page.evaluate(() => [document.documentElement.scrollWidth <= innerWidth, ...[...document.querySelectorAll('.bar, #findings-body, dialog[open]')].map((element) => element.scrollWidth <= element.clientWidth)]);
    assert.ok((await fits()).every(Boolean), String(await fits()));
    if (await page.locator('#drawer-handle').isVisible()) {
      await page.locator('#drawer-handle').press('ArrowUp');
      await page.locator('#drawer-handle').press('ArrowUp');
    }
    await page.locator('#notes-jump').click();
    await idle(page);
    await shot(`review-${name}-list`);
    for (const box of await page.locator('.pin:visible, .decide .chip:visible').evaluateAll((all) => all.map((element) => element.getBoundingClientRect().toJSON()))) {
      assert.ok(box.width >= 24 && box.height >= 24, JSON.stringify(box));
    }
    if (await page.locator('#drawer-handle').isVisible()) for (const _ of [0, 1]) await page.locator('#drawer-handle').press('ArrowDown');
    await page.locator('#share-open').click();
    await page.locator('[name=share-whom][value=owner]').check();
    await page.locator('[data-kind=view] .share-link').waitFor();
    await idle(page);
    assert.ok((await fits()).every(Boolean), String(await fits()));
    await shot(`review-${name}-share`);
  });
}
