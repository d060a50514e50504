// What the lenses show and what their legends do: seams, text, tilt, gaps, plots, parts.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof, withoutWebGL2 } from './harness.mjs';

const site = gridproof();

async function ready(page) {
  await page.waitForFunction(() => window.gridproof?.report());
  await idle(page);
}

async function idle(page) {
  await page.evaluate(() => window.gridproof.idle());
}

const state = (page) => page.evaluate(() => window.gridproof.state());
const report = (page) => page.evaluate(() => window.gridproof.report());

/**
 * The draft lantern, or the text of another OBJ; `brief` is what the page starts with.
 */
async function open(t, { obj, brief, flat, ...options } = {}) {
  const opened = await site.openPage(t, { path: null, reducedMotion: true, ...options });
  const { page } = opened;
  if (brief) {
    await page.route('**/www/core/state.js', async (route) => {
      const response = await route.fetch();
      const text = await response.text();
      assert.ok(text.includes('brief: {},'));
      await route.fulfill({ response, body: text.replace('brief: {},', `brief: ${JSON.stringify(brief)},`) });
    });
  }
  if (flat) {
    await page.addInitScript(withoutWebGL2);
  }
  await page.goto(obj ? site.address : `${site.address}?demo=draft`);
  if (obj) {
    await idle(page);
    await page.setInputFiles('#file-input', { name: 'test.obj', mimeType: 'model/obj', buffer: Buffer.from(obj) });
  }
  await ready(page);
  return opened;
}

/** Pixels of an element's screenshot whose colour is within `reach` of `rgb` in every channel. */
async function pixelsLike(page, selector, rgb, reach = 24) {
  const png = await page.locator(selector).screenshot();
  return page.evaluate(async ([base64, [r, g, b], reach]) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
    context.drawImage(bitmap, 0, 0);
    const { data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
    let count = 0;
    for (let at = 0; at < data.length; at += 4) {
      if (Math.abs(data[at] - r) <= reach && Math.abs(data[at + 1] - g) <= reach && Math.abs(data[at + 2] - b) <= reach) count += 1;
    }
    return count;
  }, [png.toString('base64'), rgb, reach]);
}

async function lens(page, key) {
  await page.keyboard.press(key);
  await idle(page);
}

/** Model and sheet with everything over them hidden. */
async function bare(page) {
  const show = (value) => page.evaluate((visibility) => {
    for (const element of document.querySelectorAll('.over, #sheet')) element.style.setProperty('visibility', visibility);
  }, value);
  await show('hidden');
  const png = await page.locator('#surface-large').screenshot();
  await show('visible');
  return png;
}

const INK = [23, 38, 59];
/** The outline of what the brief wants fixed: Okabe and Ito's vermillion, darkened (partner_colour). */
const MENDED = [170, 75, 0];

/** A number of the page from its text. */
const numberIn = (text) => Number(text.replaceAll(',', '').match(/-?\d+(\.\d+)?/)?.[0]);

/** Within what three significant digits can show. */
function shows(text, value) {
  assert.ok(Math.abs(numberIn(text) - value) <= 0.0051 * Math.abs(value), `"${text}" shows ${value}`);
}

for (const flat of [false, true]) {
  test(`Seams: ink by exposure, numbers as in the report, isolated by exposure${flat ? ', without WebGL2' : ''}`, async (t) => {
    const { page, shot } = await open(t, { flat });
    if (!flat) await page.keyboard.press('m');
    await lens(page, '6');
    assert.equal((await state(page)).lens, 'seams');
    const { seams } = await report(page);
    const figures = await page.locator('.figures dd').allInnerTexts();
    assert.equal(figures.length, 4);
    shows(figures[0], seams.length);
    shows(figures[1], seams.share_in_front * 100);
    shows(figures[2], seams.front_over_diagonal);
    shows(figures[3], seams.exposure * 100);
    assert.match(figures[3], /±/);
    assert.equal(numberIn(figures[3].split('·')[1]), seams.rays);
    const all = await pixelsLike(page, '#surface-large', INK);
    assert.ok(all > 500, `${all} px of ink`);
    await shot(`lens-seams${flat ? '-flat' : ''}`);
    // The left half of the plot: seams in recesses. Exposed ones fade.
    const box = await page.locator('.chart').boundingBox();
    await page.mouse.move(box.x + 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width * 0.3, box.y + box.height / 2, { steps: 4 });
    await page.mouse.up();
    await idle(page);
    const { isolate } = await state(page);
    assert.ok(isolate[0] < 0.02 && Math.abs(isolate[1] - 0.3) < 0.02, JSON.stringify(isolate));
    const some = await pixelsLike(page, '#surface-large', INK);
    assert.ok(some < all / 2, `${some} px of ink are left of ${all}`);
    await page.locator('.isolate .text-button').click();
    await idle(page);
    assert.equal(await pixelsLike(page, '#surface-large', INK), all);
  });
}

