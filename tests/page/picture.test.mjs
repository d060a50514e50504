// The Picture lens: the user's own picture and those of materials, on model and sheet; what is missing, damaged,
// too large or without a model. Pictures are made here, four fields of one colour each, so that up, down, left and right show.

import assert from 'node:assert/strict';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { crc32, deflateSync } from 'node:zlib';
import { BlobReader, BlobWriter, ZipWriter } from '@zip.js/zip.js';
import { violations } from './everybody.mjs';
import { hand } from './hand.mjs';
import { gridproof, withoutWebGL2 } from './harness.mjs';

const site = gridproof();

const RED = [220, 40, 40];
const GREEN = [40, 160, 60];
const BLUE = [40, 60, 200];
const PINK = [200, 40, 180];
const CLEAR = [0, 0, 0, 0];
/** From src/lens.rs. */
const PAPER = [251, 247, 236];

/** PNG (W3C Recommendation, third edition): eight bits a channel with alpha; fields from the top left, row by row. */
function png(width, height, [a, b, c, d]) {
  const chunk = (type, data) => {
    const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
    const ends = Buffer.alloc(8);
    ends.writeUInt32BE(data.length, 0);
    ends.writeUInt32BE(crc32(body), 4);
    return Buffer.concat([ends.subarray(0, 4), body, ends.subarray(4)]);
  };
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head.set([8, 6, 0, 0, 0], 8);
  const row = (left, right) => Buffer.from([0, ...Array.from({ length: width }, (_, x) => (x < width / 2 ? left : right)).flatMap((colour) => [...colour, 255].slice(0, 4))]);
  const [upper, lower] = [row(a, b), row(c, d)];
  const rows = Buffer.concat(Array.from({ length: height }, (_, y) => (y < height / 2 ? upper : lower)));
  return Buffer.concat([Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'), chunk('IHDR', head), chunk('IDAT', deflateSync(rows)), chunk('IEND', Buffer.alloc(0))]);
}

const FOUR = png(64, 64, [RED, GREEN, BLUE, PINK]);
const one = (colour, size = 16) => png(size, size, [colour, colour, colour, colour]);

/** A square that fills the tile, towards +z. */
const SQUARE = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nf 1/1 2/2 3/3 4/4\n';
/** Two squares of a material each, side by side in space and on the sheet, and a third one without any. */
const PAIR = [
  'mtllib maps/Pair.mtl',
  'v -10 0 0\nv -1 0 0\nv -1 9 0\nv -10 9 0\nv 1 0 0\nv 10 0 0\nv 10 9 0\nv 1 9 0\nv -10 -10 0\nv 10 -10 0\nv 10 -1 0\nv -10 -1 0',
  'vt 0.05 0.55\nvt 0.45 0.55\nvt 0.45 0.95\nvt 0.05 0.95\nvt 0.55 0.55\nvt 0.95 0.55\nvt 0.95 0.95\nvt 0.55 0.95\nvt 0.05 0.05\nvt 0.95 0.05\nvt 0.95 0.45\nvt 0.05 0.45',
  'f 9/9 10/10 11/11 12/12',
  'usemtl left side\nf 1/1 2/2 3/3 4/4',
  'usemtl right\nf 5/5 6/6 7/7 8/8',
].join('\n');
const PAIR_MTL = 'newmtl left side\nKd 0.2 0.2 0.2\nmap_Kd -mm 0 1 C:\\maps\\Left Map.PNG\nnewmtl right\nKd 0.16 0.63 0.24\nmap_Kd right.png\n';

const idle = (page) => page.evaluate(() => window.gridproof.idle());
const state = (page) => page.evaluate(() => window.gridproof.state());
/** Without the marks that keep names apart (UAX #9). */
const plain = (text) => text.replaceAll(/[\u2066-\u2069]/g, '').replaceAll('\u00a0', ' ');
const legend = async (page) => plain(await page.locator('#legend-body').innerText());
const notice = async (page) => plain(await page.locator('#notice').innerText());

async function open(t, { flat, path = '', ...options } = {}) {
  const opened = await site.openPage(t, { path: null, reducedMotion: true, ...options });
  if (flat) await opened.page.addInitScript(withoutWebGL2);
  await opened.page.goto(`${site.address}${path}`);
  await idle(opened.page);
  return opened;
}

/** Chooses files as the button does, which goes the same way as a drop. */
async function give(page, files) {
  const list = Object.entries(files).map(([name, content]) => ({ name, mimeType: /\.png$/i.test(name) ? 'image/png' : '', buffer: Buffer.from(content) }));
  await page.setInputFiles('#file-input', list);
  await idle(page);
}

/** Drops them through the browser's own drag events, and returns the message while dragging. */
async function drop(t, { page, context }, files) {
  const held = await hand(t, page, context, files);
  await held.over();
  await page.locator('#veil').waitFor({ state: 'visible' });
  const said = await page.locator('#veil').innerText();
  await held.drop();
  await page.locator('#veil').waitFor({ state: 'hidden' });
  await idle(page);
  return said;
}

/**
 * How many pixels of the canvas are of a colour, darkened by shading (between `least` of it and all), and where their
 * middle is. Everything over the canvas is hidden.
 */
async function seen(page, colour, { place = '#surface-large', least = 0.62, reach = 10 } = {}) {
  const visible = (value) => page.evaluate((visibility) => {
    for (const element of document.querySelectorAll('.over, #gaps, #tiles, #sheet header')) element.style.setProperty('visibility', visibility);
  }, value);
  await visible('hidden');
  await page.evaluate(() => new Promise((resolve) => { requestAnimationFrame(() => requestAnimationFrame(resolve)); }));
  const shot = await page.locator(place).screenshot();
  await visible('');
  return page.evaluate(async ([base64, colour, least, reach]) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
    context.drawImage(bitmap, 0, 0);
    const { data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
    const strongest = colour.indexOf(Math.max(...colour));
    let [count, x, y] = [0, 0, 0];
    for (let at = 0; at < data.length; at += 4) {
      const part = data[at + strongest] / colour[strongest];
      if (part < least || part > 1 + reach / 255) continue;
      if (!colour.every((channel, index) => Math.abs(data[at + index] - channel * part) <= reach)) continue;
      count += 1;
      x += (at / 4) % bitmap.width;
      y += Math.floor(at / 4 / bitmap.width);
    }
    return { count, x: x / count, y: y / count, of: data.length / 4 };
  }, [shot.toString('base64'), colour, least, reach]);
}

/** One after another: each hides parts of the page and shows them again. */
async function each(colours, ask) {
  const found = [];
  for (const colour of colours) found.push(await ask(colour));
  return found;
}

/** All four fields of FOUR are visible, each in its place. */
async function isUpright(page, how, least = 200) {
  const [red, green, blue, pink] = await each([RED, GREEN, BLUE, PINK], (colour) => seen(page, colour, how));
  const counts = Object.entries({ red, green, blue, pink }).map(([name, { count }]) => `${count} px of ${name}`);
  assert.ok([red, green, blue, pink].every(({ count }) => count > least), `${counts.join(', ')}; ${JSON.stringify(await state(page))}`);
  assert.ok(red.x < green.x && blue.x < pink.x, 'left is left');
  assert.ok(red.y < blue.y && green.y < pink.y, 'the first row is on top');
  return { red, green, blue, pink };
}

/** On the sheet a picture is not shaded. */
const AS_IT_IS = { least: 0.985, reach: 3 };

test('a picture dropped on a model is shown on model and sheet, and its lens is selected', async (t) => {
  const opened = await open(t);
  const { page, shot } = opened;
  await give(page, { 'square.obj': SQUARE });
  assert.equal((await state(page)).lens, 'grid');
  const said = await drop(t, opened, { 'photo.png': FOUR });
  assert.match(said, /Drop to see it on the model/);
  const { lens, pictures, notice: told } = await state(page);
  assert.deepEqual([lens, told, pictures.own, pictures.on, pictures.missing], ['picture', '', 'photo.png', 'all', []]);
  await isUpright(page);
  await isUpright(page, { place: '#surface-small', ...AS_IT_IS });
  assert.match(await legend(page), /photo\.png, 64 × 64 px/);
  await shot('picture-own');
  await page.keyboard.press('m');
  await idle(page);
  await isUpright(page, AS_IT_IS, 20_000);
  await shot('picture-own-sheet');
  // The same name again, as after more painting: it replaces the previous picture.
  await give(page, { 'Photo.png': one(GREEN) });
  assert.ok((await seen(page, GREEN, AS_IT_IS)).count > 4 * 20_000);
  assert.equal((await seen(page, RED)).count, 0);
  await page.focus('#picture-own');
  await page.selectOption('#picture-own', '');
  await idle(page);
  assert.equal(await page.evaluate(() => document.activeElement.id), 'picture-own', 'the keyboard stays where it was');
  assert.equal((await seen(page, GREEN)).count, 0);
});

test('on the lantern: every lens, wide, narrow, dark, accessible', async (t) => {
  for (const [name, options] of Object.entries({ wide: { width: 1440, height: 900 }, narrow: { width: 390, height: 844, touch: true }, dark: { dark: true } })) {
    const { page, shot } = await open(t, { path: '?demo=draft', ...options });
    await page.waitForFunction(() => window.gridproof.report());
    await give(page, { 'signal.png': png(512, 512, [RED, GREEN, BLUE, PINK]) });
    assert.equal((await state(page)).lens, 'picture');
    for (const colour of [RED, GREEN, BLUE, PINK]) assert.ok((await seen(page, colour)).count > 100, `${name}: ${colour}`);
    await shot(`picture-lantern-${name}`);
    assert.deepEqual(await violations(page, '#legend'), []);
    await page.keyboard.press('1');
    await page.keyboard.press('8');
    await idle(page);
    assert.equal((await state(page)).lens, 'picture');
  }
});

test('OBJ, MTL and two maps are one model, and each material shows its map', async (t) => {
  const opened = await open(t);
  const { page, shot } = opened;
  await drop(t, opened, { 'pair.obj': PAIR, 'pair.mtl': PAIR_MTL, 'left map.png': one(RED), 'Right.png': one(BLUE), 'roughness.png': one(PINK) });
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  const { lens, pictures, notice: told, model } = await state(page);
  assert.deepEqual([model.name, lens, told, pictures.missing], ['pair.obj', 'picture', '', []]);
  const [red, blue] = [await seen(page, RED), await seen(page, BLUE)];
  assert.ok(red.count > 1000 && blue.count > 1000 && red.x < blue.x, JSON.stringify([red, blue]));
  // A picture that no material names is used where there is none.
  assert.deepEqual([pictures.own, pictures.on], ['roughness.png', 'rest']);
  const pink = await seen(page, PINK);
  assert.ok(pink.count > 1000 && pink.y > red.y);
  assert.match(await legend(page), /left side\s+left map\.png, 16 × 16 px\s+right\s+Right\.png/);
  await shot('picture-materials');
  await page.selectOption('#picture-on', '=right');
  await idle(page);
  assert.equal((await seen(page, BLUE)).count, 0);
  assert.ok((await seen(page, PINK)).x > red.x && (await seen(page, RED)).count > 1000);
  await page.selectOption('#picture-on', 'all');
  await idle(page);
  assert.equal((await seen(page, RED)).count, 0);
  assert.ok((await seen(page, PINK)).count > red.count + blue.count);
  await page.selectOption('#picture-own', '');
  await idle(page);
  assert.ok((await seen(page, RED)).count > 1000 && (await seen(page, BLUE)).count > 1000 && (await seen(page, PINK)).count === 0);
});

test('a folder, or a zip of it, with one OBJ is one model too', async (t) => {
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-picture-'));
  t.after(() => rmSync(folder, { recursive: true }));
  mkdirSync(join(folder, 'pair', 'maps'), { recursive: true });
  const writer = new ZipWriter(new BlobWriter('application/zip'));
  for (const [name, content] of Object.entries({ 'pair.obj': PAIR, 'maps/pair.mtl': PAIR_MTL, 'maps/left map.png': one(RED), 'maps/right.png': one(BLUE) })) {
    writeFileSync(join(folder, 'pair', name), content);
    await writer.add(`pair/${name}`, new BlobReader(new Blob([content])));
  }
  writeFileSync(join(folder, 'pair.zip'), Buffer.from(await (await writer.close()).arrayBuffer()));
  for (const [input, path] of [['#folder-input', 'pair'], ['#file-input', 'pair.zip']]) {
    const { page } = await open(t);
    await page.setInputFiles(input, join(folder, path));
    await page.waitForFunction(() => window.gridproof.report());
    await idle(page);
    assert.deepEqual([(await state(page)).lens, (await state(page)).pictures.missing], ['picture', []], path);
    assert.ok((await seen(page, RED)).count > 1000 && (await seen(page, BLUE)).count > 1000, path);
  }
  // The pictures alone, later.
  const { page } = await open(t);
  await give(page, { 'pair.obj': PAIR });
  await page.waitForFunction(() => window.gridproof.report());
  await page.setInputFiles('#folder-input', join(folder, 'pair', 'maps'));
  await page.waitForFunction(() => window.gridproof.state().pictures.shown);
  await idle(page);
  assert.ok((await seen(page, RED)).count > 1000 && (await seen(page, BLUE)).count > 1000);
});

test('missing companion files are named, and complete the picture when added', async (t) => {
  const { page, shot } = await open(t);
  await give(page, { 'pair.obj': PAIR });
  await page.keyboard.press('8');
  await idle(page);
  assert.match(await legend(page), /Not here yet: Pair\.mtl\. Drop it on the page/);
  await shot('picture-missing-library');
  await give(page, { 'PAIR.MTL': PAIR_MTL, 'right.png': one(BLUE) });
  assert.match(await legend(page), /Not here yet: Left Map\.PNG\. Drop it on the page[\s\S]*Left Map\.PNG is missing; its plain colour/);
  assert.ok((await seen(page, [51, 51, 51], { least: 0.6, reach: 4 })).count > 1000, 'the plain colour until then');
  assert.ok((await seen(page, BLUE)).count > 1000);
  await shot('picture-missing-map');
  await give(page, { 'left map.png': one(RED) });
  assert.doesNotMatch(await legend(page), /Not here yet/);
  assert.ok((await seen(page, RED)).count > 1000 && (await seen(page, BLUE)).count > 1000);
  assert.equal((await state(page)).pictures.own, '', 'it completes the model and is not the user\'s own');
  // Another model with other libraries starts without pictures.
  await give(page, { 'square.obj': SQUARE });
  assert.deepEqual((await state(page)).pictures.missing, []);
  assert.equal((await seen(page, RED)).count, 0);
  assert.match(await legend(page), /Drop one on the page/);
});

test('options of a map: scale, offset, clamp; outside 0..1 it repeats', async (t) => {
  const { page } = await open(t);
  const twice = SQUARE.replaceAll('vt 1', 'vt 2').replaceAll(/(vt \d) 1/g, '$1 2').replace('v 0', 'mtllib s.mtl\nusemtl a\nv 0');
  const shares = async (options) => {
    await give(page, { 's.obj': twice, 's.mtl': `newmtl a\nmap_Kd ${options} four.png\n`, 'four.png': FOUR });
    await page.waitForFunction(() => window.gridproof.report());
    await idle(page);
    const found = await each([RED, GREEN, BLUE, PINK], (colour) => seen(page, colour));
    const all = found.reduce((sum, { count }) => sum + count, 0);
    assert.ok(all > 10_000);
    return found.map(({ count, x, y }) => ({ share: count / all, x, y }));
  };
  const even = (found, expected, what) => found.forEach(({ share }, at) => assert.ok(Math.abs(share - expected[at]) < 0.05, `${what}: ${found.map((one) => one.share.toFixed(3))}`));
  even(await shares(''), [0.25, 0.25, 0.25, 0.25], 'repeated');
  const [red, green, blue] = await shares('-s 0.5 0.5');
  even([red, green, blue], [0.25, 0.25, 0.25], 'scaled');
  assert.ok(red.x < green.x && red.y < blue.y, 'once over the square');
  // A quarter of the square shows the picture, the rest repeats its last column and row: red on top left, then green.
  even(await shares('-clamp on'), [0.25 * 0.25 + 0.5 * 0.25, 0.25 * 0.75 + 0.5 * 0.75, 0.25 * 0.25, 0.25 * 0.75], 'clamped');
  even(await shares('-s 0.25 0.25 -o 0.5 0'), [0, 0, 0, 1], 'moved to the lower right quarter');
});

test('a picture without a model is announced and used with the next model', async (t) => {
  const opened = await open(t);
  const { page, shot } = opened;
  assert.match(await drop(t, opened, { 'photo.png': FOUR }), /no model yet/);
  assert.match(await notice(page), /photo\.png is kept in this tab\. Drop the OBJ too/);
  assert.equal((await state(page)).problem, null);
  await shot('picture-no-model');
  await give(page, { 'square.obj': SQUARE });
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  assert.equal((await state(page)).lens, 'picture');
  await isUpright(page);
});

test('an unreadable picture is reported, and nothing is lost', async (t) => {
  const { page, shot } = await open(t);
  await give(page, { 'square.obj': SQUARE, 'photo.png': FOUR });
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  await isUpright(page);
  for (const [name, content] of [['torn.png', FOUR.subarray(0, 40)], ['photo.png', Buffer.from('no picture')], ['paint.psd', '8BPS']]) {
    await give(page, { [name]: content });
    assert.match(await notice(page), new RegExp(`${name.replace('.', '\\.')} could not be read as a picture: .*Save it as PNG, JPEG or WebP and drop it again`));
    const { pictures, model, lens } = await state(page);
    assert.deepEqual([pictures.own, model.name, lens], ['photo.png', 'square.obj', 'picture']);
    await isUpright(page);
  }
  await shot('picture-unreadable');
  // A picture named by a material is still listed.
  await give(page, { 'pair.obj': PAIR, 'pair.mtl': PAIR_MTL, 'left map.png': 'x', 'right.png': one(BLUE) });
  await page.waitForFunction(() => window.gridproof.state().model.name === 'pair.obj' && window.gridproof.report());
  await idle(page);
  assert.match(await legend(page), /Left Map\.PNG cannot be shown here; its plain colour/);
  assert.ok((await seen(page, BLUE)).count > 1000);
});

test('transparent parts show paper; a picture that is too large is reduced, with a message', async (t) => {
  const { page } = await open(t);
  await give(page, { 'square.obj': SQUARE, 'wide.png': png(6000, 30, [RED, CLEAR, BLUE, CLEAR]) });
  await page.waitForFunction(() => window.gridproof.report());
  await page.keyboard.press('m');
  await idle(page);
  assert.match(await legend(page), /wide\.png, 6000 × 30 px, reduced to 4096 × 20/);
  const [red, paper] = [await seen(page, RED, AS_IT_IS), await seen(page, PAPER, AS_IT_IS)];
  assert.ok(red.count > 20_000 && paper.count > 40_000 && paper.x > red.x, JSON.stringify([red, paper]));
});

test('a link to the lens asks for a picture if there is none', async (t) => {
  for (const [name, options] of Object.entries({ wide: {}, narrow: { width: 390, height: 844, touch: true } })) {
    const { page, shot } = await open(t, { path: '?demo=revised#lens=picture', ...options });
    await page.waitForFunction(() => window.gridproof.report());
    await idle(page);
    assert.equal((await state(page)).lens, 'picture');
    assert.ok(await page.locator('#picture-choose').isVisible());
    assert.match(await legend(page), /Drop one on the page \(PNG, JPEG or WebP\)/);
    await shot(`picture-asked-${name}`);
    const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.locator('#picture-choose').click()]);
    await chooser.setFiles([{ name: 'photo.png', mimeType: 'image/png', buffer: FOUR }]);
    await idle(page);
    assert.match(await legend(page), /photo\.png/);
    assert.match(new URL(page.url()).hash, /lens=picture/);
  }
});

