// Links with the model inside: #m= holds the model and its review, and the page shows the same when opened elsewhere. And
// links that were changed.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { gridproof, ROOT } from './harness.mjs';
import { random } from './random.mjs';

const site = gridproof();
const DRAFT = join(ROOT, 'demo', 'lantern-draft.obj');
const LIMIT = 120_000;

/** Two squares of 8 triangles in all; small, so that many links can be tried. */
const SMALL = 'o plate\nv 0 0 0\nv 4 0 0\nv 4 1 0\nv 0 1 0\nv 2 2 1\nvt 0.1 0.1\nvt 0.3 0.1\nvt 0.3 0.3\nvt 0.1 0.3\nvt 0.2 0.4\nf 1/1 2/2 3/3 4/4\nf 4/4 3/3 5/5\n';

const idle = (page) => page.evaluate(() => window.gridproof.idle());
const state = (page) => page.evaluate(() => window.gridproof.state());

async function measured(page) {
  await page.waitForFunction(() => window.gridproof?.report(), null, { timeout: LIMIT });
  await idle(page);
}

async function shareDialog(page) {
  if (!(await page.locator('#share').isVisible())) await page.keyboard.press('l');
  await page.locator('[name=share-whom][value=student]').check();
  await page.locator('[data-kind=carried] button').first().waitFor();
}

/** Creates the link with the model inside for what is on screen. */
async function carriedLink(page) {
  await shareDialog(page);
  await page.getByRole('button', { name: 'Make the link' }).click();
  await page.locator('[data-kind=carried] .share-link').waitFor({ timeout: LIMIT });
  return page.locator('[data-kind=carried] .share-link').inputValue();
}

