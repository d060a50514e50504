// The sheet as a picture: grid under patterns, many layers, far shells, its card enlarged, circles under Stretch.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof, withoutWebGL2 } from './harness.mjs';

const site = gridproof();

const idle = (page) => page.evaluate(() => window.gridproof.idle());
const state = (page) => page.evaluate(() => window.gridproof.state());

async function press(page, key) {
  await page.keyboard.press(key);
  await idle(page);
}

/** Opens the text of an OBJ. */
async function open(t, obj, { flat, ...options } = {}) {
  const opened = await site.openPage(t, { path: null, reducedMotion: true, ...options });
  const { page } = opened;
  if (flat) await page.addInitScript(withoutWebGL2);
  await page.goto(site.address);
  await idle(page);
  await page.setInputFiles('#file-input', { name: 'test.obj', mimeType: 'model/obj', buffer: Buffer.from(obj) });
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  return opened;
}

/** A square of side 1 in space at (x, 0, z), with the uv square from (u, v) to (u + du, v + dv); du below 0 flips it. */
function square([u, v, du, dv], [x, z] = [0, 0], name = '') {
  const corners = [[0, 0], [1, 0], [1, 1], [0, 1]];
  return [
    ...(name ? [`o ${name}`] : []),
    ...corners.map(([a, b]) => `v ${x + a} ${b} ${z}`),
    ...corners.map(([a, b]) => `vt ${u + a * du} ${v + b * dv}`),
    'f -4/-4 -3/-3 -2/-2 -1/-1',
  ].join('\n');
}

/** RGBA of the middle of an element's screenshot, with everything over it hidden; `share` of its sides. */
async function middle(page, selector, share = 1) {
  const show = (visibility) => page.evaluate((value) => {
    for (const element of document.querySelectorAll('.over, .gaps, .far, .tiles, .sheet-head')) element.style.setProperty('visibility', value);
  }, visibility);
  await show('hidden');
  const { x, y, width, height } = await page.locator(selector).boundingBox();
  const side = Math.floor(Math.min(width, height) * share);
  const png = await page.screenshot({ clip: { x: Math.round(x + (width - side) / 2), y: Math.round(y + (height - side) / 2), width: side, height: side } });
  await show('visible');
  const pixels = await page.evaluate(async (base64) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
    context.drawImage(bitmap, 0, 0);
    const { data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
    const letters = [];
    for (let from = 0; from < data.length; from += 8192) letters.push(String.fromCharCode(...data.subarray(from, from + 8192)));
    return btoa(letters.join(''));
  }, png.toString('base64'));
  // As a string: an array of a million numbers takes the driver minutes.
  return Buffer.from(pixels, 'base64');
}

/** Weighted mean of the codes of each pixel, 0..1. */
function lights(rgba) {
  const found = [];
  for (let at = 0; at < rgba.length; at += 4) found.push((0.2126 * rgba[at] + 0.7152 * rgba[at + 1] + 0.0722 * rgba[at + 2]) / 255);
  return found;
}

const mean = (values) => values.reduce((sum, value) => sum + value, 0) / values.length;

