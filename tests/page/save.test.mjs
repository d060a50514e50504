// What the page saves: each kind of file, equal to the command's, without blocking the page; and that the dialog and the
// report are accessible (axe-core's rules).

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { countNumbers, differences } from './agree.mjs';
import { violations } from './everybody.mjs';
import { gridproof, ROOT, SHOTS, withoutWebGL2 } from './harness.mjs';
import { traceThread } from './thread.mjs';

const site = gridproof();
const DRAFT = join(ROOT, 'demo', 'lantern-draft.obj');

/**
 * Greatest difference of a channel, and share of pixels that may differ at all, between the page's and the command's pictures:
 * powers and angles are the system's own, whose last bits may turn a value over that lies between two of 256 steps.
 */
const CHANNEL_LIMIT = 1;
const PIXEL_SHARE_LIMIT = 1e-4;

async function open(t, options = {}) {
  const { files, ...more } = options;
  const opened = await site.openPage(t, { path: files ? '' : '?demo=draft', ...more });
  const { page } = opened;
  if (files) await page.setInputFiles('#file-input', files);
  await page.waitForFunction(() => window.gridproof?.report(), null, { timeout: 60_000 });
  await page.evaluate(() => window.gridproof.idle());
  return opened;
}

async function dialog(page, what) {
  if (!(await page.locator('#save').isVisible())) await page.keyboard.press('s');
  await page.locator('#save').waitFor({ state: 'visible' });
  await page.locator(`#save input[value="${what}"]`).first().check();
}

/** Presses Save and returns the file's name and bytes; the dialog has shown both. */
async function saved(page) {
  const [download] = await Promise.all([page.waitForEvent('download', { timeout: 120_000 }), page.locator('#save-go').click()]);
  const bytes = readFileSync(await download.path());
  const name = download.suggestedFilename();
  await page.waitForFunction(() => /^Saved /.test(document.getElementById('save-outcome').textContent));
  const said = await page.locator('#save-outcome').innerText();
  assert.ok(said.startsWith(`Saved ${name}, `), `${said} was announced for ${name}`);
  assert.ok(/[\d.]+\s(B|kB|MB)\.$/.test(said), said);
  return { name, bytes, text: () => bytes.toString('utf8') };
}

function folderFor(t) {
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-save-'));
  t.after(() => rmSync(folder, { recursive: true }));
  return folder;
}

/** Output of the command; `status` is the expected exit status. */
function command(args, { status = [0, 1], cwd = ROOT } = {}) {
  const { GRIDPROOF_COMMAND: built } = process.env;
  const [program, first] = built ? [built, []] : ['cargo', ['run', '--quiet', '--']];
  const ran = spawnSync(program, [...first, ...args], { cwd, encoding: 'utf8', maxBuffer: 1 << 28 });
  assert.ok(status.includes(ran.status), ran.stderr);
  return ran.stdout;
}

/** A page's text with the pictures' data taken out, and those data. */
function apart(html) {
  const pictures = [];
  const text = html.replace(/data:image\/png;base64,([A-Za-z0-9+/=]*)/g, (_, base64) => `picture ${pictures.push(base64)}`);
  return { text, pictures };
}

/** Size of each PNG, and how two of them differ: greatest of a channel and number of pixels. */
function compare(page, one, other) {
  return page.evaluate(async (both) => {
    const [a, b] = await Promise.all(both.map(async (base64) => {
      const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
      const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }), { colorSpaceConversion: 'none', premultiplyAlpha: 'none' });
      const pen = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d', { willReadFrequently: true });
      pen.drawImage(bitmap, 0, 0);
      return pen.getImageData(0, 0, bitmap.width, bitmap.height);
    }));
    let [most, pixels, sum] = [0, 0, 0];
    const colours = new Set(new Uint32Array(a.data.buffer)).size;
    if (a.width === b.width && a.height === b.height) {
      for (let at = 0; at < a.data.length; at += 4) {
        let here = 0;
        for (let channel = 0; channel < 4; channel += 1) here = Math.max(here, Math.abs(a.data[at + channel] - b.data[at + channel]));
        most = Math.max(most, here);
        sum += here;
        pixels += here > 0 ? 1 : 0;
      }
    }
    return { sizes: [[a.width, a.height], [b.width, b.height]], most, pixels, mean: sum / (a.data.length / 4), colours };
  }, [one, other].map((picture) => (typeof picture === 'string' ? picture : picture.toString('base64'))));
}

