// Notes are not lost: failing storage, two tabs on one file, unfinished notes, and workers that die.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { failureFrom } from '../../www/core/failure.worker.js';
import { gridproof } from './harness.mjs';

const site = gridproof();
const QUAD = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0.1 0.1\nvt 0.3 0.1\nvt 0.3 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n';
const idle = (page) => page.evaluate(() => window.gridproof.idle());
const textsOf = (page) => page.evaluate(() => window.gridproof.state().notes.map(({ text }) => text));
const decidedOf = (page) => page.evaluate(() => window.gridproof.state().decisions.map(({ kind }) => kind));

async function give(page, name = 'quad.obj', text = QUAD) {
  await page.setInputFiles('#file-input', { name, mimeType: 'model/obj', buffer: Buffer.from(text) });
  await page.waitForFunction((name) => window.gridproof.state().model?.name === name && window.gridproof.report(), name);
  await idle(page);
}

async function visit(context, file = true) {
  const page = await context.newPage();
  await page.goto(site.address);
  await idle(page);
  if (file) await give(page);
  return page;
}

/** Begins a note somewhere on the model. */
async function begin(page) {
  const box = await page.locator('#surface-large').boundingBox();
  for (let step = 2; step < 8 && !(await page.locator('#note').isVisible()); step += 1) {
    await page.mouse.dblclick(box.x + (box.width * step) / 10, box.y + box.height / 2);
    await idle(page);
  }
}

async function write(page, text) {
  await begin(page);
  await page.locator('#note-text').fill(text);
  await page.keyboard.press('Control+Enter');
  await page.locator('#note').waitFor({ state: 'hidden' });
}

async function decide(page) {
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=to-fix]').click();
}

/** Makes the database fail as `window.fault` says; runs in the page before anything else. */
function faulty() {
  window.fault = '';
  const { open } = IDBFactory.prototype;
  IDBFactory.prototype.open = function (...args) {
    if (window.fault === 'refuses') throw new DOMException('refused', 'SecurityError');
    if (window.fault === 'says nothing') return new EventTarget();
    if (window.fault !== 'errs') return open.apply(this, args);
    const request = new EventTarget();
    request.error = new DOMException('broken', 'UnknownError');
    setTimeout(() => request.dispatchEvent(new Event('error')));
    return request;
  };
  // The request succeeds, but the transaction fails.
  const { put } = IDBObjectStore.prototype;
  IDBObjectStore.prototype.put = function (...args) {
    const request = put.apply(this, args);
    if (window.fault === 'aborts') request.addEventListener('success', () => this.transaction.abort());
    return request;
  };
}

for (const fault of ['refuses', 'errs', 'says nothing', 'aborts']) {
  test(`a database that ${fault}: reported at once, the review can be saved as a file, later success is reported`, async (t) => {
    const { page, context, shot } = await site.openPage(t, { path: null, reducedMotion: true });
    await context.addInitScript(faulty);
    await page.goto(site.address);
    await idle(page);
    await give(page);
    await page.evaluate((fault) => (window.fault = fault), fault);
    await write(page, 'too narrow');
    const notice = page.locator('#unkept');
    await notice.waitFor({ state: 'visible' });
    assert.match(await notice.innerText(), /could not keep your notes and decisions on quad\.obj: its storage (refused them|does not answer)\. They last only until this tab is closed/);
    assert.equal(await notice.getAttribute('role'), 'status');
    await page.locator('#help-open').click();
    assert.doesNotMatch(await page.locator('#help').innerText(), /notes and decisions on/, 'nothing counts as stored');
    await page.keyboard.press('Escape');
    if (fault === 'aborts') {
      await shot('unkept-wide-light');
      await page.setViewportSize({ width: 390, height: 844 });
      await idle(page);
      await shot('unkept-narrow-light');
      await page.setViewportSize({ width: 1280, height: 800 });
    }
    const [download] = await Promise.all([page.waitForEvent('download'), page.locator('#unkept-save').click()]);
    const saved = JSON.parse(readFileSync(await download.path(), 'utf8'));
    assert.deepEqual([saved.schema, saved.notes.map(({ text }) => text)], ['gridproof-review/2', ['too narrow']]);
    assert.ok(await notice.isHidden());

    // Later notes are not in that file.
    await decide(page);
    await notice.waitFor({ state: 'visible' });
    await page.evaluate(() => (window.fault = ''));
    await page.locator('[data-act=to-fix]').click();
    await notice.waitFor({ state: 'hidden' });
    await idle(page);
    const next = await visit(context);
    assert.deepEqual(await textsOf(next), ['too narrow']);
  });
}

