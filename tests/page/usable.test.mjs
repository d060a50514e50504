// The page on small screens and beside open panels: the selection is visible with its number and advice, opened panels do
// not cover the model, and a view stored on a wide screen shows the same on a narrow one.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { gridproof, ROOT } from './harness.mjs';

const site = gridproof();

const idle = (page) => page.evaluate(() => window.gridproof.idle());

async function openDraft(t, options = {}) {
  const opened = await site.openPage(t, { path: '?demo=draft', reducedMotion: true, ...options });
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await idle(opened.page);
  return opened;
}

/** Rectangles as left, top, right, bottom; an element that is not shown has none. */
const boxOf = (page, selector) => page.evaluate((name) => {
  const element = document.querySelector(name);
  if (!element || element.getClientRects().length === 0) return null;
  const { left, top, right, bottom } = element.getBoundingClientRect();
  return [left, top, right, bottom];
}, selector);
/** All of the draft's corners, as they are in its file. */
const POINTS = readFileSync(join(ROOT, 'demo', 'lantern-draft.obj'), 'utf8').split('\n').filter((line) => line.startsWith('v ')).flatMap((line) => line.split(' ').slice(1, 4).map(Number));
/** Positions of points on the screen. */
async function seenOf(page, points = POINTS) {
  const seen = await page.evaluate((given) => window.gridproof.seen(given), points);
  const [x, y] = [0, 1].map((axis) => seen.filter((_, at) => at % 2 === axis));
  return [Math.min(...x), Math.min(...y), Math.max(...x), Math.max(...y)];
}
const overlap = (a, b) => a && b && a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
const within = (inner, outer, off = 1) => inner[0] >= outer[0] - off && inner[1] >= outer[1] - off && inner[2] <= outer[2] + off && inner[3] <= outer[3] + off;

/** Fails where the target of the selected finding's view is covered. */
async function assertUncovered(page, when) {
  const target = await page.evaluate(() => window.gridproof.report().findings.find(({ id }) => id === window.gridproof.state().finding).camera.target);
  const [x, y] = await seenOf(page, target);
  const over = await page.evaluate(([left, top]) => document.elementFromPoint(left, top)?.closest('[id]')?.id, [x, y]);
  assert.ok(['surface-large', 'pins-model'].includes(over), `${when}: ${over} covers ${x}, ${y}`);
}

for (const [label, width, height, touch] of [['phone', 390, 844, true], ['small', 360, 640, true], ['zoom', 640, 360, false]]) {
  test(`${label}: the selection is visible beside its number and advice, and not hidden by the legend`, async (t) => {
    const { page, shot } = await openDraft(t, { width, height, touch });
    assert.equal(await boxOf(page, '#reading'), null, 'an empty strip takes no space');
    for (const step of [0, 1]) {
      await page.keyboard.press('.');
      await idle(page);
      const finding = await page.evaluate(() => window.gridproof.report().findings.find(({ id }) => id === window.gridproof.state().finding));
      const [text, advice] = await Promise.all(['#findings-chosen-number', '#findings-chosen-advice'].map((name) => page.locator(name).innerText()));
      assert.ok(text.startsWith(finding.number.text), text);
      assert.equal(advice, finding.advice);
      const [card, area] = [await boxOf(page, '#findings-chosen'), await boxOf(page, '#area')];
      assert.ok(within(card, [0, 0, width, height]), `the advice is on the screen: ${card}`);
      assert.ok(!overlap(card, area), `${card} is beside the 3D view, ${area}`);
      await assertUncovered(page, `finding ${step}`);
      await shot(`usable-${label}-finding-${step}`);
    }
    await page.locator('#legend-fold').click();
    await idle(page);
    await shot(`usable-${label}-legend`);
    await assertUncovered(page, 'with the legend');
    await page.locator('#legend-fold').click();
    await page.locator('#findings-chosen-clear').click();
    await page.keyboard.press('0');
    await idle(page);
    await page.locator('#legend-fold').click();
    await idle(page);
    assert.ok(!overlap(await seenOf(page), await boxOf(page, '#legend')), 'the whole model is seen beside the legend');
    const small = await page.evaluate(() => [...document.querySelectorAll('button, select, input')].filter((element) => {
      const { width, height } = element.getBoundingClientRect();
      return element.checkVisibility() && !element.closest('.unseen') && width > 0 && (width < 24 || height < 24) && !element.closest('label');
    }).map((element) => element.id || element.className));
    assert.deepEqual(small, [], 'targets are 24 px at least');
  });
}

test('smallest screen: the tools of the 3D view end above the sheet', async (t) => {
  const { page, shot } = await openDraft(t, { path: '?demo=revised', width: 320, height: 640, touch: true });
  await shot('usable-least');
  const [tools, sheet] = [await boxOf(page, '.tools'), await boxOf(page, '#sheet')];
  assert.ok(tools && sheet && !overlap(tools, sheet), `${tools} covers ${sheet}`);
});