/** Path of each value of a report, in order. */
function paths(value, path = '') {
  if (value === null || typeof value !== 'object') return [path];
  return Object.entries(value).flatMap(([key, inner]) => paths(inner, `${path}/${key}`));
}

test('the saved report equals the command\'s, including pictures', async (t) => {
  const { page } = await open(t);
  await dialog(page, 'report');
  assert.equal(await page.locator('#save-name').innerText(), 'lantern-draft report.html');
  const { name, text } = await saved(page);
  assert.equal(name, 'lantern-draft report.html');
  const out = join(folderFor(t), 'a.html');
  command(['check', DRAFT, '--html', out]);
  const [ours, theirs] = [apart(text()), apart(readFileSync(out, 'utf8'))];
  assert.equal(ours.text, theirs.text);
  assert.ok(ours.pictures.length > 5, `${ours.pictures.length} pictures`);
  assert.equal(ours.pictures.length, theirs.pictures.length);
  for (const [at, picture] of ours.pictures.entries()) {
    const { sizes, most, colours, pixels } = await compare(page, picture, theirs.pictures[at]);
    assert.deepEqual(sizes[0], sizes[1]);
    const share = pixels / (sizes[0][0] * sizes[0][1]);
    assert.ok(share <= PIXEL_SHARE_LIMIT, `picture ${at}: ${pixels} pixels differ`);
    assert.ok(colours > 50, `${colours} colours`);
    assert.ok(most <= CHANNEL_LIMIT, `picture ${at} differs by ${most}`);
  }
});

test('the saved JSON equals the command\'s, with the same order of keys', async (t) => {
  const { page } = await open(t);
  await dialog(page, 'data');
  const { name, text } = await saved(page);
  assert.equal(name, 'lantern-draft report.json');
  assert.match(text(), /^[^\n]*\n$/, 'one line');
  const printed = command(['check', '--json', 'lantern-draft.obj'], { cwd: join(ROOT, 'demo') });
  const [ours, theirs] = [text(), printed].map((json) => JSON.parse(json));
  assert.deepEqual(paths(ours), paths(theirs));
  assert.equal(ours.path, 'lantern-draft.obj');
  assert.equal(ours.file.name, 'lantern-draft.obj');
  assert.ok(countNumbers(ours) > 200, `${countNumbers(ours)} numbers`);
  assert.deepEqual(differences(ours, theirs), []);
});

test('the sheet as SVG equals the command\'s, for every option', async (t) => {
  const { page } = await open(t);
  const folder = folderFor(t);
  await dialog(page, 'sheet');
  const plain = await saved(page);
  assert.equal(plain.name, 'lantern-draft sheet.svg');
  command(['sheet', DRAFT, '--out', join(folder, 'a.svg')]);
  assert.equal(plain.text(), readFileSync(join(folder, 'a.svg'), 'utf8'));
  await page.locator('#save input[name="ground"][value="paper"]').check();
  for (const id of ['flags', 'names', 'edges']) await page.locator(`#save-${id}`).check();
  const full = await saved(page);
  command(['sheet', DRAFT, '--out', join(folder, 'b.svg'), '--ground', 'paper', '--patterns', '--names', '--inner-edges']);
  assert.equal(full.text(), readFileSync(join(folder, 'b.svg'), 'utf8'));
  assert.notEqual(full.text(), plain.text());
});

