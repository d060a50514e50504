// A model whose UVs are edited on the page: what is sent and what is kept, undo, stale answers, and workers that die.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { gridproof, withoutWebGL2 } from './harness.mjs';

const site = gridproof();
const idle = (page) => page.evaluate(() => window.gridproof.idle());

/** Panels of a wall, each with its own place on the sheet. */
function panels(count, side = 0.1) {
  const lines = [];
  const row = Math.ceil(Math.sqrt(count));
  for (let at = 0; at < count; at += 1) {
    const [u, v] = [0.02 + 0.12 * (at % 8), 0.02 + 0.12 * Math.floor(at / 8)];
    lines.push(`o panel ${at + 1}`, ...[[0, 0], [1, 0], [1, 1], [0, 1]].flatMap(([x, y]) => [`v ${1.05 * (at % row) + x} ${1.05 * Math.floor(at / row) + y} 0`, `vt ${(u + side * x).toFixed(6)} ${(v + side * y).toFixed(6)}`]));
    lines.push(`f ${[1, 2, 3, 4].map((corner) => `${4 * at + corner}/${4 * at + corner}`).join(' ')}`);
  }
  return `${lines.join('\n')}\n`;
}

/** Corners and uvs of a panel at a place of the sheet. */
const panelAt = (panel, u, v, side = 0.1) => ({
  corners: [0, 1, 2, 3].map((corner) => 4 * panel + corner),
  uvs: [u, v, u + side, v, u + side, v + side, u, v + side],
});

/** Applies a step; returns why it was refused, or an empty text. */
const take = (page, what, edit) => page.evaluate(([what, edit]) => window.gridproof.step(
  edit ? { do: what, edit: { corners: Uint32Array.from(edit.corners), uvs: Float64Array.from(edit.uvs) } } : { do: what },
), [what, edit]);

async function step(page, what, edit) {
  assert.equal(await take(page, what, edit), '');
  await idle(page);
}

async function give(page, name, text) {
  await page.setInputFiles('#file-input', { name, mimeType: 'model/obj', buffer: Buffer.from(text) });
  await page.waitForFunction((name) => window.gridproof.state().model?.name === name && window.gridproof.report(), name);
  await idle(page);
}

const report = (page) => page.evaluate(() => JSON.stringify(window.gridproof.report()));
const kinds = (page) => page.evaluate(() => window.gridproof.report().findings.map(({ kind }) => kind));
const revision = (page) => page.evaluate(() => window.gridproof.state().model.revision);

/** Records what the model's worker sends, and holds back what `window.held` names until `release`. Runs in the page. */
function listening() {
  window.sent = [];
  window.held = '';
  const waiting = [];
  window.release = () => {
    window.held = '';
    for (const hand of waiting.splice(0)) hand();
  };
  window.waiting = () => waiting.length;
  const { addEventListener } = Worker.prototype;
  Worker.prototype.addEventListener = function (type, listener, ...rest) {
    if (type !== 'message') return addEventListener.call(this, type, listener, ...rest);
    return addEventListener.call(this, type, (event) => {
      const { data } = event;
      if ('modelId' in data) {
        const arrays = (value) => (ArrayBuffer.isView(value) ? value.byteLength : value && typeof value === 'object' ? Object.values(value).reduce((sum, part) => sum + arrays(part), 0) : 0);
        window.sent.push({ type: data.type, modelId: data.modelId, revision: data.revision, bytes: arrays(data), keys: Object.keys(data.uvs ?? {}) });
      }
      if (data.type === window.held) waiting.push(() => listener.call(this, event));
      else listener.call(this, event);
    }, ...rest);
  };
}

/** Screenshot of the canvas once it is idle. */
async function picture(page) {
  await page.mouse.move(2, 2);
  await idle(page);
  const png = await page.locator('#canvas').screenshot({ animations: 'disabled' });
  return png.toString('base64');
}

/** Ends the page's workers of this script silently. */
const kill = (page) => Promise.all(page.workers().filter((worker) => worker.url().endsWith('/model.worker.js')).map((worker) => void worker.evaluate(() => self.close()).catch(() => {})));

