// Faulty files: the page reports what happened and where, keeps its model, and reads the
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

/** Nothing could be read: `title` and `text` are expected on the card. */
const REFUSED = [
  { what: 'a picture that is called an OBJ', name: 'texture.obj', content: PNG, title: /not an OBJ/, text: /PNG/ },
  { what: 'UTF-16 text', name: 'wide.obj', content: Buffer.from(`\ufeff${QUAD}`, 'utf16le'), title: /UTF-16/, text: /UTF-8/ },
  { what: 'points without faces', name: 'points.obj', content: 'v 0 0 0\nv 1 0 0\nv 0 1 0\n', title: /nothing to draw/, text: /faces/ },
  { what: 'an empty file', name: 'empty.obj', content: '', title: /empty/, text: /Export/ },
  { what: 'only faces whose indices are out of range', name: 'range.obj', content: 'v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n', title: /nothing to draw/i, text: /line 4\b.*9/is },
  { what: 'only faces on numbers that are not numbers', name: 'nan.obj', content: 'v 0 0 0\nv nan 0 0\nv 0 oops 0\nf 1 2 3\n', title: /nothing to draw/i, text: /line 2\b/i },
];

for (const { what, name, content, title, text } of REFUSED) {
  test(`${what}: reported, the previous model stays, the next file is read`, async (t) => {
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
    assert.ok(await card.isHidden(), 'the message is gone');
  });
}

test('a bad number, a bad index and a truncated end are reported by line; the rest of the model is read', async (t) => {
  const { page } = await withModel(t);
  // Line 10 a word for a number, line 11 an index out of range, and the last statement cut in the middle.
  await give(page, 'hurt.obj', `${QUAD}v 1 two 3\nf 1/1 2/2 99/3\nf 1/1 2/2 3/`);
  assert.equal(await page.locator('#file-name').innerText(), 'hurt.obj');
  assert.match(await page.locator('#notice').innerText(), /cut short/);
  await page.locator('#chips button', { hasText: /file warning/i }).click();
  const rows = await page.locator('#warnings-rows tr').allInnerTexts();
  for (const line of [10, 11, 12]) assert.ok(rows.some((row) => new RegExp(`^${line}\\b`).test(row)), `line ${line} in ${JSON.stringify(rows)}`);
  assert.ok(rows.some((row) => row.includes('two')), 'the word is shown');
  assert.ok(rows.some((row) => row.includes('99')), 'the index is shown');
  await page.keyboard.press('Escape');
  await give(page, 'next.obj', QUAD);
  assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
});

