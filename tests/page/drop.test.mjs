// Files that are dragged over the page and dropped on it, through the browser's own drag events.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { hand } from './hand.mjs';
import { gridproof } from './harness.mjs';

const site = gridproof();

const QUAD = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n';

test('an OBJ dragged over the page is accepted and read when dropped', async (t) => {
  const { page, context, shot } = await site.openPage(t);
  await page.evaluate(() => window.gridproof.idle());
  const held = await hand(t, page, context, { 'quad.obj': QUAD });
  await held.over();
  await page.locator('#veil').waitFor({ state: 'visible' });
  assert.match(await page.locator('#veil').innerText(), /Drop to read it[\s\S]*stays in this tab/);
  await shot('drag-obj');
  await held.away();
  await page.locator('#veil').waitFor({ state: 'hidden' });
  assert.equal(await page.evaluate(() => window.gridproof.state().model), null, 'nothing was read');
  await held.over();
  await held.drop();
  await page.waitForFunction(() => window.gridproof.report());
  assert.ok(await page.locator('#veil').isHidden());
  assert.equal(await page.locator('#file-name').innerText(), 'quad.obj');
});

test('an audio file dragged over the page is identified as such', async (t) => {
  const { page, context, shot } = await site.openPage(t);
  await page.evaluate(() => window.gridproof.idle());
  const held = await hand(t, page, context, { 'talk.mp3': 'ID3' });
  await held.over();
  await page.locator('#veil.is-refused').waitFor({ state: 'visible' });
  assert.match(await page.locator('#veil').innerText(), /no model[\s\S]*audio\/mpeg/);
  await shot('drag-recording');
  await held.away();
  await page.locator('#veil').waitFor({ state: 'hidden' });
  assert.equal(await page.evaluate(() => window.gridproof.state().problem), null, 'it was only dragged over the page');
});

test('of several files the OBJ is read, and the page says so', async (t) => {
  const { page, context } = await site.openPage(t);
  await page.evaluate(() => window.gridproof.idle());
  const held = await hand(t, page, context, { 'a.txt': 'notes\n', 'b.obj': QUAD });
  await held.over();
  await page.locator('#veil').waitFor({ state: 'visible' });
  assert.match(await page.locator('#veil').innerText(), /2 files; several OBJs are told in a table/);
  await held.drop();
  await page.waitForFunction(() => window.gridproof.report());
  assert.equal(await page.locator('#file-name').innerText(), 'b.obj');
  assert.match(await page.locator('#notice').innerText(), /2 files were dropped.*b\.obj/);
});

const BRIEF = '{"map":{"width_px":512,"height_px":512},"coverage":{"min_share":0.9}}';
const briefOf = (page) => page.evaluate(() => window.gridproof.state().brief);

/** Drags files over a page, returns its message, and drops them. */
async function dropped(t, { page, context }, files) {
  const held = await hand(t, page, context, files);
  await held.over();
  await page.locator('#veil').waitFor({ state: 'visible' });
  const said = await page.locator('#veil').innerText();
  await held.drop();
  await page.locator('#veil').waitFor({ state: 'hidden' });
  return said;
}

test('a brief dropped alone becomes active: the form shows it, and the model stays', async (t) => {
  const opened = await site.openPage(t);
  const { page, shot } = opened;
  await page.evaluate(() => window.gridproof.idle());
  await dropped(t, opened, { 'quad.obj': QUAD });
  await page.waitForFunction(() => window.gridproof.report());
  const before = await page.evaluate(() => window.gridproof.report().verdict);
  assert.match(await dropped(t, opened, { 'class.json': BRIEF }), /Drop to use it/);
  await page.locator('#brief').waitFor({ state: 'visible' });
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await briefOf(page), JSON.parse(BRIEF));
  assert.equal(await page.inputValue('#brief-map-width_px'), '512');
  assert.equal(await page.locator('#file-name').innerText(), 'quad.obj');
  const { verdict, findings } = await page.evaluate(() => window.gridproof.report());
  assert.ok(before !== verdict || findings.some(({ kind }) => kind === 'coverage'), 'it is judged again');
  assert.equal(await page.evaluate(() => window.gridproof.state().problem), null);
  await shot('drop-brief');
});

