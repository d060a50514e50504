// Single keys: never lost where no field has the focus, never taken from what is typed.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof } from './harness.mjs';

const site = gridproof();

const idle = (page) => page.evaluate(() => window.gridproof.idle());

async function openDraft(t, options = {}) {
  const opened = await site.openPage(t, { path: '?demo=draft', ...options });
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await idle(opened.page);
  return opened;
}

test('a key that comes before the browser has drawn a closed dialog away is not lost', async (t) => {
  const { page } = await openDraft(t);
  await page.keyboard.press('s');
  await page.locator('#save input[value="stage"]').check();
  const [wasInside, isShared] = await page.evaluate(() => {
    const save = document.getElementById('save');
    save.close();
    const focused = document.activeElement;
    focused.dispatchEvent(new KeyboardEvent('keydown', { key: 'l', bubbles: true, cancelable: true }));
    return [save.contains(focused), document.getElementById('share').open];
  });
  assert.ok(wasInside, 'the closed dialog still had the focus');
  assert.ok(isShared, 'the key was heard');
});