for (const flat of [false, true]) {
  const surface = flat ? '#surface-large' : '#surface-small';
  const label = flat ? ', without WebGL2' : '';

  test(`2,000 stacked squares leave the sheet readable, under every lens${label}`, async (t) => {
    // Each a little off the one before, so that outlines do not coincide.
    const layers = Array.from({ length: 2000 }, (_, at) => square([0.1 + 0.0001 * at, 0.1 + 0.00007 * at, 0.6, 0.6], [0, 0.01 * at]));
    const { page, shot } = await open(t, layers.join('\n'), { flat });
    for (const [key, lens] of [['1', 'grid'], ['2', 'stretch'], ['4', 'flipped'], ['5', 'overlaps'], ['6', 'seams'], ['7', 'text']]) {
      await press(page, key);
      const all = lights(await middle(page, surface, 0.7));
      const light = mean(all);
      // Half grey is 0.5; the darkest line of a pattern may be darker, an area may not.
      assert.ok(light > 0.3 && light < 0.97, `${lens}: mean ${light.toFixed(3)}`);
      const black = all.filter((value) => value < 0.1).length / all.length;
      assert.ok(black < 0.05, `${lens}: ${(black * 100).toFixed(1)} % black`);
    }
    await press(page, '1');
    await shot(`sheet-layers${flat ? '-flat' : ''}`);
  });

  test(`the grid stays readable under a problem pattern${label}`, async (t) => {
    // One cell of 64 px is some 60 px of the screen: 0.25 of the map has 8 of them.
    const { page, shot } = await open(t, square([0.5, 0.25, -0.25, 0.25]), { flat, width: 1400, height: 1000 });
    assert.equal((await state(page)).leaning, false, 'tilt is off by default');
    const place = '#surface-large';
    if (flat) {
      // By default the sheet is too small to be read: a finding zooms in.
      await page.locator('#cards summary').first().click();
      await page.locator('[data-finding]').first().click();
      await press(page, '1');
    }
    const share = flat ? 0.2 : 0.3;
    const wearing = lights(await middle(page, place, share));
    await shot(`grid-under-pattern${flat ? '-flat' : ''}`);
    await press(page, 'g');
    const bare = lights(await middle(page, place, share));
    // The drawn sheet's grid is pale: ink is what is darker than most by this much.
    const usual = (all) => all.toSorted((a, b) => a - b)[Math.floor(all.length * 0.8)];
    const [paperBare, paperWearing] = [usual(bare), usual(wearing)];
    const ink = bare.map((light) => light < paperBare - (flat ? 0.25 : 0.4));
    const inked = ink.filter(Boolean).length;
    assert.ok(inked > 200, `${inked} px of the grid's ink`);
    const paled = ink.filter((is, at) => is && wearing[at] > bare[at] + 0.02).length / inked;
    assert.ok(paled < 0.02, `the pattern hides ${(paled * 100).toFixed(1)} % of it`);
    const paper = paperWearing / paperBare;
    assert.ok(paper > 0.85, `paper keeps ${(paper * 100).toFixed(1)} % of its light`);
    const marks = wearing.filter((light, at) => !ink[at] && light < bare[at] * paper - 0.2).length / (ink.length - inked);
    assert.ok(marks > 0.01 && marks < 0.15, `the pattern's marks take ${(marks * 100).toFixed(1)} % of the rest`);
  });

  test(`a far shell does not shrink the tile, and a mark at the border leads there and back${label}`, async (t) => {
    const near = square([0.1, 0.1, 0.8, 0.8], [0, 0], 'plate');
    const far = square([40.25, 0.25, 0.5, 0.5], [2, 0], 'lost');
    // CSS px of the screen a unit of u, from what the page finds under two places.
    const scale = async (page) => {
      const { x, y, width, height } = await page.locator(surface).boundingBox();
      const at = async (dx) => {
        await page.mouse.move(x + width / 2 + dx, y + height / 2 + 20);
        await page.waitForFunction(() => window.gridproof.state().under);
        await idle(page);
        return (await state(page)).under.u;
      };
      return 40 / ((await at(20)) - (await at(-20)));
    };
    const alone = await open(t, near, { flat });
    const before = await scale(alone.page);
    assert.ok(await alone.page.locator('#far').getByRole('button').count() === 0, 'nothing is far');
    const { page, shot } = await open(t, `${near}\n${far}`, { flat });
    const now = await scale(page);
    assert.ok(Math.abs(now / before - 1) < 0.02, `${now.toFixed(1)} px a tile, ${before.toFixed(1)} without the far shell`);
    const marks = page.locator('#far').getByRole('button');
    assert.equal(await marks.count(), 1);
    assert.match(await marks.innerText(), /39\.3\s*tiles/);
    assert.match(await marks.getAttribute('aria-label'), /39\.3\s*tiles away: show .*lost/);
    const [mark, place] = [await marks.boundingBox(), await page.locator(surface).boundingBox()];
    assert.ok(mark.x >= place.x && mark.x + mark.width <= place.x + place.width && mark.x > place.x + place.width / 2, 'at the right border');
    await shot(`far-shell${flat ? '-flat' : ''}`);
    await marks.focus();
    await page.keyboard.press('Enter');
    await idle(page);
    // In the middle of the uncovered area.
    const [sheet, legend] = [place, flat ? await page.locator('#legend').boundingBox() : { x: place.x, width: 0 }];
    await page.mouse.move((legend.x + legend.width + sheet.x + sheet.width) / 2, sheet.y + sheet.height / 2);
    await page.waitForFunction(() => window.gridproof.state().under?.u > 40);
    await page.getByRole('button', { name: 'Back to the tiles' }).click();
    await idle(page);
    assert.ok(Math.abs((await scale(page)) / before - 1) < 0.02, 'the tile is shown again');
  });

  test(`Stretch shows circles on the grid${label}`, async (t) => {
    // Nothing is stretched, so that no stroke is drawn; a cell is some 25 px wide on the sheet, and more on the model.
    const { page, shot } = await open(t, square([0.3, 0.3, 0.4, 0.4]), { flat, width: 1400, height: 1000 });
    await press(page, '2');
    for (const place of flat ? ['#surface-large'] : ['#surface-large', '#surface-small']) {
      const all = lights(await middle(page, place, 0.2));
      const paper = Math.max(...all);
      const line = all.filter((light) => light < paper - 0.12).length / all.length;
      assert.ok(line > 0.03 && line < 0.35, `${place}: circles take ${(line * 100).toFixed(1)} %`);
    }
    assert.match(await page.locator('#legend-body').innerText(), /circles are those of the grid's cells/);
    await shot(`stretch-circles${flat ? '-flat' : ''}`);
  });
}

for (const [width, height] of [[1280, 800], [390, 844]]) {
  test(`the sheet can be enlarged at ${width} px, by mouse and keyboard`, async (t) => {
    const { page, shot } = await open(t, square([0.1, 0.1, 0.8, 0.8]), { width, height });
    const size = async () => page.locator('#surface-small').boundingBox();
    const before = await size();
    const button = page.locator('#enlarge');
    await button.click();
    await idle(page);
    assert.equal(await button.getAttribute('aria-pressed'), 'true');
    const now = await size();
    const area = await page.locator('#area').boundingBox();
    assert.ok(now.width * now.height > 3.5 * before.width * before.height, JSON.stringify({ before, now }));
    assert.ok(now.x >= area.x && now.x + now.width <= area.x + area.width && now.y >= area.y && now.y + now.height <= area.y + area.height, 'within the 3D view');
    if (width > 1000) assert.ok(now.width >= 560 && now.height >= 520, JSON.stringify(now));
    const [findings, lenses] = await Promise.all(['#findings', '#lenses'].map((selector) => page.locator(selector).boundingBox()));
    for (const box of width > 1000 ? [findings, lenses] : [lenses]) {
      assert.ok(box.x + box.width <= now.x || box.y + box.height <= now.y, 'findings and lenses stay visible');
    }
    await shot(`sheet-enlarged-${width}`);
    await press(page, 'e');
    assert.deepEqual(await size(), before);
    await press(page, 'e');
    assert.deepEqual(await size(), now);
  });
}
