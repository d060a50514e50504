// What is drawn, and what still is when drawing fails: lenses, keys, window sizes, no WebGL2, a lost context.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof, isDrawn, launch, still, withoutWebGL2 } from './harness.mjs';

const site = gridproof();

const LENSES = ['grid', 'stretch', 'density', 'flipped', 'overlaps', 'seams', 'text', 'picture'];

async function openDraft(t, options = {}) {
  const opened = await site.openPage(t, { path: null, ...options });
  if (options.before) await opened.page.addInitScript(options.before);
  await opened.page.goto(`${site.address}?demo=draft`);
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await opened.page.evaluate(() => window.gridproof.idle());
  return opened;
}

/** How far a channel of a redrawn picture may be off: one step of 8 bits, the rounding of a blend. */
const ROUNDING = 1;
/** Pixels that may differ by more: 12 of 653,248 did once with Mesa; cause unknown. */
const FEW = 50;

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

test('keys 1 to 8 select the lenses, and each draws a different picture', async (t) => {
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
  assert.match(await help.innerText(), /Grid, Stretch, Texel density, Flipped, Overlaps, Seams, Text, Picture/);
  await shot('help');
  await page.keyboard.press('Escape');
  assert.ok(await help.isHidden());
});

for (const [label, width, height] of [['narrow', 390, 844], ['wide', 1440, 900]]) {
  for (const dark of [false, true]) {
    const theme = dark ? 'dark' : 'light';
    test(`${label} and ${theme}: the model is drawn, nothing overflows`, async (t) => {
      const { page, shot } = await openDraft(t, { width, height, dark, touch: width < 700 });
      await isDrawn(page, '#surface-large');
      const { scroll, inner } = await page.evaluate(() => ({ scroll: document.documentElement.scrollWidth, inner: innerWidth }));
      assert.ok(scroll <= inner, `${scroll} px of content in ${inner} px`);
      await shot(`${label}-${theme}`);
      if (width < 700) {
        await page.locator('#drawer-handle').click();
        await page.locator('#cards .card').first().waitFor({ state: 'visible' });
        await still(page);
        await shot(`${label}-${theme}-drawer`);
      }
    });
  }
}

test('the empty page is complete in both themes', async (t) => {
  for (const dark of [false, true]) {
    const { page, shot } = await site.openPage(t, { dark });
    await page.evaluate(() => window.gridproof.idle());
    assert.ok(await page.locator('.dropzone').isVisible());
    assert.match(await page.locator('.privacy').innerText(), /Nothing is uploaded/);
    await shot(`empty-${dark ? 'dark' : 'light'}`);
  }
});

