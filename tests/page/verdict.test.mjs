// The verdict panel: the cause above the findings, many findings as one card, how far from ready, and what passes.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof } from './harness.mjs';

const site = gridproof();

/** Named strips; `length` is how many times too long each is on the sheet, below 0 flipped. */
function strips(lengths, { uv = true } = {}) {
  return lengths.map((length, number) => {
    const [x, v, at] = [2 * number, 0.05 + 0.06 * number, 4 * number];
    const [from, to] = [0.5 - 0.01 * length, 0.5 + 0.01 * length];
    const corners = [1, 2, 3, 4].map((corner) => (uv ? `${at + corner}/${at + corner}` : at + corner)).join(' ');
    return `o strip${number}\nv ${x} 0 0\nv ${x + 1} 0 0\nv ${x + 1} 1 0\nv ${x} 1 0\n`
      + (uv ? `vt ${from} ${v}\nvt ${to} ${v}\nvt ${to} ${v + 0.02}\nvt ${from} ${v + 0.02}\n` : '') + `f ${corners}\n`;
  }).join('');
}

/** Squares with bricks that repeat three times either way. */
const bricks = [0, 1, 2].map((z) => `v 0 0 ${z}\nv 1 0 ${z}\nv 1 1 ${z}\nv 0 1 ${z}\nf ${[1, 2, 3, 4].map((corner) => `${4 * z + corner}/${corner}`).join(' ')}\n`).join('');
const BRICKS = `vt 0 0\nvt 3 0\nvt 3 3\nvt 0 3\n${bricks}`;

const idle = (page) => page.evaluate(() => window.gridproof.idle());

async function open(t, text, options) {
  const opened = await site.openPage(t, options);
  await opened.page.setInputFiles('#file-input', { name: 'model.obj', mimeType: 'model/obj', buffer: Buffer.from(text) });
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await idle(opened.page);
  return opened;
}

const SCREENS = { wide: {}, 'wide-dark': { dark: true }, narrow: { width: 390, height: 844, touch: true }, 'narrow-dark': { width: 390, height: 844, touch: true, dark: true } };

for (const [screen, options] of Object.entries(SCREENS)) {
  test(`the cause comes first, with its consequences folded below it: ${screen}`, async (t) => {
    const { page, shot } = await open(t, strips([-1, -3, -1, -1]), options);
    if (options.touch) await page.locator('#drawer-handle').click();
    const cause = page.locator('#cards > .cause');
    assert.match(await cause.locator('.cause-sentence').innerText(), /Everything is flipped: 100 % of the surface\. Mirror the whole layout/);
    assert.equal(await page.locator('#cards > li').first().getAttribute('data-cause'), 'all-flipped');
    assert.equal(await cause.locator('.card').first().isVisible(), false);
    assert.match(await page.locator('#to-ready').innerText(), /^100 % must fix/);
    await cause.locator(':scope > details > summary').click();
    assert.match(await cause.locator('.card').innerText(), /Flipped UVs on 4 parts/);
    await shot(`cause-${screen}`);
  });

  test(`findings of one kind on many parts share one card, and each part is shown: ${screen}`, async (t) => {
    const { page, shot } = await open(t, strips([3, 4, 5, 6, 1, 1]), options);
    if (options.touch) await page.locator('#drawer-handle').click();
    const card = page.locator('#cards > li', { hasText: 'Stretch on 4 parts' });
    await card.locator('summary').click();
    const places = card.locator('.place');
    await places.first().waitFor();
    assert.deepEqual(await places.locator('.place-name').allInnerTexts(), ['strip0', 'strip1', 'strip2', 'strip3']);
    await shot(`places-${screen}`);
    const before = await page.evaluate(() => window.gridproof.state().camera);
    await places.nth(2).click();
    await idle(page);
    const { finding, chosen, camera } = await page.evaluate(() => window.gridproof.state());
    assert.deepEqual([finding, chosen], ['stretch-on-many-0', [2]]);
    assert.notDeepEqual(camera, before, 'the camera flew there');
    assert.match(await page.locator('#to-ready').innerText(), /^67 % must fix/);
  });
}

test('a decision on that card applies to all its places', async (t) => {
  const { page } = await open(t, strips([3, 4, 5, 6, 1, 1]));
  const card = page.locator('#cards > li', { hasText: 'Stretch on 4 parts' });
  await card.locator('.card').click();
  await card.locator('[data-act=intended]').click();
  await page.fill('#decide-reason', 'a conveyor belt');
  await card.locator('button[type=submit]').click();
  await idle(page);
  const { to_ready: toReady, verdict } = await page.evaluate(() => window.gridproof.report());
  assert.deepEqual([toReady.must_fix_share, verdict === 'not ready'], [0, false]);
  assert.doesNotMatch(await page.locator('#to-ready').innerText(), /\d % must fix/);
});

test('for a repeating texture the page offers to judge it as one', async (t) => {
  const { page, shot } = await open(t, BRICKS);
  assert.equal(await page.locator('#cards > .cause').getAttribute('data-cause'), 'repeating');
  assert.match(await page.locator('#verdict').innerText(), /Have a look/);
  assert.equal((await page.locator('[data-act=judge-as]').innerText()).trim(), 'Judge as a repeating texture');
  await shot('cause-repeating');
});

test('without UVs no check that needs them passes', async (t) => {
  const { page, shot } = await open(t, strips([1, 1], { uv: false }));
  const chips = (await page.locator('#chips').innerText()).replace(/\s+/g, ' ');
  assert.match(chips, /3 clear/);
  assert.match(chips, /19 not judged/);
  assert.match(await page.locator('.cause-sentence').innerText(), /The model has no UVs/);
  await page.keyboard.press('r');
  assert.match(await page.locator('#brief-checks [data-kind=stretch]').innerText(), /not judged/);
  await shot('cause-no-uvs');
});