test('the sheet as PNG has the map\'s size and the command\'s drawing, on paper and grid, without blocking the page', async (t) => {
  const { page } = await open(t);
  const folder = folderFor(t);
  await dialog(page, 'sheet');
  await page.locator('#save input[name="as"][value="png"]').check();
  for (const [ground, marks] of [['none', []], ['paper', []], ['grid', []], ['paper', ['flags', 'edges']]]) {
    await page.locator(`#save input[name="ground"][value="${ground}"]`).check();
    for (const id of marks) await page.locator(`#save-${id}`).check();
    const stop = await traceThread(page);
    const { name, bytes } = await saved(page);
    const { computed, taken } = await stop();
    t.diagnostic(`${[ground, ...marks]}: the longest task computed for ${computed.toFixed(0)} ms and took ${taken.toFixed(0)} ms`);
    assert.ok(computed <= 50, `a task computed for ${computed} ms while the picture was made`);
    assert.equal(name, 'lantern-draft sheet.png');
    const out = join(folder, `${ground}.png`);
    command(['sheet', DRAFT, '--out', out, '--ground', ground, ...(marks.length > 0 ? ['--patterns', '--inner-edges'] : [])]);
    if (marks.length > 0) writeFileSync(join(SHOTS, 'save-sheet-marked.png'), bytes);
    // Two rasterisers: edges of lines differ, the drawing does not.
    const { sizes, mean, pixels } = await compare(page, bytes, readFileSync(out));
    assert.deepEqual(sizes, [[2048, 2048], [2048, 2048]]);
    t.diagnostic(`${[ground, ...marks]}: mean ${mean.toFixed(2)}, ${(pixels / 2048 ** 2).toFixed(3)} of the pixels differ`);
    assert.ok(mean < 1.5 && pixels < (marks.length > 0 ? 0.25 : 0.12) * 2048 * 2048, `${ground}: mean ${mean}, ${pixels} pixels`);
  }
});

test('the model\'s picture is what the 3D view shows, pixel by pixel at its size, and sharper at a larger one', async (t) => {
  const { page } = await open(t, { width: 1400, height: 900, reducedMotion: true });
  // With nothing over the canvas, the 3D view is centred like a saved picture.
  await page.evaluate(() => {
    const sheet = new CSSStyleSheet();
    sheet.replaceSync('.over, #sheet, #gaps { display: none !important; }');
    document.adoptedStyleSheets = [sheet];
  });
  await page.keyboard.press('c');
  await page.locator('#grid-words').fill('KIOSK');
  await page.evaluate(() => window.gridproof.idle());
  await page.keyboard.press('Escape');
  for (const lens of ['grid', 'stretch', 'overlaps']) {
    const finding = page.locator('#cards button').nth({ grid: 0, stretch: 2, overlaps: 4 }[lens]);
    await finding.click();
    await page.evaluate(() => window.gridproof.idle());
    await page.keyboard.press(String({ grid: 1, stretch: 2, overlaps: 5 }[lens]));
    await page.mouse.move(1, 1);
    await page.waitForTimeout(300);
    await page.evaluate(() => window.gridproof.idle());
    const box = await page.locator('#surface-large').boundingBox();
    const screen = await page.screenshot({ clip: box });
    await dialog(page, 'stage');
    const { name, bytes } = await saved(page);
    assert.equal(name, 'lantern-draft stage.png');
    writeFileSync(join(SHOTS, `save-stage-${lens}.png`), bytes);
    writeFileSync(join(SHOTS, `save-stage-${lens}-screen.png`), screen);
    const { sizes, most, pixels, colours } = await compare(page, bytes, screen);
    assert.deepEqual(sizes[0], sizes[1]);
    assert.ok(colours > 200, `${colours} colours`);
    assert.ok(most <= 2, `${lens}: ${pixels} pixels differ, by up to ${most}`);
    await page.keyboard.press('Escape');
  }
  await dialog(page, 'stage');
  await page.locator('#save-width').fill('2560');
  await page.locator('#save-height').fill('1440');
  const { bytes } = await saved(page);
  writeFileSync(join(SHOTS, 'save-stage-large.png'), bytes);
  assert.deepEqual([bytes.readUInt32BE(16), bytes.readUInt32BE(20)], [2560, 1440]);
  await page.locator('#save-width').fill('5000');
  await page.locator('#save-height').fill('5000');
  assert.match(await page.locator('#save-trouble').innerText(), /5,000 × 5,000 px is too large/);
  assert.ok(await page.locator('#save-go').isDisabled());
});