test('without WebGL2 the drawn sheet shows the picture', async (t) => {
  const { page, shot } = await open(t, { flat: true });
  await give(page, { 'square.obj': SQUARE, 'photo.png': FOUR });
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  assert.equal((await state(page)).graphics, 'none');
  await isUpright(page, AS_IT_IS, 20_000);
  await shot('picture-flat');
  await give(page, { 'pair.obj': PAIR, 'pair.mtl': PAIR_MTL, 'left map.png': one(RED), 'right.png': one(BLUE) });
  await page.waitForFunction(() => window.gridproof.state().model.name === 'pair.obj' && window.gridproof.report());
  await idle(page);
  // Two materials with a picture each are two sheets, and one of them is shown.
  const both = async () => [(await seen(page, RED, AS_IT_IS)).count, (await seen(page, BLUE, AS_IT_IS)).count];
  const first = await both();
  assert.ok(first[0] > 5000 && first[1] === 0, `${first}`);
  await page.selectOption('#sheet-choice', await page.locator('#sheet-choice option', { hasText: 'right' }).getAttribute('value'));
  await idle(page);
  const second = await both();
  assert.ok(second[0] === 0 && second[1] > 5000, `${second}`);
});

test('pictures are restored after a lost context, and saved with the 3D view', async (t) => {
  const { page } = await open(t, { allow: [/WebGL.*CONTEXT_LOST/] });
  await give(page, { 'pair.obj': PAIR, 'pair.mtl': PAIR_MTL, 'left map.png': one(RED), 'right.png': one(BLUE) });
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  const before = await seen(page, RED);
  await page.evaluate(() => window.gridproof.loseContext());
  await page.waitForFunction(() => window.gridproof.state().graphics === 'lost');
  await page.evaluate(() => window.gridproof.restoreContext());
  await page.waitForFunction(() => window.gridproof.state().graphics === 'gl');
  await idle(page);
  const after = await seen(page, RED);
  assert.ok(before.count > 1000 && Math.abs(after.count - before.count) < before.count / 100, JSON.stringify([before, after]));
  await page.keyboard.press('s');
  await page.locator('#save').waitFor({ state: 'visible' });
  await page.check('input[name="what"][value="stage"]');
  const [download] = await Promise.all([page.waitForEvent('download'), page.locator('#save-go').click()]);
  const saved = readFileSync(await download.path());
  const reds = await page.evaluate(async ([base64, [r]]) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
    context.drawImage(bitmap, 0, 0);
    const { data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
    let count = 0;
    for (let at = 0; at < data.length; at += 4) if (data[at] > 0.6 * r && data[at + 1] < 60 && data[at + 2] < 60) count += 1;
    return count;
  }, [saved.toString('base64'), RED]);
  assert.ok(reds > 1000, `${reds} px`);
});

test('two versions have pictures of their own', async (t) => {
  const { page } = await open(t);
  await give(page, { 'pair.obj': PAIR, 'pair.mtl': PAIR_MTL, 'left map.png': one(RED), 'right.png': one(BLUE) });
  await page.waitForFunction(() => window.gridproof.report());
  await idle(page);
  await give(page, { 'pair-2.obj': `${PAIR}\n# later\n`, 'pair.mtl': PAIR_MTL, 'left map.png': one(GREEN), 'right.png': one(PINK) });
  await page.waitForFunction(() => window.gridproof.state().model.name === 'pair-2.obj' && window.gridproof.report());
  await idle(page);
  assert.ok((await seen(page, GREEN)).count > 1000 && (await seen(page, RED)).count === 0);
  await page.keyboard.press('v');
  await idle(page);
  assert.equal((await state(page)).model.name, 'pair.obj');
  assert.ok((await seen(page, RED)).count > 1000 && (await seen(page, GREEN)).count === 0);
});
