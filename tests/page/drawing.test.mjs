// What is drawn, and what still is when drawing fails: lenses, keys, window sizes, no WebGL2, a lost context.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof } from './harness.mjs';

const site = gridproof();

const LENSES = ['grid', 'stretch', 'size', 'handedness', 'sharing'];

async function openDraft(t, options = {}) {
  const opened = await site.openPage(t, { path: null, ...options });
  if (options.before) await opened.page.addInitScript(options.before);
  await opened.page.goto(`${site.address}?demo=draft`);
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await opened.page.evaluate(() => window.gridproof.idle());
  return opened;
}

/** Different colours within an element as it is seen: an undrawn surface has one. */
async function coloursSeen(page, selector) {
  const png = await page.locator(selector).screenshot();
  return page.evaluate(async (base64) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
    const context = canvas.getContext('2d');
    context.drawImage(bitmap, 0, 0);
    const pixels = new Uint32Array(context.getImageData(0, 0, bitmap.width, bitmap.height).data.buffer);
    return new Set(pixels).size;
  }, png.toString('base64'));
}

/** Overlays in front of the drawing have some dozens of colours, a drawn model has thousands. */
const DRAWN_COLOURS = 300;

/** How far a channel of a redrawn picture may be off: one step of 8 bits, the rounding of a blend. */
const ROUNDING = 1;

/** Pixels that differ between two PNGs, and by how much at most in a channel. */
function difference(page, one, other) {
  return page.evaluate(async (both) => {
    const [a, b] = await Promise.all(both.map(async (base64) => {
      const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
      const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
      const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
      context.drawImage(bitmap, 0, 0);
      return context.getImageData(0, 0, bitmap.width, bitmap.height).data;
    }));
    const pixels = new Set();
    let most = 0;
    for (let at = 0; at < a.length; at += 1) {
      if (a[at] === b[at]) continue;
      pixels.add(at >> 2);
      most = Math.max(most, Math.abs(a[at] - b[at]));
    }
    return { pixels: pixels.size, of: a.length / 4, most };
  }, [one.toString('base64'), other.toString('base64')]);
}

test('keys 1 to 5 choose the lenses, and each draws another picture', async (t) => {
  const { page, shot } = await openDraft(t);
  const pictures = new Set();
  for (const [index, lens] of LENSES.entries()) {
    await page.keyboard.press(String(index + 1));
    await page.evaluate(() => window.gridproof.idle());
    assert.equal(await page.evaluate(() => window.gridproof.state().lens), lens);
    assert.equal(await page.locator(`[data-lens=${lens}]`).getAttribute('aria-pressed'), 'true');
    assert.ok((await page.locator('#legend-body').innerText()).length > 40, 'the lens explains itself');
    pictures.add((await page.locator('#surface-small').screenshot()).toString('base64'));
    await shot(`lens-${lens}`);
  }
  assert.equal(pictures.size, LENSES.length);
});

test('? lists the keys, and Escape closes the list', async (t) => {
  const { page, shot } = await openDraft(t);
  await page.keyboard.press('?');
  const help = page.locator('#help');
  assert.ok(await help.isVisible());
  assert.match(await help.innerText(), /Grid, Stretch, Size, Handedness, Sharing/);
  await shot('help');
  await page.keyboard.press('Escape');
  assert.ok(await help.isHidden());
});

for (const [label, width, height] of [['narrow', 390, 844], ['wide', 1440, 900]]) {
  for (const dark of [false, true]) {
    const theme = dark ? 'dark' : 'light';
    test(`${label} and ${theme}: the model is drawn, nothing sticks out`, async (t) => {
      const { page, shot } = await openDraft(t, { width, height, dark, touch: width < 700 });
      assert.ok((await coloursSeen(page, '#surface-large')) > DRAWN_COLOURS, 'the model is drawn');
      const { scroll, inner } = await page.evaluate(() => ({ scroll: document.documentElement.scrollWidth, inner: innerWidth }));
      assert.ok(scroll <= inner, `${scroll} px of content in ${inner} px`);
      await shot(`${label}-${theme}`);
      if (width < 700) {
        await page.locator('#drawer-handle').click();
        await page.locator('#cards .card').first().waitFor({ state: 'visible' });
        await page.waitForTimeout(400);
        await shot(`${label}-${theme}-drawer`);
      }
    });
  }
}

test('the empty page is whole in both themes', async (t) => {
  for (const dark of [false, true]) {
    const { page, shot } = await site.openPage(t, { dark });
    await page.evaluate(() => window.gridproof.idle());
    assert.ok(await page.locator('.dropzone').isVisible());
    assert.match(await page.locator('.privacy').innerText(), /Nothing is uploaded/);
    await shot(`empty-${dark ? 'dark' : 'light'}`);
  }
});

test('without WebGL2 findings and the drawn sheet work', async (t) => {
  const { page, shot } = await openDraft(t, {
    before: () => {
      const original = HTMLCanvasElement.prototype.getContext;
      HTMLCanvasElement.prototype.getContext = function (kind, ...rest) {
        return kind === 'webgl2' ? null : original.call(this, kind, ...rest);
      };
    },
  });
  assert.equal(await page.evaluate(() => window.gridproof.state().graphics), 'none');
  assert.match(await page.locator('#graphics').innerText(), /no WebGL2/);
  assert.match(await page.locator('#verdict').innerText(), /not ready/i);
  assert.ok((await coloursSeen(page, '#surface-large')) > DRAWN_COLOURS, 'the sheet is drawn');
  await shot('no-webgl2');
  const card = page.locator('#cards .card').first();
  await card.click();
  await page.evaluate(() => window.gridproof.idle());
  assert.match(page.url(), /#finding=/);
  await shot('no-webgl2-finding');
});

test('a lost context comes back with the model, and drawing goes on', async (t) => {
  const { page, shot } = await openDraft(t);
  const surface = page.locator('#surface-large');
  const before = await surface.screenshot();
  await page.evaluate(() => window.gridproof.loseContext());
  await page.waitForFunction(() => window.gridproof.state().graphics === 'lost');
  assert.match(await page.locator('#graphics').innerText(), /nothing is lost/);
  await page.evaluate(() => window.gridproof.restoreContext());
  await page.waitForFunction(() => window.gridproof.state().graphics === 'gl');
  await page.evaluate(() => window.gridproof.idle());
  assert.ok(await page.locator('#graphics').isHidden());
  const changed = await difference(page, before, await surface.screenshot());
  assert.ok(changed.most <= ROUNDING, `the same picture as before: ${JSON.stringify(changed)}`);
  const frames = await page.evaluate(() => window.gridproof.state().frames);
  await surface.focus();
  await page.keyboard.press('ArrowLeft');
  await page.evaluate(() => window.gridproof.idle());
  assert.ok((await page.evaluate(() => window.gridproof.state().frames)) > frames, 'frames go on');
  assert.ok(!before.equals(await surface.screenshot()), 'the model has turned');
  await shot('context-restored');
});
