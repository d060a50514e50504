// Files that are not what they should be: the page says what happened and where, keeps the model it had, and reads the
// next file.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof } from './harness.mjs';

const site = gridproof();

const QUAD = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n';
const PNG = Buffer.from('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==', 'base64');

async function give(page, name, content) {
  await page.setInputFiles('#file-input', { name, mimeType: 'model/obj', buffer: Buffer.isBuffer(content) ? content : Buffer.from(content) });
  await page.evaluate(() => window.gridproof.idle());
}

async function withModel(t) {
  const opened = await site.openPage(t);
  await opened.page.evaluate(() => window.gridproof.idle());
  await give(opened.page, 'first.obj', QUAD);
  assert.equal(await opened.page.evaluate(() => window.gridproof.state().model?.name), 'first.obj');
  return opened;
}

/** Nothing could be read: `title` and `text` are what the card must say. */
const REFUSED = [
  { what: 'a picture', name: 'texture.png', content: PNG, title: /not an OBJ/, text: /PNG/ },
  { what: 'UTF-16 text', name: 'wide.obj', content: Buffer.from(`\ufeff${QUAD}`, 'utf16le'), title: /UTF-16/, text: /UTF-8/ },
  { what: 'points without faces', name: 'points.obj', content: 'v 0 0 0\nv 1 0 0\nv 0 1 0\n', title: /nothing to draw/, text: /faces/ },
  { what: 'an empty file', name: 'empty.obj', content: '', title: /empty/, text: /Export/ },
  { what: 'only faces whose indices are out of range', name: 'range.obj', content: 'v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n', title: /nothing to draw/i, text: /line 4\b.*9/is },
  { what: 'only faces on numbers that are not numbers', name: 'nan.obj', content: 'v 0 0 0\nv nan 0 0\nv 0 oops 0\nf 1 2 3\n', title: /nothing to draw/i, text: /line 2\b/i },
];

for (const { what, name, content, title, text } of REFUSED) {
  test(`${what}: said so, the former model stays, the next file is read`, async (t) => {
    const { page, shot } = await withModel(t);
    await give(page, name, content);
    const card = page.locator('#problem');
    assert.ok(await card.isVisible(), 'the message is seen');
    assert.match(await page.locator('#problem-title').innerText(), title);
    const said = await card.innerText();
    assert.match(said, text);
    assert.ok(said.includes(name), `the file is named: ${said}`);
    assert.match(said, /first\.obj is still here/);
    assert.equal(await page.locator('#file-name').innerText(), 'first.obj');
    if (name === 'nan.obj') await shot('refused');
    await give(page, 'next.obj', QUAD);
    assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
    assert.ok(await card.isHidden(), 'the message has gone');
  });
}

test('a bad number, a bad index and a cut end leave the rest of the model, each with its line', async (t) => {
  const { page } = await withModel(t);
  // Line 10 a word for a number, line 11 an index out of range, and the last statement cut in the middle.
  await give(page, 'hurt.obj', `${QUAD}v 1 two 3\nf 1/1 2/2 99/3\nf 1/1 2/2 3/`);
  assert.equal(await page.locator('#file-name').innerText(), 'hurt.obj');
  assert.match(await page.locator('#notice').innerText(), /cut short/);
  await page.locator('#chips button', { hasText: /reading note/i }).click();
  const rows = await page.locator('#warnings-rows tr').allInnerTexts();
  for (const line of [10, 11, 12]) assert.ok(rows.some((row) => new RegExp(`^${line}\\b`).test(row)), `line ${line} in ${JSON.stringify(rows)}`);
  assert.ok(rows.some((row) => row.includes('two')), 'the word is shown');
  assert.ok(rows.some((row) => row.includes('99')), 'the index is shown');
  await page.keyboard.press('Escape');
  await give(page, 'next.obj', QUAD);
  assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
});

test('no UVs at all: not ready, and said why', async (t) => {
  const { page, shot } = await withModel(t);
  await give(page, 'bare.obj', 'v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n');
  assert.match(await page.locator('#verdict').innerText(), /not ready/i);
  assert.match(await page.locator('#cards').innerText(), /UV/);
  assert.match(await page.locator('#sheet-facts').innerText(), /no UVs/);
  await shot('no-uvs');
});

test('some faces without UVs are counted', async (t) => {
  const { page } = await withModel(t);
  await give(page, 'part.obj', `${QUAD}v 20 0 0\nv 20 10 0\nf 2 5 6 3\n`);
  assert.match(await page.locator('#verdict').innerText(), /not ready/i);
  assert.match(await page.locator('#sheet-facts').innerText(), /1\sface without UVs/);
  assert.match(await page.locator('#cards').innerText(), /UV/);
});

test('one face is a model', async (t) => {
  const { page } = await withModel(t);
  await give(page, 'one.obj', 'v 0 0 0\nv 10 0 0\nv 0 10 0\nvt 0 0\nvt 1 0\nvt 0 1\nf 1/1 2/2 3/3\n');
  assert.equal(await page.evaluate(() => window.gridproof.state().model.counts.triangles), 1);
  assert.match(await page.locator('#file-facts').innerText(), /1\striangle · 1\sshell/);
  assert.ok((await page.locator('#verdict').innerText()).trim().length > 0);
});

test('names in any script come back as written, and none is taken for markup', async (t) => {
  const { page } = await withModel(t);
  const name = '灯籠 фонарь <b>مصباح.obj';
  await give(page, name, `o 台座 <img src=x>\ng قاعدة\n${QUAD.replace('f ', 'o 台座 <img src=x>\nf ')}`);
  assert.equal(await page.locator('#file-name').innerText(), name);
  const box = await page.locator('#surface-large').boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#read-surface').innerText(), /台座/);
  assert.equal(await page.locator('img').count(), 0);
});

test('reading can be cancelled, and the former model is whole', async (t) => {
  const { page } = await withModel(t);
  // About 60 MB made inside the page: far more than can be read before the press on Cancel.
  await page.evaluate(() => {
    const block = 'v 0.123456 0.234567 0.345678\n'.repeat(35_000);
    const transfer = new DataTransfer();
    transfer.items.add(new File([...Array(60).fill(block), 'f 1 2 3\n'], 'big.obj'));
    const input = document.getElementById('file-input');
    input.files = transfer.files;
    input.dispatchEvent(new Event('change'));
    document.getElementById('job-cancel').click();
  });
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#notice').innerText(), /Stopped reading big\.obj/);
  assert.ok(await page.locator('#job').isHidden());
  assert.equal(await page.locator('#file-name').innerText(), 'first.obj');
  assert.ok(await page.evaluate(() => window.gridproof.report()), 'its report is there');
  await give(page, 'next.obj', QUAD);
  assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
});