/** The link of the draft that the command prints: there is no review in it. */
function commandLink() {
  const { GRIDPROOF_COMMAND: built } = process.env;
  const [program, first] = built ? [built, []] : ['cargo', ['run', '--quiet', '--']];
  const ran = spawnSync(program, [...first, 'link', DRAFT, '--site', site.address], { cwd: ROOT, encoding: 'utf8' });
  assert.equal(ran.status, 0, ran.stderr);
  return ran.stdout.trim();
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

/** Of each finding the fields without rounded numbers in text. */
const found = ({ findings }) => findings.map(({ id, kind, severity, shells, triangles, line, decision }) => ({ id, kind, severity, shells, triangles, line, decision }));

test('the draft, its notes and decisions in a link: created, opened in a new profile, browsed, saved', { timeout: 600_000 }, async (t) => {
  const { page, shot } = await site.openPage(t, { path: '?demo=draft' });
  await measured(page);
  await note(page, 'Zu schmal\nשלום');
  await page.locator('#cards .card').first().click();
  await idle(page);
  await page.keyboard.press('l');
  await page.locator('[name=share-whom][value=student]').check();
  await page.locator('[data-kind=carried] button').waitFor();
  await shot('share-carried-before');
  const link = await carriedLink(page);
  await shot('share-carried-made');
  const facts = await page.locator('[data-kind=carried] .share-facts').innerText();
  assert.match(facts, /bytes a triangle/);
  assert.match(facts, /The whole model/);
  const [sent, before] = [await page.evaluate(() => window.gridproof.report()), await state(page)];
  const triangles = sent.counts.triangles;
  t.diagnostic(`${link.length} characters for ${triangles} triangles`);

  const other = await site.openPage(t, { path: null });
  await other.page.goto(link);
  await measured(other.page);
  const got = await other.page.evaluate(() => window.gridproof.report());
  const now = await state(other.page);
  assert.deepEqual(got.file, sent.file);
  assert.equal(got.verdict, sent.verdict);
  assert.deepEqual(found(got), found(sent));
  assert.deepEqual(got.counts, sent.counts);
  assert.equal(now.notes[0].text, 'Zu schmal\nשלום');
  assert.equal(now.notes[0].face, before.notes[0].face);
  assert.ok(now.notes[0].place, 'the note has its place');
  assert.equal(now.finding, before.finding);
  assert.ok(other.page.url().startsWith(link), 'the address stays');
  await other.shot('carried-wide-light');

  // Back steps through findings, and later notes survive a reload.
  const cards = other.page.locator('#cards .card');
  await cards.nth(1).click();
  await idle(other.page);
  const second = (await state(other.page)).finding;
  assert.notEqual(second, now.finding);
  assert.equal(other.page.url(), link, 'the address stays when another finding is chosen');
  await other.page.goBack();
  await idle(other.page);
  assert.equal((await state(other.page)).finding, now.finding);
  await other.page.goForward();
  await idle(other.page);
  assert.equal((await state(other.page)).finding, second);
  await note(other.page, 'written by the other');
  await other.page.reload();
  await measured(other.page);
  assert.deepEqual((await state(other.page)).notes.map(({ text }) => text), ['Zu schmal\nשלום', 'written by the other']);

  // Everything can be saved of it, and the model itself.
  await other.page.keyboard.press('s');
  for (const [what, name] of [['obj', 'lantern-draft.obj'], ['report', 'lantern-draft report.html'], ['sheet', 'lantern-draft sheet.svg'], ['stage', 'lantern-draft stage.png']]) {
    await other.page.locator(`#save input[value="${what}"]`).first().check();
    const [download] = await Promise.all([other.page.waitForEvent('download', { timeout: LIMIT }), other.page.locator('#save-go').click()]);
    assert.equal(download.suggestedFilename(), name);
    const bytes = readFileSync(await download.path());
    assert.ok(bytes.length > 1000, `${name} has ${bytes.length} bytes`);
    if (what === 'obj') assert.equal((bytes.toString().match(/^f /gm) ?? []).length, (readFileSync(DRAFT, 'utf8').match(/^f /gm) ?? []).length);
    await other.page.waitForFunction(() => /^Saved /.test(document.getElementById('save-outcome').textContent));
  }
  await other.page.keyboard.press('Escape');
  await other.page.locator('#save').waitFor({ state: 'hidden' });

  // A link made from a link needs no encoding, and has the later note.
  const again = await carriedLink(other.page);
  assert.ok(again.length >= link.length && again !== link, 'with the later note');
  await other.page.keyboard.press('Escape');

  // Another file replaces the model and the address.
  await other.page.setInputFiles('#file-input', { name: 'small.obj', mimeType: 'model/obj', buffer: Buffer.from(SMALL) });
  await other.page.waitForFunction(() => window.gridproof.state().model?.name === 'small.obj' && window.gridproof.report());
  await idle(other.page);
  assert.ok(!other.page.url().includes('#m='), other.page.url());
  assert.equal(await other.page.evaluate(() => {
    document.getElementById('save-open').click();
    return document.getElementById('save-obj').hidden;
  }), true, 'a file is not saved as OBJ');
  await other.page.keyboard.press('Escape');
  await other.page.goBack();
  await other.page.waitForFunction(() => window.gridproof.state().model?.name === 'lantern-draft.obj' && window.gridproof.report());
  await idle(other.page);
  assert.equal(other.page.url(), link);
});

test('creating a link can be cancelled, and the model stays', async (t) => {
  const { page } = await site.openPage(t, { path: '?demo=draft' });
  await measured(page);
  await shareDialog(page);
  await page.getByRole('button', { name: 'Make the link' }).click();
  await page.locator('[data-kind=carried]').getByRole('button', { name: 'Cancel' }).click();
  await page.getByRole('button', { name: 'Make the link' }).waitFor();
  await page.keyboard.press('Escape');
  await page.locator('#cards .card').first().click();
  await idle(page);
  assert.ok((await state(page)).finding);
});

test('200 mutated links: each opens or reports its error, and the next file opens', { timeout: 600_000 }, async (t) => {
  const { page } = await site.openPage(t);
  await page.setInputFiles('#file-input', { name: 'small.obj', mimeType: 'model/obj', buffer: Buffer.from(SMALL) });
  await measured(page);
  const link = await carriedLink(page);
  const good = link.slice(link.indexOf('#m=') + 3);
  await page.keyboard.press('Escape');
  const next = random(7);
  const pick = (text) => text[Math.floor(next() * text.length)];
  const letters = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_';
  const at = () => Math.floor(next() * good.length);
  const ways = [
    () => { const place = at(); return good.slice(0, place) + pick(letters) + good.slice(place + 1); },
    () => good.slice(0, at()),
    () => good + pick(letters).repeat(1 + Math.floor(next() * 9)),
    () => { const place = at(); return good.slice(0, place) + pick('%#&=+ .~é\u0000') + good.slice(place); },
    () => Array.from({ length: at() }, () => pick(letters)).join(''),
    () => good.slice(at()),
    () => { const place = at(); return good.slice(0, place) + good.slice(place + 1 + Math.floor(next() * 5)); },
  ];
  const codes = new Map();
  for (let count = 0; count < 200; count += 1) {
    const changed = count === 0 ? '' : ways[count % ways.length]();
    await page.evaluate((text) => (location.hash = `#m=${text}`), changed);
    await page.waitForTimeout(0);
    await idle(page);
    const { problem, model } = await state(page);
    const code = problem?.code ?? 'opened';
    codes.set(code, (codes.get(code) ?? 0) + 1);
    assert.ok(model, `a model stays on screen after ${changed}`);
    if (problem) {
      assert.ok(['not-carried', 'newer', 'cut-short', 'altered', 'damaged', 'too-large'].includes(code), `${code}: ${problem.message} (${changed})`);
      assert.match(problem.message, /[A-Z].*\./, 'as a sentence');
    } else {
      assert.equal(model.name, 'small.obj', changed);
    }
  }
  t.diagnostic(JSON.stringify(Object.fromEntries(codes)));
  assert.ok((codes.get('altered') ?? 0) > 20 && (codes.get('cut-short') ?? 0) > 10, 'they were changed');
  await page.setInputFiles('#file-input', DRAFT);
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'lantern-draft.obj' && window.gridproof.report(), null, { timeout: LIMIT });
  await idle(page);
  assert.equal((await state(page)).problem, null);
  await page.evaluate((text) => (location.hash = `#m=${text}`), good);
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'small.obj' && window.gridproof.report());
});