test('two tabs on one file: both get all notes and decisions, and deleted ones stay deleted', async (t) => {
  const { page: one, context } = await site.openPage(t, { reducedMotion: true });
  await idle(one);
  await give(one);
  await write(one, 'first');
  await idle(one);
  const other = await visit(context);
  assert.deepEqual(await textsOf(other), ['first']);
  const both = async (...texts) => {
    for (const page of [one, other]) {
      await page.waitForFunction((texts) => JSON.stringify(window.gridproof.state().notes.map(({ text }) => text).sort()) === JSON.stringify(texts), texts.sort()).catch(() => {});
      await idle(page);
      assert.deepEqual((await textsOf(page)).sort(), texts);
    }
  };
  await one.bringToFront();
  await write(one, 'of one');
  await both('first', 'of one');
  await other.bringToFront();
  await write(other, 'of other');
  await decide(other);
  await both('first', 'of one', 'of other');
  assert.deepEqual(await decidedOf(one), ['to-fix']);
  assert.equal(await one.locator('#pins-model .pin').count(), 3, 'each has its pin');
  assert.match(await one.locator('#notes-list').innerText(), /of other/);

  // Each tab changes one note and deletes another.
  await one.bringToFront();
  await one.locator('#notes-list .note-card', { hasText: 'first' }).click();
  await one.getByRole('button', { name: 'Edit …' }).click();
  await one.locator('#note-text').fill('first, changed');
  await other.bringToFront();
  await other.locator('#notes-list .note-card', { hasText: 'of one' }).click();
  await other.getByRole('button', { name: 'Delete' }).click();
  await idle(other);
  await one.bringToFront();
  await one.locator('#note-text').press('Control+Enter');
  await both('first, changed', 'of other');
  const next = await visit(context);
  assert.deepEqual((await textsOf(next)).sort(), ['first, changed', 'of other']);
  assert.deepEqual(await decidedOf(next), ['to-fix']);
  await next.close();

  // Forgotten in one tab: what is on screen stays, and nothing is stored.
  await one.locator('#help-open').click();
  await one.locator('#memory [data-forget]').click();
  await one.locator('#memory').waitFor({ state: 'hidden' });
  await idle(other);
  const last = await visit(context);
  assert.deepEqual(await textsOf(last), []);
  assert.deepEqual((await textsOf(other)).sort(), ['first, changed', 'of other']);
});

test('two tabs without a broadcast channel keep each other\'s notes and the newer of two changes', async (t) => {
  const { page: one, context } = await site.openPage(t, { path: null, reducedMotion: true });
  await context.addInitScript(() => delete window.BroadcastChannel);
  await one.goto(site.address);
  await idle(one);
  await give(one);
  await write(one, 'first');
  await write(one, 'second');
  await idle(one);
  const other = await visit(context);
  for (const [page, text] of [[one, 'changed before'], [other, 'changed after']]) {
    await page.bringToFront();
    await page.locator('#notes-list .note-card', { hasText: 'first' }).click();
    await page.getByRole('button', { name: 'Edit …' }).click();
    await page.locator('#note-text').fill(text);
    await page.keyboard.press('Control+Enter');
    await idle(page);
  }
  await other.locator('#notes-list .note-card', { hasText: 'second' }).click();
  await other.getByRole('button', { name: 'Delete' }).click();
  await idle(other);
  // One still shows both as they were there, and writes.
  await one.bringToFront();
  await write(one, 'third');
  await idle(one);
  assert.deepEqual((await textsOf(one)).sort(), ['changed after', 'third']);
  const next = await visit(context);
  assert.deepEqual((await textsOf(next)).sort(), ['changed after', 'third']);
});