test('a shell moved over another: overlaps are found, the view is kept, no positions are sent, undo is bit-identical', async (t) => {
  const { page, shot } = await site.openPage(t, { path: null, reducedMotion: true });
  await page.addInitScript(listening);
  await page.goto(site.address);
  await idle(page);
  await give(page, 'panels.obj', panels(16));
  assert.ok(!(await kinds(page)).includes('partial-overlap'));
  // Turned, another lens, a shell chosen, a note.
  const box = await page.locator('#surface-large').boundingBox();
  for (let at = 2; at < 9 && !(await page.locator('#note').isVisible()); at += 1) {
    await page.mouse.dblclick(box.x + (box.width * at) / 10, box.y + box.height / 2);
    await idle(page);
  }
  await page.locator('#note-text').fill('look here');
  await page.keyboard.press('Control+Enter');
  await page.locator('#note').waitFor({ state: 'hidden' });
  await page.keyboard.press('5');
  await page.locator('#surface-large').focus();
  await page.keyboard.press('ArrowLeft');
  await page.keyboard.press('Enter');
  await idle(page);
  const view = () => page.evaluate(() => {
    const { camera, lens, chosen, finding, notes, flags, model } = window.gridproof.state();
    return JSON.stringify({ camera, lens, chosen, finding, flags, id: model.id, notes: notes.map(({ id, text, point }) => [id, text, point]) });
  });
  const [before, seen, first, notes] = [await report(page), await view(), await picture(page), await page.evaluate(() => JSON.stringify(window.gridproof.state().notes))];
  await page.evaluate(() => window.sent.splice(0));

  const onFirst = panelAt(9, 0.05, 0.05);
  await step(page, 'apply', onFirst);
  assert.ok((await kinds(page)).includes('partial-overlap'));
  assert.equal(await view(), seen);
  assert.notEqual(await picture(page), first);
  await shot('uvs-moved');
  const sent = await page.evaluate(() => window.sent);
  assert.deepEqual(new Set(sent.map(({ revision }) => revision)), new Set([1]));
  assert.equal(new Set(sent.map(({ modelId }) => modelId)).size, 1);
  assert.ok(sent.every(({ type }) => type !== 'mesh'));
  const [uvs] = sent.filter(({ type }) => type === 'uvs');
  assert.deepEqual(uvs.keys.sort(), ['bounds_uv', 'pieces', 'redo', 'undo', 'uv']);
  // 32 triangles: uvs and data of each; outlines: 64 edges on model and sheet.
  assert.ok(uvs.bytes <= 32 * (24 + 16) + 64 * (24 + 8 + 16 + 4), `${uvs.bytes} bytes`);

  await step(page, 'apply', panelAt(10, 0.3, 0.6));
  assert.deepEqual(await page.evaluate(() => (({ undo, redo }) => [undo, redo])(window.gridproof.state().model)), [2, 0]);
  const last = await report(page);
  for (let at = 0; at < 2; at += 1) await step(page, 'undo');
  assert.equal(await report(page), before);
  assert.equal(await view(), seen);
  assert.equal(await page.evaluate(() => JSON.stringify(window.gridproof.state().notes)), notes);
  assert.ok((await picture(page)) === first, 'the picture differs');
  for (let at = 0; at < 2; at += 1) await step(page, 'redo');
  assert.equal(await report(page), last);

  // An invalid step is refused and changes nothing.
  const now = await revision(page);
  assert.match(await take(page, 'redo'), /nothing to redo/);
  assert.match(await take(page, 'apply', { corners: [64], uvs: [0, 0] }), /a corner that the model does not have/);
  assert.match(await take(page, 'apply', { corners: [1], uvs: [0] }), /not one u and one v/);
  const [one, two] = await page.evaluate(() => Promise.all([0.3, 0.4].map((u) => window.gridproof.step({ do: 'apply', edit: { corners: Uint32Array.of(0), uvs: Float64Array.of(u, 0.5) } }))));
  assert.equal(one, '');
  assert.match(two, /The UVs have changed since/);
  await idle(page);
  assert.equal(await revision(page), now + 1);

  // Saved reports and pictures have these UVs; exports of the file say that they do not.
  const saved = async (what) => {
    await page.keyboard.press('s');
    for (const value of what) await page.locator(`#save input[value=${value}]`).check();
    const [download] = await Promise.all([page.waitForEvent('download'), page.locator('#save-go').click()]);
    await page.locator('#save-outcome').filter({ hasText: 'Saved' }).waitFor();
    await page.locator('#save-close').click();
    return readFileSync(await download.path(), 'utf8');
  };
  assert.ok(JSON.parse(await saved(['data'])).findings.some(({ kind }) => kind === 'partial-overlap'));
  const changed = await saved(['sheet', 'svg']);
  await page.evaluate(() => window.gridproof.step({ do: 'undo' }));
  await idle(page);
  const previous = await saved(['sheet', 'svg']);
  assert.notEqual(previous, changed);
  assert.match(await page.locator('#unkept').innerText(), /changes of the UVs of .*panels\.obj.* last only until/);
  await page.locator('#share-open').click();
  await idle(page);
  await page.locator('#share-more summary').click();
  for (const kind of ['view', 'page', 'carried', 'file']) {
    assert.match(await page.locator(`#share [data-kind=${kind}]`).innerText(), /The UVs of this model were changed here, and this cannot hold the changes yet/, kind);
  }
  assert.doesNotMatch(await page.locator('#share [data-kind=report]').innerText(), /changed here/);
  await shot('uvs-share');
  await page.keyboard.press('Escape');
  for (let at = 0; at < 2; at += 1) await step(page, 'undo');
  assert.ok(await page.locator('#unkept').isHidden());
});