test('Seams: the brief’s limit is shown beside the length of soft seams, and when it is exceeded', async (t) => {
  const { page } = await open(t, { brief: { seams: { max_front_over_diagonal: 0.1 } } });
  assert.ok((await report(page)).findings.some(({ kind }) => kind === 'seams'));
  await lens(page, '6');
  assert.match(await page.locator('.figures .is-over').innerText(), /Soft, in front[\s\S]*over the limit of 0.1/);
});

test('Text: shares as in the report, own labels, and the parts named by the brief are outlined', async (t) => {
  const plain = await open(t);
  await lens(plain.page, '7');
  const without = await pixelsLike(plain.page, '#surface-large', MENDED, 12);
  const { page, shot } = await open(t, { brief: { text: { groups: ['nameplate'] } } });
  await lens(page, '7');
  const { text, findings, handedness } = await report(page);
  const rows = await page.locator('#legend .swatches li').allInnerTexts();
  shows(rows.find((row) => row.startsWith('safe')).split('\n').at(-1), text.text_share * 100);
  shows(rows.find((row) => row.startsWith('flipped')).split('\n').at(-1), handedness.reversed_share * 100);
  const finding = findings.find(({ kind }) => kind === 'text');
  assert.ok(finding, 'the nameplate is flipped');
  assert.ok((await page.locator('#legend-body').innerText()).includes(finding.title));
  const outlined = await pixelsLike(page, '#surface-large', MENDED, 12);
  assert.ok(outlined > without + 40, `${outlined} px of outline, ${without} without it`);
  const before = await bare(page);
  const field = page.locator('#legend-words');
  await field.fill('NORTHLIGHT');
  await page.waitForFunction(() => window.gridproof.state().grid.words === 'NORTHLIGHT');
  await idle(page);
  assert.ok(await field.evaluate((element) => element === document.activeElement), 'typing is not interrupted');
  assert.ok(!before.equals(await bare(page)), 'the words are on the model');
  await shot('lens-lettering');
});

/** A square whose sheet is turned by quarter turns. */
function square(quarters) {
  const corners = [[0, 0], [1, 0], [1, 1], [0, 1]];
  const uvs = corners.map((_, at) => corners[(at + quarters) % 4]);
  return [
    ...corners.map(([x, y]) => `v ${x} ${y} 0`),
    ...uvs.map(([u, v]) => `vt ${0.1 + 0.8 * u} ${0.1 + 0.8 * v}`),
    'f 1/1 2/2 3/3 4/4',
  ].join('\n');
}

for (const [name, quarters, leaning] of [['upright', 0, false], ['sideways', 1, true], ['upside down', 2, true]]) {
  test(`tilt: ${name}, the grid has ${leaning ? '' : 'no '}tilt patterns, and the switch hides them`, async (t) => {
    const { page, shot } = await open(t, { obj: square(quarters) });
    const { shells } = await report(page);
    assert.equal(Math.abs(shells[0].tilt_deg) > 15, leaning, `${shells[0].tilt_deg}`);
    assert.equal((await state(page)).leaning, false, 'off by default');
    await page.keyboard.press('t');
    await idle(page);
    const on = await bare(page);
    await shot(`tilt-${name.replace(' ', '-')}`);
    await page.locator('#leaning').click();
    await idle(page);
    assert.equal((await state(page)).leaning, false);
    assert.equal(!on.equals(await bare(page)), leaning);
    await page.keyboard.press('t');
    await idle(page);
    assert.ok(await page.locator('#leaning').isChecked(), 'the switch follows the key');
    assert.ok(on.equals(await bare(page)), 'as it was');
  });
}