test('a finding selected right after a link opens: Back returns to the original link without reading again', async (t) => {
  const { page } = await site.openPage(t, { path: null });
  await page.addInitScript(() => {
    const look = () => {
      if (!window.gridproof?.report()) return setTimeout(look, 1);
      window.entry = history.state;
      document.body.dispatchEvent(new KeyboardEvent('keydown', { key: '.', bubbles: true }));
    };
    look();
  });
  await page.goto(commandLink());
  await measured(page);
  assert.equal(await page.evaluate(() => window.entry), null, 'the key was pressed before the entry was written');
  assert.notEqual((await state(page)).finding, null);
  const reader = page.workers().find((worker) => worker.url().endsWith('/www/model/model.worker.js'));
  await page.goBack();
  await idle(page);
  assert.equal((await state(page)).finding, null);
  assert.equal(await page.evaluate(() => history.state?.gridproof), 1);
  assert.ok(page.workers().includes(reader), 'its worker is still the same');
});

test('the command’s link opens, and an invalid review in it is refused with its reason', async (t) => {
  const { page, shot } = await site.openPage(t, { path: null, width: 390, height: 844, dark: true });
  await page.goto(commandLink());
  await measured(page);
  assert.equal((await state(page)).model.name, 'lantern-draft.obj');
  assert.equal((await state(page)).notice, '');
  await shot('carried-narrow-dark');
  await page.keyboard.press('l');
  await page.locator('[name=share-whom][value=student]').check();
  await page.locator('[data-kind=carried] button').waitFor();
  await page.getByRole('button', { name: 'Make the link' }).click();
  await page.locator('[data-kind=carried] .share-link').waitFor();
  await shot('share-carried-narrow-dark');
});

test('links to a hosted model: the demo’s opens on the same view, a dropped file gets instructions', async (t) => {
  const { page } = await site.openPage(t, { path: '?demo=draft' });
  await measured(page);
  await page.locator('#cards .card').first().click();
  await note(page, 'placed');
  await page.keyboard.press('l');
  await page.locator('[name=share-whom][value=course]').check();
  await page.locator('[data-kind=placed] .share-link').waitFor();
  const link = await page.locator('[data-kind=placed] .share-link').inputValue();
  const { sha256 } = (await page.evaluate(() => window.gridproof.report())).file;
  assert.ok(link.startsWith(`${site.address}?src=demo/lantern-draft.obj&sha256=${sha256}#r=`), link);
  const other = await site.openPage(t, { path: null });
  await other.page.goto(link);
  await measured(other.page);
  assert.deepEqual((await state(other.page)).notes.map(({ text }) => text), ['placed']);
  await other.page.setInputFiles('#file-input', { name: 'small.obj', mimeType: 'model/obj', buffer: Buffer.from(SMALL) });
  await other.page.waitForFunction(() => window.gridproof.state().model?.name === 'small.obj' && window.gridproof.report());
  await idle(other.page);
  await other.page.keyboard.press('l');
  await other.page.locator('[name=share-whom][value=course]').check();
  await other.page.locator('[data-kind=placed]').waitFor();
  assert.equal(await other.page.locator('[data-kind=placed] .share-link').count(), 0);
  assert.match(await other.page.locator('[data-kind=placed]').innerText(), /beside the page/);
});