test('an unfinished note and its pin survive a reload and a crash', async (t) => {
  const { page, context, shot } = await site.openPage(t, { reducedMotion: true, allow: [/crashed/] });
  await idle(page);
  await give(page);
  await begin(page);
  const spot = await page.evaluate(() => window.gridproof.state().draft.place);
  await page.locator('#note-text').pressSequentially('Zu schmal,\nund');
  const other = await visit(context);
  assert.ok(await other.locator('#draft-left').isHidden(), 'it is being typed elsewhere');
  await other.close();
  // No waiting: the page is left in the middle of a word.
  await page.bringToFront();
  await page.locator('#note-text').press('x');
  await page.reload();
  await idle(page);
  await give(page, 'other.obj', QUAD.replaceAll('10', '12'));
  assert.ok(await page.locator('#draft-left').isHidden(), 'it is about another file');
  await give(page, 'again.obj');
  const notice = page.locator('#draft-left');
  await notice.waitFor({ state: 'visible' });
  assert.match(await notice.innerText(), /A note on .* was being written when the page was left: “Zu schmal, undx”/);
  await shot('draft-left-wide-light');
  await page.setViewportSize({ width: 390, height: 844 });
  await idle(page);
  await shot('draft-left-narrow-light');
  await page.setViewportSize({ width: 1280, height: 800 });
  await page.locator('#draft-left-take').click();
  assert.equal(await page.locator('#note-text').inputValue(), 'Zu schmal,\nundx');
  assert.equal(await page.locator('#pins-model .pin').count(), 1);
  assert.ok(await notice.isHidden());
  const again = await page.evaluate(() => window.gridproof.state().draft.place);
  for (const axis of [0, 1, 2]) assert.ok(Math.abs(again.point[axis] - spot.point[axis]) < 1e-5, JSON.stringify([again, spot]));
  assert.deepEqual(again.uv, spot.uv);
  await page.locator('#note-text').press('Control+Enter');
  await idle(page);
  assert.deepEqual(await textsOf(page), ['Zu schmal,\nundx']);

  // Then it crashes in the middle of a change.
  await page.getByRole('button', { name: 'Edit …' }).click();
  await page.locator('#note-text').fill('wider');
  await page.waitForFunction(() => Object.keys(localStorage).some((key) => key.startsWith('gridproof.draft.')));
  await page.waitForTimeout(200);
  const session = await context.newCDPSession(page);
  const crashed = page.waitForEvent('crash');
  // The call never returns: its page is gone.
  void session.send('Page.crash').catch(() => {});
  await crashed;
  const next = await visit(context);
  assert.deepEqual(await textsOf(next), ['Zu schmal,\nundx']);
  await next.locator('#draft-left-take').click();
  assert.match(await next.locator('#note-title').innerText(), /^Note 1 on/);
  await next.locator('#note-text').press('Control+Enter');
  await idle(next);
  assert.deepEqual(await textsOf(next), ['wider']);
  await next.close();

  // Stored notes are not offered again, nor are discarded ones.
  const last = await visit(context);
  assert.ok(await last.locator('#draft-left').isHidden());
  await begin(last);
  await last.locator('#note-text').fill('never mind');
  await last.reload();
  await give(last);
  await last.locator('#draft-left-leave').click();
  await last.reload();
  await give(last);
  await idle(last);
  assert.ok(await last.locator('#draft-left').isHidden());
  assert.deepEqual(await textsOf(last), ['wider']);
});

/** Ends the page's workers of this script silently, as the system does when it needs their memory. */
async function kill(page, script) {
  const workers = page.workers().filter((worker) => worker.url().endsWith(`/${script}`));
  assert.ok(workers.length > 0, script);
  // The call never returns: its page is gone.
  for (const worker of workers) void worker.evaluate(() => self.close()).catch(() => {});
}

