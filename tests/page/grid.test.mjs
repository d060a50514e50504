// The grid settings: the dialog, refused values, text it cannot draw, and the saved picture.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { gridproof, ROOT } from './harness.mjs';

const site = gridproof();

async function openDialog(t) {
  const opened = await site.openPage(t, { path: '?demo=revised' });
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await opened.page.evaluate(() => window.gridproof.idle());
  await opened.page.locator('#legend-body button', { hasText: 'Grid settings' }).click();
  await opened.page.locator('#grid').waitFor({ state: 'visible' });
  return opened;
}

async function settled(page) {
  await page.evaluate(() => window.gridproof.idle());
}

/** Output of `gridproof grid`. */
function pictureOfCommand(t, args) {
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-grid-'));
  t.after(() => rmSync(folder, { recursive: true }));
  const file = join(folder, 'grid.png');
  const command = process.env.GRIDPROOF_COMMAND;
  const [program, first] = command ? [command, []] : ['cargo', ['run', '--quiet', '--']];
  const ran = spawnSync(program, [...first, 'grid', '--out', file, ...args], { cwd: ROOT, encoding: 'utf8' });
  assert.equal(ran.status, 0, ran.stderr);
  return readFileSync(file);
}

/** Sizes of two PNGs and the number of pixels that differ, decoded by the browser without any conversion of colour. */
function compare(page, one, other) {
  return page.evaluate(async (both) => {
    const [a, b] = await Promise.all(both.map(async (base64) => {
      const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
      const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }), { colorSpaceConversion: 'none', premultiplyAlpha: 'none' });
      const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d', { willReadFrequently: true });
      context.drawImage(bitmap, 0, 0);
      return context.getImageData(0, 0, bitmap.width, bitmap.height);
    }));
    const [p, q] = [a, b].map(({ data }) => new Uint32Array(data.buffer));
    return {
      sizes: [[a.width, a.height], [b.width, b.height]],
      colours: new Set(p).size,
      different: p.length === q.length ? p.reduce((sum, pixel, at) => sum + (pixel === q[at] ? 0 : 1), 0) : Infinity,
    };
  }, [one.toString('base64'), other.toString('base64')]);
}

test('the saved picture has the command\'s pixels, and saving does not block the page', async (t) => {
  const { page, shot } = await openDialog(t);
  await page.fill('#grid-cell', '32');
  await page.fill('#grid-width', '3000');
  await page.fill('#grid-height', '2000');
  await page.fill('#grid-words', 'HARBOUR MUSEUM 1887');
  await page.fill('#grid-words-px', '120');
  await settled(page);
  await shot('grid-dialog');
  await page.evaluate(() => {
    window.longTasks = [];
    new PerformanceObserver((list) => window.longTasks.push(...list.getEntries().map(({ duration }) => duration))).observe({ type: 'longtask' });
  });
  const [download] = await Promise.all([page.waitForEvent('download'), page.locator('#grid-save').click()]);
  assert.equal(download.suggestedFilename(), 'grid-3000x2000-32.png');
  const saved = readFileSync(await download.path());
  assert.deepEqual(await page.evaluate(() => window.longTasks), [], 'no task of 50 ms or more while the picture was created');
  const written = pictureOfCommand(t, ['--width', '3000', '--height', '2000', '--cell', '32', '--words', 'HARBOUR MUSEUM 1887', '--words-size', '120']);
  const { sizes, colours, different } = await compare(page, saved, written);
  assert.deepEqual(sizes, [[3000, 2000], [3000, 2000]]);
  assert.ok(colours > 100, `${colours} colours`);
  assert.equal(different, 0, 'pixels that differ');
});

test('grid settings apply at once to model, sheet and legend', async (t) => {
  const { page } = await openDialog(t);
  const pictures = async () => [await page.locator('#surface-small').screenshot(), await page.screenshot({ clip: { x: 700, y: 200, width: 200, height: 400 } })];
  const before = await pictures();
  assert.match(await page.locator('#legend-body').innerText(), /1 cell = 64 px = ([\d.]+)\sunits/);
  const [, small] = (await page.locator('#legend-body').innerText()).match(/64 px = ([\d.]+)/);
  await page.fill('#grid-cell', '128');
  await page.fill('#grid-words', 'KIOSK');
  await settled(page);
  const after = await pictures();
  for (const [at, picture] of before.entries()) assert.ok(!picture.equals(after[at]), 'a different picture');
  const [, large] = (await page.locator('#legend-body').innerText()).match(/1 cell = 128 px = ([\d.]+)/);
  assert.ok(Math.abs(large / small - 2) < 0.01, `${small} and ${large}`);
  await page.locator('#grid-reset').click();
  await settled(page);
  assert.match(await page.locator('#legend-body').innerText(), /1 cell = 64 px/);
});

test('invalid settings are reported, and the current grid stays', async (t) => {
  const { page } = await openDialog(t);
  await page.fill('#grid-words', 'Feuer 灯籠');
  await settled(page);
  assert.match(await page.locator('#grid-missing').innerText(), /no drawing for “灯” “籠”: boxes stand for them/);
  await page.fill('#grid-cell', '5');
  await settled(page);
  assert.match(await page.locator('#grid-trouble').innerText(), /Side of a cell/);
  assert.ok(await page.locator('#grid-save').isDisabled());
  assert.equal(await page.evaluate(() => window.gridproof.state().grid.cell), 64);
  await page.fill('#grid-cell', '64');
  await page.fill('#grid-width', '16384');
  await page.fill('#grid-height', '16384');
  await settled(page);
  assert.match(await page.locator('#grid-trouble').innerText(), /16384 x 16384 px is too large/);
  await page.keyboard.press('Escape');
  assert.ok(await page.locator('#grid').isHidden());
});

test('the documented key opens and closes the dialog and restores the focus', async (t) => {
  const { page } = await openDialog(t);
  await page.keyboard.press('Escape');
  await page.locator('#help-open').focus();
  await page.keyboard.press('c');
  assert.ok(await page.locator('#grid').isVisible());
  assert.equal(await page.evaluate(() => document.activeElement.id), 'grid-cell');
  await page.keyboard.press('Escape');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'help-open');
});