test('tiles of a UDIM map are saved together or one by one', async (t) => {
  const folder = folderFor(t);
  const file = join(folder, 'two tiles.obj');
  const brief = join(folder, 'brief.json');
  const map = { width_px: 512, height_px: 256, tiles: 'udim' };
  writeFileSync(brief, JSON.stringify({ map }));
  const square = (at, u, v) => [[0, 0], [1, 0], [1, 1], [0, 1]].map(([x, y]) => `v ${at + x} ${y} 0\nvt ${u + 0.1 + 0.8 * x} ${v + 0.1 + 0.8 * y}\n`).join('') + 'f -4/-4 -3/-3 -2/-2 -1/-1\n';
  writeFileSync(file, square(0, 0, 0) + square(2, 2, 1));
  const { page } = await site.openPage(t, { path: null });
  // The page starts with another brief.
  await page.route('**/www/core/state.js', async (route) => {
    const response = await route.fetch();
    const source = await response.text();
    const changed = source.replace('brief: {},', `brief: ${JSON.stringify({ map })},`);
    assert.notEqual(source, changed);
    await route.fulfill({ response, body: changed });
  });
  await page.goto(site.address);
  await page.waitForFunction(() => window.gridproof);
  await page.setInputFiles('#file-input', file);
  await page.waitForFunction(() => window.gridproof.report());
  await page.evaluate(() => window.gridproof.idle());
  await dialog(page, 'sheet');
  assert.deepEqual(await page.locator('#save-tile option').allInnerTexts(), ['all 2', '1001', '1013']);
  for (const [tile, size] of [['', [1536, 512]], ['1013', [512, 256]]]) {
    await page.locator('#save-tile').selectOption(tile);
    await page.locator('#save input[name="as"][value="svg"]').check();
    const svg = await saved(page);
    assert.equal(svg.name, `two tiles sheet${tile ? ' 1013' : ''}.svg`);
    const args = ['sheet', file, '--brief', brief, ...(tile ? ['--tile', tile] : [])];
    command([...args, '--out', join(folder, 'a.svg')]);
    assert.equal(svg.text(), readFileSync(join(folder, 'a.svg'), 'utf8'));
    await page.locator('#save input[name="as"][value="png"]').check();
    await page.locator('#save input[name="ground"][value="grid"]').check();
    const png = await saved(page);
    command([...args, '--ground', 'grid', '--out', join(folder, 'a.png')]);
    const { sizes, mean, colours } = await compare(page, png.bytes, readFileSync(join(folder, 'a.png')));
    assert.deepEqual(sizes, [size, size]);
    assert.ok(mean < 3 && colours > 50, `mean ${mean}, ${colours} colours`);
    await page.locator('#save input[name="ground"][value="none"]').check();
  }
});

test('without WebGL2 everything can be saved, with the model drawn on the CPU', async (t) => {
  const { page } = await site.openPage(t, { path: null });
  await page.addInitScript(withoutWebGL2);
  await page.goto(`${site.address}?demo=revised`);
  await page.waitForFunction(() => window.gridproof?.report());
  await page.evaluate(() => window.gridproof.idle());
  await dialog(page, 'stage');
  await page.locator('#save-width').fill('640');
  await page.locator('#save-height').fill('400');
  const { name, bytes } = await saved(page);
  assert.equal(name, 'lantern-revised stage.png');
  const out = join(folderFor(t), 'a.png');
  command(['picture', join(ROOT, 'demo', 'lantern-revised.obj'), '--out', out, '--size', '640x400']);
  const { sizes, most } = await compare(page, bytes, readFileSync(out));
  assert.deepEqual(sizes, [[640, 400], [640, 400]]);
  assert.ok(most <= CHANNEL_LIMIT, `differs by ${most}`);
  for (const what of ['report', 'data', 'sheet']) {
    await dialog(page, what);
    assert.ok((await saved(page)).bytes.length > 1000, what);
  }
});