test('a brief dropped on the empty page applies to the next model, and the page says so', async (t) => {
  const opened = await site.openPage(t);
  const { page } = opened;
  // Before the page is ready, too.
  await dropped(t, opened, { 'class.json': BRIEF });
  await page.locator('#notice').waitFor({ state: 'visible' });
  assert.match(await page.locator('#notice').innerText(), /class\.json is active\. Drop an OBJ/);
  await page.locator('#brief-close').click();
  await dropped(t, opened, { 'quad.obj': QUAD });
  await page.waitForFunction(() => window.gridproof.report());
  assert.equal((await page.evaluate(() => window.gridproof.report().sheet.padding_border_px)).toFixed(6), "51.200000", "measured at 512 px");
});

test('a model and its brief dropped together are both used', async (t) => {
  const opened = await site.openPage(t);
  const { page } = opened;
  await page.evaluate(() => window.gridproof.idle());
  await dropped(t, opened, { 'class.json': BRIEF, 'quad.obj': QUAD });
  await page.waitForFunction(() => window.gridproof.report());
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await briefOf(page), JSON.parse(BRIEF));
  assert.ok((await page.evaluate(() => window.gridproof.report())).findings.some(({ kind }) => kind === 'coverage'));
  assert.match(await page.locator('#notice').innerText(), /Checked against class\.json/);
  assert.ok(await page.locator('#brief').isHidden());
});

test('an unusable brief is reported with a remedy, and changes nothing', async (t) => {
  const opened = await site.openPage(t);
  const { page, shot } = opened;
  await page.evaluate(() => window.gridproof.idle());
  await dropped(t, opened, { 'quad.obj': QUAD });
  await page.waitForFunction(() => window.gridproof.report());
  for (const [name, text, why] of [
    ['typo.json', '{"stretch":{"max_anisotropi":2}}', /Did you mean max_anisotropy\?/],
    ['scene.json', '{"asset":{"version":"2.0"}}', /asset/],
    ['class.toml', '[map]\nwidth_px = 512\n', /gridproof brief --from class\.toml --json[\s\S]*gridproof check --brief class\.toml/],
    ['torn.json', '{"map":', /no JSON/],
  ]) {
    await dropped(t, opened, { [name]: text });
    await page.waitForFunction((wanted) => document.querySelector('#problem-place').textContent === wanted, name);
    const said = await page.locator('#problem').innerText();
    assert.match(said, /The brief could not be used/);
    assert.match(said, why);
    assert.match(said, /quad\.obj is still here, as it was/);
    if (name === 'class.toml') await shot('drop-brief-toml');
    await page.locator('#problem-close').click();
  }
  assert.deepEqual(await briefOf(page), {});
  // With a model, the model is still read.
  await dropped(t, opened, { 'typo.json': '{"stretch":{"max_anisotropi":2}}', 'next.obj': QUAD });
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'next.obj' && window.gridproof.report());
  assert.match(await page.locator('#notice').innerText(), /[Cc]hecked against the brief that was active, because typo\.json could not be used: .*max_anisotropy/);
});

test('dragged text is not taken for a file', async (t) => {
  const { page } = await site.openPage(t);
  await page.evaluate(() => window.gridproof.idle());
  await page.evaluate(() => {
    const transfer = new DataTransfer();
    transfer.setData('text/plain', 'v 0 0 0');
    window.dispatchEvent(new DragEvent('dragenter', { dataTransfer: transfer, cancelable: true }));
  });
  assert.match(await page.locator('#veil').innerText(), /not a file/);
  await page.evaluate(() => window.dispatchEvent(new DragEvent('dragleave')));
  assert.ok(await page.locator('#veil').isHidden());
});