test('without WebGL2 findings and the drawn sheet work', async (t) => {
  const { page, shot } = await openDraft(t, { before: withoutWebGL2 });
  assert.equal(await page.evaluate(() => window.gridproof.state().graphics), 'none');
  assert.match(await page.locator('#graphics').innerText(), /no WebGL2/);
  assert.match(await page.locator('#verdict').innerText(), /not ready/i);
  await isDrawn(page, '#surface-large');
  await shot('no-webgl2');
  const pictures = new Set();
  for (const key of ['1', '2', '3', '4', '5', '6', '7', 'g']) {
    await page.keyboard.press(key);
    await page.evaluate(() => window.gridproof.idle());
    pictures.add((await page.locator('#surface-large').screenshot()).toString('base64'));
  }
  assert.equal(pictures.size, 8, 'every lens, and the grid without flags, is a different picture');
  await page.locator('#graphics-close').click();
  assert.ok(await page.locator('#graphics').isHidden());
  const card = page.locator('#cards .card').first();
  await card.click();
  await page.evaluate(() => window.gridproof.idle());
  assert.match(page.url(), /#finding=/);
  await shot('no-webgl2-finding');
});

test('without WebGL2 mirrored halves that overlap are drawn', async (t) => {
  // Two squares, welded where they meet.
  const squares = (left, right) => `v -1 0 0\nv 0 0 0\nv 1 0 0\nv -1 1 0\nv 0 1 0\nv 1 1 0\nvt ${left} .2\nvt ${right} .2\nvt ${left} .8\nvt ${right} .8\nf 1/2 2/1 5/3 4/4\nf 2/1 3/2 6/4 5/3\n`;
  const pictureOf = async (text) => {
    const { page } = await site.openPage(t, { path: null, reducedMotion: true });
    await page.addInitScript(withoutWebGL2);
    await page.goto(site.address);
    await page.setInputFiles('#file-input', { name: 'halves.obj', mimeType: '', buffer: Buffer.from(text) });
    await page.waitForFunction(() => window.gridproof?.report());
    await page.evaluate(() => window.gridproof.idle());
    return { page, png: await page.locator('#surface-large').screenshot() };
  };
  const { png: nothing } = await pictureOf(squares(0.2, 0.2));
  const { page, png: halves } = await pictureOf(squares(0.2, 0.8));
  const { pixels } = await difference(page, nothing, halves);
  assert.ok(pixels > 40_000, `only ${pixels} pixels show them`);
});

test('without WebGL2 strokes use the same ink/paper threshold', async (t) => {
  const { page } = await site.openPage(t, { path: null, reducedMotion: true });
  await page.addInitScript(withoutWebGL2);
  await page.goto(site.address);
  // A square, stretched 2.45 to 1: a colour that is a little too dark for ink (INK_FROM in src/lens.rs).
  await page.setInputFiles('#file-input', { name: 'wide.obj', mimeType: '', buffer: Buffer.from(`v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt .15 .35\nvt .85 .35\nvt .85 ${0.35 + 0.7 / 2.45}\nvt .15 ${0.35 + 0.7 / 2.45}\nf 1/1 2/2 3/3 4/4\n`) });
  await page.waitForFunction(() => window.gridproof?.report());
  await page.keyboard.press('2');
  await page.evaluate(() => window.gridproof.idle());
  const { ground, ink, paper, colour } = await page.evaluate(async () => {
    const engine = await import(new URL('wasm/gridproof.js', document.baseURI).href);
    const colour = [...engine.lens_colours('stretch', Float32Array.of(2.45))];
    const { width, height } = document.querySelector('#canvas');
    const { data } = document.querySelector('#canvas').getContext('2d').getImageData(0, 0, width, height);
    // Colours are quantised: a code or two off.
    const near = (at, rgb, by) => rgb.every((code, channel) => Math.abs(data[at + channel] - code) <= by);
    /** How far a pixel is from the colour of the square on the way to another: strokes are narrower than a pixel. */
    const share = (at, rgb) => {
      const way = rgb.map((code, channel) => code - colour[channel]);
      const dot = (a, b) => a.reduce((sum, part, channel) => sum + part * b[channel], 0);
      return dot([0, 1, 2].map((channel) => data[at + channel] - colour[channel]), way) / dot(way, way);
    };
    const box = [Infinity, Infinity, -Infinity, -Infinity];
    for (let at = 0; at < data.length; at += 4) {
      if (!near(at, colour, 3)) continue;
      const [x, y] = [(at / 4) % width, Math.floor(at / 4 / width)];
      box.splice(0, 4, Math.min(box[0], x), Math.min(box[1], y), Math.max(box[2], x), Math.max(box[3], y));
    }
    const counts = { ground: 0, ink: 0, paper: 0, colour };
    for (let y = box[1] + 9; y < box[3] - 8; y += 1) {
      for (let x = box[0] + 9; x < box[2] - 8; x += 1) {
        const at = 4 * (y * width + x);
        counts.ground += near(at, colour, 3) ? 1 : 0;
        counts.ink += share(at, [23, 38, 59]) > 0.5 ? 1 : 0;
        counts.paper += share(at, [251, 247, 236]) > 0.5 ? 1 : 0;
      }
    }
    return counts;
  });
  assert.ok(ground > 10_000, `the square is rgb(${colour}): ${ground} px`);
  assert.ok(paper > 500 && ink === 0, `${paper} px of paper, ${ink} of ink`);
});

test('a canvas without WebGL2 after its release still draws the sheet', async (t) => {
  const browser = await launch({ graphics: false });
  t.after(() => browser.close());
  const page = await browser.newPage();
  const thrown = [];
  page.on('pageerror', (error) => thrown.push(String(error)));
  await page.goto(`${site.address}?demo=draft`);
  await page.waitForFunction(() => window.gridproof?.report());
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.evaluate(() => window.gridproof.state().graphics), 'none');
  await isDrawn(page, '#surface-large');
  assert.deepEqual(thrown, []);
});