/** Two squares that are one shell, at the border of the sheet. */
const PAIR = 'v 0 0 0\nv 1 0 0\nv 2 0 0\nv 0 1 0\nv 1 1 0\nv 2 1 0\nvt 0 0\nvt 0.3 0\nvt 0.6 0\nvt 0 0.3\nvt 0.3 0.3\nvt 0.6 0.3\nf 1/1 2/2 5/5 4/4\nf 2/2 3/3 6/6 5/5\n';
const APART = { corners: [4, 5, 6, 7], uvs: [0.6, 0.5, 0.9, 0.5, 0.9, 0.8, 0.6, 0.8] };

test('decisions and selection follow their shells, even if made before the report arrives; stale answers are dropped', async (t) => {
  const { page } = await site.openPage(t, { path: null, reducedMotion: true });
  await page.addInitScript(listening);
  await page.goto(site.address);
  await idle(page);
  await give(page, 'pair.obj', PAIR);
  const decide = async () => {
    await page.locator('#cards [data-finding^=border]').first().click();
    await page.locator('[data-act=to-fix]').click();
  };
  const decided = () => page.evaluate(() => window.gridproof.state().decisions.map(({ finding }) => finding).sort());
  const chosen = () => page.evaluate(() => window.gridproof.state().chosen);
  await decide();
  await idle(page);
  assert.deepEqual(await decided(), ['border-0']);
  const before = await report(page);
  await page.keyboard.press('Escape');
  const box = await page.locator('#surface-large').boundingBox();
  await page.mouse.click(box.x + box.width / 2, box.y + box.height / 2);
  await idle(page);
  assert.deepEqual(await chosen(), [0]);
  await step(page, 'apply', APART);
  assert.deepEqual(await decided(), ['border-0', 'border-1']);
  assert.deepEqual(await chosen(), [0, 1]);
  await step(page, 'undo');
  assert.deepEqual(await decided(), ['border-0']);
  assert.equal(await report(page), before);
  await page.keyboard.press('Escape');
  await page.locator('#cards [data-finding^=border]').first().click();
  await page.locator('[data-act=to-fix]').click();
  await idle(page);
  assert.deepEqual(await decided(), []);

  // A decision on the previous report, while the next one is pending.
  await page.evaluate(() => (window.held = 'report'));
  assert.equal(await take(page, 'apply', APART), '');
  await page.waitForFunction(() => window.waiting() > 0);
  await page.keyboard.press('Escape');
  await decide();
  assert.deepEqual(await decided(), ['border-0']);
  await page.evaluate(() => window.release());
  await idle(page);
  assert.deepEqual(await decided(), ['border-0', 'border-1']);
  assert.deepEqual(await page.evaluate(() => window.gridproof.report().findings.filter(({ decision }) => decision).map(({ id }) => id)), ['border-0']);

  // A slow answer about the previous layout.
  await page.evaluate(() => (window.held = 'probed'));
  await page.mouse.move(box.x + box.width / 2 + 40, box.y + box.height / 2);
  await page.waitForFunction(() => window.waiting() > 0);
  assert.equal(await take(page, 'undo'), '');
  await page.evaluate(() => window.release());
  await idle(page);
  const { shell, u } = await page.evaluate(() => window.gridproof.state().under);
  assert.ok(shell === 0 && u < 0.6, JSON.stringify({ shell, u }));
});