/** Three squares on the sheet: two 0.002 apart, one 0.002 from the border: 4.096 px of 2048. */
const NARROW = [[0.1, 0.1], [0.402, 0.1], [0.002, 0.6]].map(([u, v], at) => [
  `o square_${at}`,
  ...[[0, 0], [1, 0], [1, 1], [0, 1]].map(([x, y]) => `v ${x + 2 * at} ${y} 0`),
  ...[[0, 0], [0.3, 0], [0.3, 0.3], [0, 0.3]].map(([du, dv]) => `vt ${u + du} ${v + dv}`),
  'f -4/-4 -3/-3 -2/-2 -1/-1',
].join('\n')).join('\n');

for (const flat of [false, true]) {
  test(`gaps: marked on the sheet with their width; a finding shows its own gap and zone${flat ? ', without WebGL2' : ''}`, async (t) => {
    const { page, shot } = await open(t, { obj: NARROW, flat });
    const surface = flat ? '#surface-large' : '#surface-small';
    const { sheet, findings } = await report(page);
    assert.deepEqual(sheet.gaps.map(({ px }) => px.toFixed(3)), ['4.096', '4.096']);
    assert.deepEqual(await page.locator('#gaps .gap-label').allTextContents(), ['4.1\u00a0px', '4.1\u00a0px']);
    for (const kind of ['padding', 'border']) {
      assert.ok(findings.some((finding) => finding.kind === kind));
      await page.locator(`[data-finding^="${kind}"]`).click();
      await idle(page);
      assert.equal(await page.locator('#gaps .gap-label').count(), 1);
      assert.equal(await page.locator('#gaps .gap-zone').count(), 1);
      const [mark, place] = await Promise.all(['#gaps .gap-mark', surface].map((selector) => page.locator(selector).boundingBox()));
      const [x, y] = [mark.x + mark.width / 2 - place.x, mark.y + mark.height / 2 - place.y];
      assert.ok(x > 0 && y > 0 && x < place.width && y < place.height, `${kind}: the mark is at ${x}, ${y}`);
      // A px of the map is now more than a px of the screen: the mark is as wide as its number, plus its ends.
      assert.ok(mark.width > 20, `${mark.width} px wide`);
      await shot(`gaps-${kind}${flat ? '-flat' : ''}`);
    }
    await page.keyboard.press('Escape');
    await lens(page, '2');
    assert.ok(await page.locator('#gaps').isHidden(), 'not shown with other lenses');
  });
}

test('chips: padding and border each have one that filters their findings', async (t) => {
  const { page } = await open(t, { obj: NARROW, width: 1600 });
  for (const [kind, label] of [['padding', 'too close together'], ['border', 'too near the border']]) {
    const chip = page.locator(`#chips [data-kind=${kind}]`);
    assert.match(await chip.innerText(), new RegExp(label));
    assert.equal(await chip.locator('svg').count(), 1, 'a shape besides the colour');
    await chip.click();
    const shown = await page.locator('#cards .card').evaluateAll((all) => all.map((card) => card.dataset.finding));
    assert.equal(shown.length, 1);
    assert.ok(shown[0].startsWith(kind));
    await page.locator('#cards-all').click();
  }
  const chip = page.locator('#chips [data-kind=padding]');
  await chip.focus();
  for (const pressed of ['true', 'false']) {
    await page.keyboard.press('Enter');
    await idle(page);
    assert.equal(await chip.getAttribute('aria-pressed'), pressed);
    assert.ok(await chip.evaluate((own) => own === document.activeElement), 'it keeps the focus');
  }
});