test('without canvas transfer the page draws on the main thread', async (t) => {
  const { page } = await openDraft(t, { before: () => delete HTMLCanvasElement.prototype.transferControlToOffscreen });
  assert.equal(await page.evaluate(() => window.gridproof.state().graphics), 'gl');
  assert.deepEqual(page.workers().filter((worker) => worker.url().endsWith('/painting.worker.js')), []);
  await isDrawn(page, '#surface-large');
  await isDrawn(page, '#surface-small');
});

/** Where the model's pixels are, CSS px of the area, with everything over the canvas hidden. */
async function modelBox(page) {
  const over = '.over, #sheet, #findings, .tiles';
  const show = (value) => page.evaluate(([selector, visibility]) => {
    for (const element of document.querySelectorAll(selector)) element.style.setProperty('visibility', visibility);
  }, [over, value]);
  const covers = await page.evaluate(() => {
    const area = document.getElementById('area').getBoundingClientRect();
    return ['lenses', 'legend', 'scale', 'sheet', 'findings'].map((id) => {
      const { left, top, right, bottom } = document.getElementById(id).getBoundingClientRect();
      return { id, left: left - area.left, top: top - area.top, right: right - area.left, bottom: bottom - area.top };
    });
  });
  await show('hidden');
  const png = (await page.locator('#area').screenshot()).toString('base64');
  await show('visible');
  return page.evaluate(async ([base64, covers]) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
    context.drawImage(bitmap, 0, 0);
    const { width, height } = bitmap;
    const pixels = new Uint32Array(context.getImageData(0, 0, width, height).data.buffer);
    const hole = covers.find(({ id }) => id === 'sheet');
    const ground = pixels[width * (height >> 1)];
    const box = { left: Infinity, top: Infinity, right: -Infinity, bottom: -Infinity, pixels: 0 };
    for (let y = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1) {
        const within = (cover) => x >= cover.left - 1 && x <= cover.right + 1 && y >= cover.top - 1 && y <= cover.bottom + 1;
        if (pixels[y * width + x] === ground || within(hole)) continue;
        box.left = Math.min(box.left, x);
        box.top = Math.min(box.top, y);
        box.right = Math.max(box.right, x + 1);
        box.bottom = Math.max(box.bottom, y + 1);
        box.pixels += 1;
      }
    }
    return { box, covers, size: [width, height] };
  }, [png, covers]);
}

for (const [label, width, height] of [['wide', 1280, 800], ['large', 1600, 1000], ['phone', 390, 844]]) {
  test(`${label}: the whole model is visible beside the panels over the 3D view`, async (t) => {
    const { page } = await openDraft(t, { width, height, touch: width < 700, reducedMotion: true });
    for (const pulled of width < 700 ? [false, true] : [false]) {
      if (pulled) {
        await page.locator('#drawer-handle').click();
        await still(page);
        await page.evaluate(() => window.gridproof.idle());
      }
      const { box, covers, size } = await modelBox(page);
      assert.ok(box.pixels > 5000, `the model is there: ${JSON.stringify(box)}`);
      assert.ok(box.left > 0 && box.top > 0 && box.right < size[0] && box.bottom < size[1], `nothing is cut off: ${JSON.stringify(box)}`);
      for (const { id, left, top, right, bottom } of covers) {
        const beside = box.right <= left || box.left >= right || box.bottom <= top || box.top >= bottom;
        assert.ok(beside, `${id} covers the model: ${JSON.stringify({ box, left, top, right, bottom, pulled })}`);
      }
    }
  });
}