test('an unfinished reason survives a reload, for its own file only', async (t) => {
  const { page, shot } = await site.openPage(t, { reducedMotion: true });
  await idle(page);
  await give(page);
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=intended]').click();
  await page.locator('#decide-reason').pressSequentially('a narrow str');
  // The same name of a finding in another file.
  await give(page, 'other.obj', `# other\n${QUAD}`);
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=intended]').waitFor();
  await page.reload();
  await idle(page);
  await give(page);
  const left = page.locator('#draft-left');
  await left.waitFor({ state: 'visible' });
  assert.match(await left.innerText(), /Why “.+” is intended was being written when the page was left: “.?a narrow str/);
  await shot('reason-left');
  await page.locator('#draft-left-take').click();
  assert.equal(await page.locator('#decide-reason').inputValue(), 'a narrow str');
  await page.locator('#decide-reason').pressSequentially('ip');
  await page.keyboard.press('Control+Enter');
  await idle(page);
  assert.deepEqual(await page.evaluate(() => window.gridproof.state().decisions.map(({ reason }) => reason)), ['a narrow strip']);
  assert.deepEqual(await page.evaluate(() => Object.keys(localStorage).filter((key) => key.startsWith('gridproof.reason.'))), []);
});

test('more notes than a review can hold: the excess is reported, on merging and on opening a link', async (t) => {
  const { page } = await site.openPage(t, { reducedMotion: true });
  await idle(page);
  await give(page);
  const { file } = await page.evaluate(() => window.gridproof.report());
  const review = (from, count) => JSON.stringify({
    schema: 'gridproof-review/2', file,
    notes: Array.from({ length: count }, (_, at) => ({ text: `note ${from + at}`, face: 0, triangle: 0, barycentric: [0.2, 0.3, 0.5], point: [1, 1, 0] })),
  });
  const take = async (text) => {
    await page.setInputFiles('#share-file', { name: 'review.json', mimeType: 'application/json', buffer: Buffer.from(text) });
    await idle(page);
  };
  await take(review(0, 150));
  await take(review(1000, 60));
  assert.equal((await textsOf(page)).length, 200);
  assert.match(await page.locator('#notice-text').innerText(), /10\snotes of yours found no room and are left out: a review holds 200 notes/);
});