test('no UVs at all: not ready, with the reason', async (t) => {
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

test('names in any script are shown as written and never parsed as markup', async (t) => {
  const { page } = await withModel(t);
  const name = '灯籠 фонарь <b>مصباح.obj';
  await give(page, name, `o 台座 <img src=x>\ng قاعدة\n${QUAD.replace('f ', 'o 台座 <img src=x>\nf ')}`);
  assert.equal(await page.locator('#file-name').innerText(), name);
  const box = await page.locator('#surface-large').boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#read-surface').innerText(), /台座/);
  assert.equal(await page.locator('img:not([src="www/lantern.webp"])').count(), 0);
});

test('cancelling while reading keeps the previous model intact', async (t) => {
  const { page } = await withModel(t);
  const before = JSON.stringify(await page.evaluate(() => window.gridproof.report()));
  // Some 230 MB, of one block many times over so that it takes no memory before it is read.
  const { bytes, total } = await page.evaluate(async () => {
    const block = new Blob(['v 0.123456 0.234567 0.345678\n'.repeat(40_000)]);
    const transfer = new DataTransfer();
    transfer.items.add(new File([...Array(200).fill(block), 'f 1 2 3\n'], 'big.obj'));
    const input = document.getElementById('file-input');
    input.files = transfer.files;
    input.dispatchEvent(new Event('change'));
    for (;;) {
      const { job } = window.gridproof.state();
      if (job === null || job.stage !== '') return { bytes: NaN, total: NaN };
      if (job.bytes > 0) {
        document.getElementById('job-cancel').click();
        return { bytes: job.bytes, total: job.total };
      }
      await new Promise((resolve) => setTimeout(resolve, 1));
    }
  });
  assert.ok(bytes > 0 && bytes < total, `stopped after ${bytes} of ${total} bytes`);
  t.diagnostic(`stopped after ${bytes} of ${total} bytes`);
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#notice').innerText(), /Stopped reading big\.obj/);
  assert.ok(await page.locator('#job').isHidden());
  assert.equal(await page.locator('#file-name').innerText(), 'first.obj');
  assert.equal(JSON.stringify(await page.evaluate(() => window.gridproof.report())), before, 'its report is the same');
  const box = await page.locator('#surface-small').boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.evaluate(() => window.gridproof.idle());
  assert.notEqual(await page.evaluate(() => window.gridproof.state().under), null, 'probing under the pointer still works');
  await give(page, 'next.obj', QUAD);
  assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
});

test('a million faces: read and measured, and the next file is read', { timeout: 240_000 }, async (t) => {
  const { page } = await withModel(t);
  // A sheet of 708 x 708 quads, two triangles each; made inside the page.
  await page.evaluate(() => {
    const side = 708;
    const parts = [];
    for (let y = 0; y <= side; y += 1) {
      let row = '';
      for (let x = 0; x <= side; x += 1) row += `v ${x} ${y} ${((x * 7 + y * 13) % 17) / 17}\nvt ${x / side} ${y / side}\n`;
      parts.push(row);
    }
    for (let y = 0; y < side; y += 1) {
      let row = '';
      for (let x = 0; x < side; x += 1) {
        const [a, b] = [y * (side + 1) + x + 1, (y + 1) * (side + 1) + x + 1];
        row += `f ${a}/${a} ${a + 1}/${a + 1} ${b + 1}/${b + 1}\nf ${a}/${a} ${b + 1}/${b + 1} ${b}/${b}\n`;
      }
      parts.push(row);
    }
    const transfer = new DataTransfer();
    transfer.items.add(new File(parts, 'million.obj'));
    const input = document.getElementById('file-input');
    input.files = transfer.files;
    input.dispatchEvent(new Event('change'));
  });
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'million.obj' && window.gridproof.report(), null, { timeout: 200_000 });
  assert.equal(await page.evaluate(() => window.gridproof.state().model.counts.triangles), 2 * 708 * 708);
  assert.match(await page.locator('#file-facts').innerText(), /1,002,528\striangles · 1\sshell/);
  await give(page, 'next.obj', QUAD);
  assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
});

test('ten thousand shells: findings are shown a page at a time', { timeout: 120_000 }, async (t) => {
  const { page } = await withModel(t);
  // Each a square of its own, half of them mirrored in place: many findings, all small.
  let text = '';
  for (let at = 0; at < 10_000; at += 1) {
    const [x, y] = [at % 100, Math.floor(at / 100)];
    const [u, v] = [x / 100 + 0.001, y / 100 + 0.001];
    const corners = [[0, 0], [1, 0], [1, 1], [0, 1]];
    for (const [dx, dy] of corners) text += `v ${x + dx * 0.8} ${y + dy * 0.8} 0\n`;
    for (const [dx, dy] of corners) text += `vt ${u + (at % 2 ? 1 - dx : dx) * 0.008} ${v + dy * 0.008}\n`;
    text += `o piece_${at}\nf -4/-4 -3/-3 -2/-2 -1/-1\n`;
  }
  await give(page, 'shells.obj', text);
  assert.match(await page.locator('#file-facts').innerText(), /10,000\sshells/);
  assert.match(await page.locator('#verdict').innerText(), /not ready|look/i);
  const cards = await page.locator('#cards .card').count();
  assert.ok(cards > 0 && cards <= 60, `${cards} cards at once`);
});

/** Runs this in the worker that waits for the next file, once there is one beside the model's. */
async function alterNext(page, act) {
  const workers = () => page.workers().filter((worker) => worker.url().endsWith('/www/model/model.worker.js'));
  for (let waited = 0; workers().length < 2 && waited < 200; waited += 1) await page.waitForTimeout(50);
  assert.equal(workers().length, 2);
  await workers().at(-1).evaluate(act);
}

test('memory refused: reported, the previous model stays, the next file is read', async (t) => {
  const { page } = await withModel(t);
  await alterNext(page, () => {
    File.prototype.stream = () => {
      throw new RangeError('Array buffer allocation failed');
    };
  });
  await give(page, 'vast.obj', QUAD);
  const said = await page.locator('#problem').innerText();
  assert.match(said, /not enough memory/);
  assert.match(said, /vast\.obj/);
  assert.match(said, /export a part/);
  assert.match(said, /first\.obj is still here/);
  await give(page, 'next.obj', QUAD);
  assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
});

test('a file that disappeared while being read is reported', async (t) => {
  const { page } = await withModel(t);
  await alterNext(page, () => {
    File.prototype.stream = () => {
      throw new DOMException('gone', 'NotFoundError');
    };
  });
  await give(page, 'gone.obj', QUAD);
  const said = await page.locator('#problem').innerText();
  assert.match(said, /could not be read/);
  assert.match(said, /moved or changed/);
  assert.match(said, /first\.obj is still here/);
});

test('a failed fetch and a missing network are reported, and files are still read', async (t) => {
  const { page, context } = await site.openPage(t, { path: null, allow: [/lantern-draft\.obj/, /ERR_INTERNET_DISCONNECTED/] });
  await page.route('**/demo/lantern-draft.obj', (route) => route.fulfill({ status: 404, body: 'not here' }));
  await page.goto(`${site.address}?demo=draft`);
  await page.evaluate(() => window.gridproof.idle());
  const said = await page.locator('#problem').innerText();
  assert.match(said, /could not be fetched/);
  assert.match(said, /404/);
  assert.match(said, /Check the connection/);
  await page.locator('#problem-close').click();
  await page.unroute('**/demo/lantern-draft.obj');
  // One file, so that everything the page needs has been fetched once.
  await give(page, 'first.obj', QUAD);
  await context.setOffline(true);
  await page.evaluate(() => document.querySelector('[data-demo=draft]').click());
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#problem').innerText(), /could not be fetched/);
  assert.match(await page.locator('#problem').innerText(), /first\.obj is still here/);
  await context.setOffline(false);
  await give(page, 'next.obj', QUAD);
  assert.equal(await page.locator('#file-name').innerText(), 'next.obj');
});

test('a link to a finding that no longer exists is reported, and the model is shown', async (t) => {
  const { page } = await site.openPage(t, { path: '?demo=revised#finding=flipped-41' });
  await page.waitForFunction(() => window.gridproof?.report());
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#notice').innerText(), /flipped-41.*does not have.*fixed/);
  assert.equal(await page.locator('#verdict').innerText(), 'Ready');
});