test('going to any finding brings its surface into view', async (t) => {
  const { page } = await openDraft(t, { reducedMotion: true });
  const count = await page.locator('#cards .card').count();
  for (let at = 0; at < count; at += 1) {
    await page.locator('#cards .card').nth(at).click();
    await page.evaluate(() => window.gridproof.idle());
    const { finding, target } = await page.evaluate(() => {
      const { finding, camera } = window.gridproof.state();
      return { finding, target: camera.target };
    });
    const { box } = await modelBox(page);
    assert.ok(box.pixels > 5000, `${finding}: ${box.pixels} px of the model around ${target}`);
  }
});

test('a map of tiles: paper and numbers only on its tiles', async (t) => {
  const { page, shot } = await site.openPage(t);
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#brief-open').click();
  await page.selectOption('#brief-map-tiles', 'udim');
  await page.locator('#brief-close').click();
  const quad = (u, v, at) => `v ${at} 0 0\nv ${at + 1} 0 0\nv ${at + 1} 1 0\nv ${at} 1 0\nvt ${u + 0.1} ${v + 0.1}\nvt ${u + 0.9} ${v + 0.1}\nvt ${u + 0.9} ${v + 0.9}\nvt ${u + 0.1} ${v + 0.9}\nf -4/-4 -3/-3 -2/-2 -1/-1\n`;
  await page.setInputFiles('#file-input', { name: 'tiles.obj', mimeType: 'model/obj', buffer: Buffer.from(quad(0, 0, 0) + quad(1, 1, 2)) });
  await page.waitForFunction(() => window.gridproof.report());
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await page.evaluate(() => window.gridproof.report().sheet.tiles), [1001, 1012]);
  await page.keyboard.press('m');
  await page.evaluate(() => window.gridproof.idle());
  await shot('tiles');
  const labels = await page.locator('#tiles .tile').evaluateAll((all) => all.map((label) => ({ text: label.textContent, box: label.getBoundingClientRect().toJSON() })));
  assert.deepEqual(labels.map(({ text }) => text), ['1001', '1012']);
  const [first, second] = labels.map(({ box }) => box);
  assert.ok(second.x > first.x + 50 && second.y < first.y - 50, 'one tile to the right and one up');
  await page.keyboard.press('m');
  await page.locator('#surface-small').hover();
  await page.evaluate(() => window.gridproof.idle());
});

/** From two million triangles on the browser stores a model's corners. */
const STORED_FROM = 'STORED_FROM = 2 ** 21';
for (const size of ['', 'large ']) test(`a lost context is restored with the ${size}model, and drawing continues`, async (t) => {
  const { page, shot } = await site.openPage(t, { path: null });
  // To have a small model stored as large ones are.
  if (size) await page.route('**/www/stage/painting.js', async (route) => {
    const response = await route.fetch();
    const text = await response.text();
    assert.ok(text.includes(STORED_FROM));
    await route.fulfill({ response, body: text.replace(STORED_FROM, 'STORED_FROM = 1') });
  });
  await page.goto(`${site.address}?demo=draft`);
  await page.waitForFunction(() => window.gridproof?.report());
  await page.evaluate(() => window.gridproof.idle());
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
  assert.ok(changed.most <= ROUNDING || changed.pixels <= FEW, `the same picture as before: ${JSON.stringify(changed)}`);
  const frames = await page.evaluate(() => window.gridproof.state().frames);
  await surface.focus();
  await page.keyboard.press('ArrowLeft');
  await page.evaluate(() => window.gridproof.idle());
  assert.ok((await page.evaluate(() => window.gridproof.state().frames)) > frames, 'frames continue');
  assert.ok(!before.equals(await surface.screenshot()), 'the model has turned');
  await shot('context-restored');
});