for (const [key, name] of [['2', 'stretch'], ['3', 'density'], ['6', 'seams']]) {
  test(`plot of ${name}: isolates by mouse, touch and keyboard, with the brief's limits drawn`, async (t) => {
    const { page, context } = await open(t, { touch: true });
    await lens(page, key);
    const limits = await page.locator('.chart-limit').count();
    assert.equal(limits, { stretch: 2, density: 2, seams: 0 }[name]);
    const whole = await bare(page);
    const box = await page.locator('.chart').boundingBox();
    const y = box.y + box.height / 2;
    const [from, to] = [0.5, 0.9].map((part) => box.x + part * box.width);
    const isolated = async (how) => {
      await idle(page);
      const { isolate } = await state(page);
      assert.ok(isolate && isolate[0] < isolate[1], `${how}: ${isolate}`);
      assert.ok(!whole.equals(await bare(page)), `${how}: the rest fades`);
      await page.locator('.isolate .text-button').click();
      await idle(page);
      assert.equal((await state(page)).isolate, null);
      return isolate;
    };
    await page.mouse.move(from, y);
    await page.mouse.down();
    await page.mouse.move(to, y, { steps: 3 });
    await page.mouse.up();
    const byMouse = await isolated('mouse');

    const touch = await context.newCDPSession(page);
    const finger = (type, x) => touch.send('Input.dispatchTouchEvent', { type, touchPoints: x === null ? [] : [{ x, y }] });
    await finger('touchStart', from);
    for (const x of [0.6, 0.75].map((part) => box.x + part * box.width)) await finger('touchMove', x);
    await finger('touchMove', to);
    await finger('touchEnd', null);
    assert.deepEqual((await isolated('finger')).map((value) => value.toFixed(2)), byMouse.map((value) => value.toFixed(2)));

    const field = page.locator('.isolate input').first();
    const before = Number(await field.inputValue());
    await field.focus();
    for (let press = 0; press < 20; press += 1) await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Tab');
    assert.ok(Number(await field.inputValue()) > before, 'arrow keys raise the lower bound');
    await isolated('keyboard');
  });
}

test('Texel density: parts worst first; selecting one selects its shells', async (t) => {
  const { page } = await open(t);
  await lens(page, '3');
  const { density } = await report(page);
  const parts = page.locator('#legend .part');
  const names = await parts.locator('.part-name').allInnerTexts();
  assert.ok(names.length >= 3);
  assert.deepEqual(names, density.parts.slice(0, names.length).map(({ name }) => name));
  const off = density.parts.map(({ factor }) => Math.abs(Math.log2(factor)));
  assert.deepEqual(off, [...off].sort((a, b) => b - a));
  shows((await parts.first().locator('b').innerText()).replace('×', ''), density.parts[0].factor);
  await parts.first().click();
  await idle(page);
  assert.equal(await parts.first().getAttribute('aria-pressed'), 'true');
  const expected = density.parts[0].shells;
  assert.ok(expected.length > 0);
  assert.deepEqual((await state(page)).chosen, expected);
  await parts.first().click();
  assert.deepEqual((await state(page)).chosen, []);
});

test('Flipped and Overlaps show how much of the surface is of each kind', async (t) => {
  const { page } = await open(t);
  const { handedness } = await report(page);
  await lens(page, '4');
  const rows = await page.locator('#legend .swatches li').allInnerTexts();
  shows(rows[0].split('\n').at(-1), (1 - handedness.reversed_share) * 100);
  assert.match(rows[1], /shells? · [\d.]+\s%/);
  await lens(page, '5');
  const mirrored = await page.locator('#legend .swatches li').first().innerText();
  assert.match(mirrored, /pairs? · /);
  // Whole triangles: at least the overlapping area, and not much more.
  const [said, exact] = [numberIn(mirrored.split('·')[1]), handedness.mirrored_share * 100];
  assert.ok(said > exact - 0.01 && said < exact * 1.2, `${said} % by triangles, ${exact} % exactly`);
});

test('a lens selected while the first model is measured stays', async (t) => {
  const { page } = await site.openPage(t, { path: null, reducedMotion: true });
  await page.addInitScript(() => {
    const look = () => {
      const model = window.gridproof?.state().model;
      if (!model) return setTimeout(look, 1);
      window.wasMeasured = model.verdict !== null;
      document.body.dispatchEvent(new KeyboardEvent('keydown', { key: '2', bubbles: true }));
    };
    look();
  });
  await page.goto(`${site.address}?demo=draft`);
  await ready(page);
  assert.equal(await page.evaluate(() => window.wasMeasured), false, 'the key was pressed before the report');
  assert.equal((await state(page)).lens, 'stretch');
});