test('two models in turn, and a worker that dies during an edit: the screen shows the last file and edit', async (t) => {
  const { page, shot } = await site.openPage(t, { path: null, reducedMotion: true });
  await page.addInitScript(listening);
  await page.goto(site.address);
  await idle(page);
  await give(page, 'first.obj', panels(16));
  const first = await page.evaluate(() => window.gridproof.state().model.id);
  const pressed = take(page, 'apply', panelAt(9, 0.05, 0.05));
  await page.setInputFiles('#file-input', { name: 'second.obj', mimeType: 'model/obj', buffer: Buffer.from(panels(40)) });
  await page.setInputFiles('#file-input', { name: 'third.obj', mimeType: 'model/obj', buffer: Buffer.from(panels(24)) });
  assert.ok(['', 'The model was closed before its UVs were changed.'].includes(await pressed));
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'third.obj' && window.gridproof.state().job === null);
  await idle(page);
  const { id, counts } = await page.evaluate(() => window.gridproof.state().model);
  assert.ok(id !== first && counts.shells === 24);
  assert.ok(!(await kinds(page)).includes('partial-overlap'));
  assert.ok(await page.evaluate((id) => window.sent.filter(({ type }) => type === 'report').at(-1).modelId === id, id));

  // Alone: if the first was measured before the others came, it is kept as the previous version, and nothing is reopened.
  await page.goto('about:blank');
  await page.goto(site.address);
  await idle(page);
  await give(page, 'third.obj', panels(24));
  const { id: alone } = await page.evaluate(() => window.gridproof.state().model);
  await step(page, 'apply', panelAt(9, 0.05, 0.05));
  const once = await report(page);
  await step(page, 'apply', panelAt(10, 0.07, 0.07));
  await step(page, 'undo');

  // The worker is killed while this is measured.
  await page.waitForTimeout(700);
  await page.evaluate(() => (window.held = 'report'));
  assert.equal(await take(page, 'apply', panelAt(11, 0.09, 0.09)), '');
  await page.waitForFunction(() => window.waiting() > 0);
  await kill(page);
  await page.waitForFunction(() => /opened again|Nothing is lost/i.test(window.gridproof.state().notice));
  await page.evaluate(() => window.release());
  await page.waitForFunction(() => window.gridproof.state().job === null && window.gridproof.report());
  await idle(page);
  await shot('uvs-opened-again');
  const after = await page.evaluate(() => window.gridproof.state().model);
  assert.ok(after.id !== alone && after.undo === 2 && after.redo === 0);
  assert.equal(await page.evaluate(() => window.gridproof.report().findings.filter(({ kind }) => kind === 'partial-overlap').length > 0), true);
  await step(page, 'undo');
  assert.equal(await report(page), once);
  await step(page, 'redo');
  assert.notEqual(await report(page), once);
});

test('without WebGL2 the drawn sheet follows edits, and is the same after undo', async (t) => {
  const { page, shot } = await site.openPage(t, { path: null, reducedMotion: true });
  await page.addInitScript(withoutWebGL2);
  await page.goto(site.address);
  await idle(page);
  await give(page, 'panels.obj', panels(4));
  const drawn = () => page.evaluate(() => document.getElementById('canvas').toDataURL());
  const before = await drawn();
  await step(page, 'apply', panelAt(3, 0.6, 0.6));
  assert.ok((await drawn()) !== before);
  await shot('uvs-drawn');
  await step(page, 'undo');
  assert.ok((await drawn()) === before);
});
