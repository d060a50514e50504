// Files that are dragged over the page and dropped on it, through the browser's own drag events.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { gridproof } from './harness.mjs';

const site = gridproof();

const QUAD = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n';
const PNG = Buffer.from('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==', 'base64');

/** `DragOperationsMask` of the DevTools protocol: copying is allowed. */
const COPY = 1;

/** A hand that holds files over the page. */
async function hand(t, page, context, files) {
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-drop-'));
  t.after(() => rmSync(folder, { recursive: true }));
  const paths = Object.entries(files).map(([name, content]) => {
    writeFileSync(join(folder, name), content);
    return join(folder, name);
  });
  const devtools = await context.newCDPSession(page);
  const data = { items: [], files: paths, dragOperationsMask: COPY };
  const send = (type, at = { x: 400, y: 300 }) => devtools.send('Input.dispatchDragEvent', { type, ...at, data });
  return {
    over: async () => {
      await send('dragEnter');
      await send('dragOver');
    },
    away: async () => {
      // The protocol leaves the page by going past its edge; cancelling alone tells the page nothing.
      await send('dragOver', { x: -5, y: -5 });
      await send('dragCancel', { x: -5, y: -5 });
    },
    drop: () => send('drop'),
  };
}

test('an OBJ dragged over the page is welcome, and dropped it is read', async (t) => {
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

test('a picture dragged over the page is named as what it is, and dropped it is refused', async (t) => {
  const { page, context, shot } = await site.openPage(t);
  await page.evaluate(() => window.gridproof.idle());
  const held = await hand(t, page, context, { 'photo.png': PNG });
  await held.over();
  await page.locator('#veil.is-refused').waitFor({ state: 'visible' });
  assert.match(await page.locator('#veil').innerText(), /no model[\s\S]*image\/png/);
  await shot('drag-picture');
  await held.away();
  await page.locator('#veil').waitFor({ state: 'hidden' });
  assert.equal(await page.evaluate(() => window.gridproof.state().problem), null, 'it was only held over the page');
});

test('of several files the OBJ is read, and said so', async (t) => {
  const { page, context } = await site.openPage(t);
  await page.evaluate(() => window.gridproof.idle());
  const held = await hand(t, page, context, { 'a.mtl': 'newmtl brass\n', 'b.obj': QUAD });
  await held.over();
  await page.locator('#veil').waitFor({ state: 'visible' });
  assert.match(await page.locator('#veil').innerText(), /2 files; several OBJs are told in a table/);
  await held.drop();
  await page.waitForFunction(() => window.gridproof.report());
  assert.equal(await page.locator('#file-name').innerText(), 'b.obj');
  assert.match(await page.locator('#notice').innerText(), /2 files were dropped.*b\.obj/);
});

test('dragged text is no file', async (t) => {
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