test('wide: open panels and legends do not hide the model; pins avoid text', async (t) => {
  const { page, shot } = await openDraft(t);
  for (const [lens, panel] of [['1', 'r'], ['3', 'r'], ['3', 'c'], ['7', 'r']]) {
    await page.locator('#surface-large').focus();
    await page.keyboard.press(lens);
    await page.keyboard.press(panel);
    await idle(page);
    const dialog = panel === 'r' ? '#brief' : '#grid';
    const seen = await seenOf(page);
    for (const cover of ['#legend', '#sheet', '#lenses', dialog]) assert.ok(!overlap(seen, await boxOf(page, cover)), `lens ${lens}: the model, ${seen}, lies under ${cover}, ${await boxOf(page, cover)}`);
    if (lens === '3') await shot(`usable-wide-${panel}`);
    await page.locator(`${dialog}-close`).click();
    await idle(page);
  }
  // Beside the sheet all lenses are still visible.
  await page.keyboard.press('b');
  await idle(page);
  assert.ok(within(await boxOf(page, '.lens:last-child'), await boxOf(page, '#lenses')), 'the last lens is seen beside the sheet');
  await page.keyboard.press('b');
  // So do the versions, whose card repeats the dialog.
  await page.locator('#surface-large').focus();
  await page.keyboard.press('1');
  await page.setInputFiles('#file-input', join(ROOT, 'demo', 'lantern-revised.obj'));
  await page.waitForFunction(() => window.gridproof.report()?.file.name === 'lantern-revised.obj');
  await page.locator('#versions-details').click();
  await idle(page);
  await shot('usable-wide-versions');
  assert.ok(await page.locator('#versions').isHidden(), 'the dialog is not repeated');
  const seen = await seenOf(page);
  for (const cover of ['#legend', '#sheet', '#lenses', '.tools', '#compare']) assert.ok(!overlap(seen, await boxOf(page, cover)), `the model, ${seen}, lies under ${cover}, ${await boxOf(page, cover)}`);
  await page.locator('#compare-close').click();
  await idle(page);
  assert.ok(await page.locator('#versions').isVisible(), 'its card is back');
  await page.goto(`${site.address}?demo=draft`);
  await page.waitForFunction(() => window.gridproof?.report());
  await idle(page);
  // A note on the chosen finding; then the model is moved until its pin would lie on the scale's text.
  await page.keyboard.press('.');
  await idle(page);
  await page.locator('[data-act=comment]').click();
  await page.locator('#note-text').fill('here');
  await page.keyboard.press('Control+Enter');
  await idle(page);
  const pin = page.locator('#pins-model .pin');
  const [from, scale] = [await pin.boundingBox(), await page.locator('#scale').boundingBox()];
  const [x, y] = [from.x + from.width / 2, from.y + from.height];
  await page.mouse.move(x + 30, y + 30);
  await page.mouse.down({ button: 'right' });
  await page.mouse.move(x + 30 + scale.x + scale.width / 2 - x, y + 30 + scale.y + scale.height - 4 - y, { steps: 4 });
  await page.mouse.up({ button: 'right' });
  await idle(page);
  await shot('usable-wide-pin');
  assert.ok(await pin.isHidden(), 'no pin on the scale bar');
});

test('a view stored at 1280 x 800 shows the same part of the model on a phone', async (t) => {
  const { page } = await openDraft(t);
  // Lying on its side, so that it is wide.
  for (const key of ['u', 'u', '0']) await page.keyboard.press(key);
  await page.locator('#surface-large').focus();
  await page.keyboard.press('ArrowLeft');
  await page.waitForFunction(() => window.gridproof.state().camera);
  await idle(page);
  const seen = await seenOf(page);
  assert.ok(within(seen, await boxOf(page, '#area')), 'all of it is visible');
  assert.ok(seen[2] - seen[0] > seen[3] - seen[1], `it is wide: ${seen}`);
  await page.keyboard.press('l');
  await page.locator('[name=share-whom][value=owner]').check();
  await page.locator('[data-kind=view] .share-link').waitFor();
  const link = await page.locator('[data-kind=view] .share-link').inputValue();
  for (const [width, height] of [[390, 844], [1280, 800]]) {
    const other = await site.openPage(t, { path: null, width, height, touch: width < 600, reducedMotion: true });
    await other.page.goto(link);
    await other.page.waitForFunction(() => window.gridproof?.report());
    await idle(other.page);
    await other.shot(`usable-link-${width}`);
    const there = await seenOf(other.page);
    assert.ok(within(there, await boxOf(other.page, '#area')), `${width}: ${there} is cut by ${await boxOf(other.page, '#area')}`);
    if (width === 1280) assert.ok(Math.abs((there[2] - there[0]) / (seen[2] - seen[0]) - 1) < 0.02, `as large as it was: ${there}, ${seen}`);
  }
});