test('while a model is measured the button says why it is disabled', async (t) => {
  const { page } = await site.openPage(t);
  await page.waitForFunction(() => window.gridproof);
  await page.evaluate(() => window.gridproof.idle());
  const rows = 700;
  const lines = ['o field'];
  for (let y = 0; y <= rows; y += 1) for (let x = 0; x <= rows; x += 1) lines.push(`v ${x} ${Math.sin(x * y)} ${y}`, `vt ${x / rows} ${y / rows}`);
  for (let y = 0; y < rows; y += 1) for (let x = 1; x <= rows; x += 1) {
    const [a, b] = [y * (rows + 1) + x, (y + 1) * (rows + 1) + x];
    lines.push(`f ${a}/${a} ${a + 1}/${a + 1} ${b + 1}/${b + 1} ${b}/${b}`);
  }
  const file = join(folderFor(t), 'field.obj');
  writeFileSync(file, lines.join('\n'));
  await page.setInputFiles('#file-input', file);
  await page.waitForFunction(() => window.gridproof.state().model && !window.gridproof.report());
  const button = page.locator('#save-open');
  assert.equal(await button.getAttribute('aria-disabled'), 'true');
  assert.match(await button.getAttribute('title'), /waits until the model is measured/);
  await page.keyboard.press('s');
  assert.ok(await page.locator('#save').isHidden());
  assert.match(await page.locator('#notice-text').innerText(), /waits until the model is measured/);
  await page.waitForFunction(() => window.gridproof.report(), null, { timeout: 60_000 });
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await button.getAttribute('aria-disabled'), 'false');
  // A long save can be cancelled, and the next one is complete.
  await dialog(page, 'report');
  await page.locator('#save-go').click();
  await page.locator('#save-cancel').click();
  assert.match(await page.locator('#save-outcome').innerText(), /Stopped\. Nothing was saved/);
  await dialog(page, 'data');
  assert.equal((await saved(page)).name, 'field report.json');
});

test('any model name becomes a valid file name', async (t) => {
  const { page } = await open(t);
  const stems = await page.evaluate(async () => {
    const { stem } = await import(new URL('www/save/save.js', document.baseURI).href);
    return ['lantern.obj', '灯籠 № 3.OBJ', 'a/b\\c:d*e?"<f>|g.obj', '..obj', '', 'con.obj', 'x\u202Efdp.obj', `${'長'.repeat(300)}.obj`, ' . spaced  out . .obj', 'tab\there'].map(stem);
  });
  assert.deepEqual(stems, ['lantern', '灯籠 № 3', 'a-b-c-d-e---f--g', 'model', 'model', 'model con', 'xfdp', '長'.repeat(60), 'spaced out', 'tab-here']);
});

for (const [screen, options] of Object.entries({ wide: {}, phone: { width: 390, height: 844, touch: true }, dark: { dark: true } })) {
  test(`dialog and report pass axe-core's rules (${screen})`, async (t) => {
    const { page, shot } = await open(t, options);
    for (const what of ['report', 'sheet', 'stage']) {
      if (what === 'report') await page.locator('#save-open').click();
      await dialog(page, what);
      assert.deepEqual(await violations(page, '#save'), []);
      await shot(`save-dialog-${what}-${screen}`);
    }
    await dialog(page, 'report');
    const { text } = await saved(page);
    const report = await site.openPage(t, { path: null, ...options });
    await report.page.setContent(text());
    assert.deepEqual(await violations(report.page), []);
    await report.page.screenshot({ path: join(SHOTS, `save-report-${screen}.png`), fullPage: true });
    const wider = await report.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wider <= 0, `the report is ${wider} px wider than the window`);
  });
}