test('a worker that dies silently is detected, both busy and idle', async (t) => {
  const { page, shot } = await site.openPage(t, { path: null, reducedMotion: true });
  await page.addInitScript(() => {
    const { postMessage } = Worker.prototype;
    Worker.prototype.postMessage = function (message, ...rest) {
      if (!(window.deaf && message?.type === window.deaf)) postMessage.call(this, message, ...rest);
    };
  });
  await page.goto(site.address);
  await idle(page);
  await page.evaluate(() => (window.deaf = 'open'));
  await page.setInputFiles('#file-input', { name: 'quad.obj', mimeType: '', buffer: Buffer.from(QUAD) });
  await page.waitForFunction(() => window.gridproof.state().job !== null);
  await kill(page, 'model.worker.js');
  const problem = page.locator('#problem');
  await problem.waitFor({ state: 'visible' });
  assert.match(await problem.innerText(), /Stopped by a fault of ours[\s\S]*quad\.obj[\s\S]*The worker ended by itself/);
  assert.equal(await page.evaluate(() => window.gridproof.state().job), null);
  await shot('worker-died-wide-light');

  // The model has a new worker, and so has the next one.
  await page.evaluate(() => (window.deaf = ''));
  await give(page);
  await write(page, 'still here');
  await idle(page);
  // It is reopened automatically, once; selection, view and notes stay.
  await page.locator('#cards [data-finding]').first().click();
  await idle(page);
  await page.locator('#surface-large').focus();
  await page.keyboard.press('ArrowLeft');
  await page.waitForFunction(() => window.gridproof.state().finding && window.gridproof.state().camera);
  await idle(page);
  const shown = () => page.evaluate(() => {
    const { finding, lens, camera } = window.gridproof.state();
    return { finding, lens, camera: JSON.parse(JSON.stringify(camera, (_, value) => (typeof value === 'number' ? Number(value.toPrecision(3)) : value))) };
  });
  const before = await shown();
  const ids = await page.evaluate(() => window.gridproof.state().notes.map(({ id }) => id));
  await page.waitForTimeout(700);
  await kill(page, 'model.worker.js');
  await page.waitForFunction(() => /opened again/.test(window.gridproof.state().notice));
  await page.waitForFunction(() => window.gridproof.state().job === null && window.gridproof.report());
  await idle(page);
  assert.ok(await problem.isHidden());
  assert.deepEqual(await shown(), before);
  assert.deepEqual(await page.evaluate(() => window.gridproof.state().notes.map(({ id }) => id)), ids);
  assert.deepEqual(await textsOf(page), ['still here']);
  await shot('worker-opened-again');

  // A second death is reported, and a press reopens the model.
  await page.waitForTimeout(700);
  await kill(page, 'model.worker.js');
  await problem.waitFor({ state: 'visible' });
  assert.match(await problem.innerText(), /quad\.obj is still here[\s\S]*Open it again/);
  assert.match(await problem.innerText(), /ended a second time/);
  await shot('worker-died-twice');
  await page.locator('#problem-again').click();
  await page.waitForFunction(() => window.gridproof.state().job === null && window.gridproof.report());
  await idle(page);
  assert.ok(await problem.isHidden());
  assert.deepEqual(await textsOf(page), ['still here']);
  await give(page, 'again.obj');
  assert.ok(await problem.isHidden());
  assert.deepEqual(await textsOf(page), ['still here']);

  // A class continues with the other workers.
  await page.evaluate(() => (window.deaf = 'order'));
  await page.setInputFiles('#file-input', ['a', 'b', 'c'].map((name) => ({ name: `${name}.obj`, mimeType: '', buffer: Buffer.from(QUAD) })));
  await page.waitForFunction(() => /now a\.obj/.test(document.getElementById('class-job-text').textContent));
  await page.evaluate(() => (window.deaf = ''));
  await kill(page, 'batch.worker.js');
  await idle(page);
  const verdicts = await page.locator('#class-rows .class-of-verdict').allInnerTexts();
  assert.equal(verdicts.length, 3);
  assert.ok(verdicts.includes('Unreadable') && verdicts.includes('Not ready'), verdicts.join());
});

test('a worker busy for long is not taken for dead', async (t) => {
  const { page } = await site.openPage(t, { reducedMotion: true });
  await idle(page);
  await give(page);
  const [worker] = page.workers().filter((one) => one.url().endsWith('/model.worker.js'));
  await worker.evaluate(() => {
    const end = performance.now() + 8000;
    while (performance.now() < end);
  });
  assert.ok(await page.locator('#problem').isHidden());
  await write(page, 'answered');
  await idle(page);
  assert.deepEqual((await page.evaluate(() => window.gridproof.report())).notes.map(({ text }) => text), ['answered']);
});

test('out of memory is distinguished from a program error', () => {
  const trap = new WebAssembly.RuntimeError('unreachable');
  assert.equal(failureFrom(trap, new WebAssembly.Memory({ initial: 10, maximum: 20 })).code, 'memory', 'the allocation is refused');
  assert.equal(failureFrom(trap, new WebAssembly.Memory({ initial: 10 })).code, 'crashed', 'more can be allocated');
  assert.equal(failureFrom(new RangeError('Array buffer allocation failed'), null).code, 'memory');
  assert.equal(failureFrom(new Error('out of memory'), null).code, 'memory');
  assert.equal(failureFrom(new TypeError('x is undefined'), new WebAssembly.Memory({ initial: 1, maximum: 1 })).code, 'crashed', 'only a trap may mean out of memory');
});
