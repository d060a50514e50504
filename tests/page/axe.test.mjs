// Every state of the page, checked against all of axe-core's rules: wide and narrow, by day and by night, at 320 px and at
// 200 %. Each state leaves a screenshot, tests/shots/axe-STATE-SCREEN.png. (The offered newer version: offline.test.mjs.)

import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { deflateRawSync } from 'node:zlib';
import { violations } from './everybody.mjs';
import { gridproof, ROOT, SHOTS, withoutWebGL2 } from './harness.mjs';

const site = gridproof();
const LIMIT = 600_000;

const SCREENS = {
  wide: { width: 1440, height: 900 },
  narrow: { width: 390, height: 844, touch: true },
  'small-dark': { width: 320, height: 640, touch: true, dark: true },
  'zoom-dark': { width: 640, height: 400, scale: 2, dark: true },
};

const QUAD = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n';
const PNG = Buffer.from('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==', 'base64');
/** Two squares, the second with a third less density: nothing to fix, one finding to look at. */
const LOOK = `o front\n${QUAD.replaceAll('0.9', '0.4')}o back\nv 0 0 9\nv 15 0 9\nv 15 15 9\nv 0 15 9\nvt 0.5 0.5\nvt 0.8 0.5\nvt 0.8 0.8\nvt 0.5 0.8\nf 5/5 6/6 7/7 8/8\n`;
const demo = (name) => join(ROOT, 'demo', `lantern-${name}.obj`);

const idle = (page) => page.evaluate(() => window.gridproof.idle());
const packed = (value) => deflateRawSync(JSON.stringify(value)).toString('base64url');

/** States that were visited, by screen. */
const visited = new Map();

/**
 * A journey through states, once a screen. `go` gets the page, what it was opened with, and `visit`, which checks what is
 * on screen against the rules.
 */
function journey(name, go, { screens = Object.keys(SCREENS), ...options } = {}) {
  for (const screen of screens) {
    test(`${name}, ${screen}`, { timeout: LIMIT }, async (t) => {
      const opened = await site.openPage(t, { path: null, reducedMotion: true, ...SCREENS[screen], ...options });
      const { page } = opened;
      const wrong = [];
      const visit = async (state, { rest = true, frame = page } = {}) => {
        if (rest) await idle(page);
        visited.set(screen, [...(visited.get(screen) ?? []), state]);
        await opened.shot(`axe-${state}-${screen}`);
        wrong.push(...(await violations(frame)).map((sentence) => `${state}: ${sentence}`));
      };
      await go({ ...opened, t, visit, screen });
      assert.deepEqual(wrong, []);
    });
  }
}

async function start(page, path = '') {
  await page.goto(new URL(path, site.address).href);
  await idle(page);
}

async function give(page, name, content) {
  await page.setInputFiles('#file-input', typeof content === 'string' && content.startsWith('/') ? content : { name, mimeType: '', buffer: Buffer.from(content) });
  await idle(page);
}

/** Opens the drawer of findings where there is one. */
async function drawer(page, up = true) {
  const handle = page.locator('#drawer-handle');
  if (!(await handle.isVisible())) return;
  for (let press = 0; press < 2; press += 1) await handle.press(up ? 'ArrowUp' : 'ArrowDown');
  await idle(page);
}

/** Begins a note on the model: if the crosshair hits nothing, clicks around until something is hit. */
async function beginNote(page) {
  await idle(page);
  const spots = await page.evaluate(() => {
    const box = document.querySelector('#surface-large').getBoundingClientRect();
    const raster = Array.from({ length: 81 }, (_, at) => [box.x + (box.width * ((at % 9) + 1)) / 10, box.y + (box.height * (Math.floor(at / 9) + 1)) / 10]);
    return raster.filter(([x, y]) => document.elementFromPoint(x, y)?.id === 'surface-large');
  });
  for (const [x, y] of spots) {
    if (await page.locator('#note').isVisible()) return;
    await page.mouse.dblclick(x, y);
    await idle(page);
  }
  await page.locator('#note').waitFor({ state: 'visible' });
}

async function leave(page, dialog) {
  await page.keyboard.press('Escape');
  await page.locator(dialog).waitFor({ state: 'hidden' });
}

/** What is dragged over the page, by its types. */
const drag = (page, ...types) => page.evaluate((types) => {
  const dataTransfer = new DataTransfer();
  for (const type of types) dataTransfer.items.add(new File(['x'], 'x', { type }));
  window.dispatchEvent(new DragEvent('dragenter', { dataTransfer, bubbles: true, cancelable: true }));
}, types);
const dragAway = (page) => page.evaluate(() => window.dispatchEvent(new DragEvent('dragleave', { relatedTarget: null })));

journey('before a model: empty, dragged over, unreadable files', async ({ page, visit }) => {
  await start(page);
  await visit('empty');
  await drag(page, 'model/obj');
  await visit('dragged-over');
  await drag(page, 'video/mp4');
  await visit('dragged-refused');
  await dragAway(page);
  for (const [state, name, content] of [
    ['error-kind', 'turntable.mp4', PNG],
    ['error-no-faces', 'points.obj', 'v 0 0 0\nv 1 0 0\nv 0 1 0\n'],
    ['error-empty', 'empty.obj', ''],
    ['error-index', 'range.obj', 'v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n'],
    ['error-brief', 'brief.json', '{"map": {"width_px": -5}}'],
  ]) {
    await give(page, name, content);
    await page.locator('#problem').waitFor({ state: 'visible' });
    await visit(state);
    await page.locator('#problem-close').click();
  }
  await give(page, 'texture.png', PNG);
  await page.locator('#notice').waitFor({ state: 'visible' });
  await visit('picture-kept');
});

journey('keys and stored data', async ({ page, visit }) => {
  await start(page);
  await page.locator('#help-open').click();
  await visit('keys');
  await page.evaluate(() => localStorage.setItem('gridproof.memory', JSON.stringify({ version: 1, up: 'z', briefs: [{ stretch: { max_anisotropy: 1.5 } }] })));
  await start(page);
  await page.locator('#help-open').click();
  await page.locator('#memory').scrollIntoViewIfNeeded();
  await visit('remembered');
  await page.locator('#memory [data-forget]').click();
  await leave(page, '#help');
  await page.locator('#notice').waitFor({ state: 'visible' });
  await visit('forgotten');
});

journey('reading, and a broken link', async ({ page, visit }) => {
  let go = () => {};
  await page.route('**/lantern-draft.obj', async (route) => {
    await new Promise((resolve) => (go = resolve));
    await route.abort();
  });
  await page.goto(`${site.address}?demo=draft`);
  await page.locator('#job').waitFor({ state: 'visible' });
  await visit('reading', { rest: false });
  await page.locator('#job-cancel').click();
  await visit('cancelled');
  go();
  await start(page, '?src=demo/missing.obj');
  await visit('error-not-there');
}, { allow: [/404/, /ERR_/] });

journey('the draft: lenses, findings, dialogs', async ({ page, visit, screen }) => {
  await start(page, '?demo=draft');
  await visit('draft-must-fix');
  for (const [index, lens] of ['grid', 'stretch', 'density', 'flipped', 'overlaps', 'seams', 'text', 'picture'].entries()) {
    await page.keyboard.press(String(index + 1));
    if ((await page.locator('#legend-fold').getAttribute('aria-expanded')) === 'false') await page.locator('#legend-fold').click();
    await visit(`lens-${lens}`);
  }
  await page.locator('#legend-fold').click();
  await visit('legend-folded');
  await page.keyboard.press('t');
  await visit('tilt');
  await page.keyboard.press('.');
  await drawer(page);
  await visit('finding');
  await page.locator('[data-act=intended]').click();
  await visit('finding-intended-form');
  await page.locator('.decide-form button[type=submit]').click();
  await visit('finding-reason-missing');
  await page.locator('#decide-reason').fill('The keeper’s side is never seen.');
  await page.keyboard.press('Control+Enter');
  await visit('finding-intended');
  await page.locator('#cards .card').nth(1).click();
  await drawer(page);
  await page.locator('[data-act=to-fix]').click();
  await visit('finding-to-do');
  await drawer(page, false);
  await page.locator('#chips .chip').first().click();
  await visit('findings-of-a-kind');
  await page.locator('#chips .chip').first().click();
  await page.keyboard.press('m');
  await visit('swapped');
  await page.keyboard.press('m');
  await page.keyboard.press('b');
  await visit('beside');
  await page.keyboard.press('b');
  await page.keyboard.press('e');
  await visit('enlarged');
  await page.keyboard.press('e');
  await page.keyboard.press('Escape');
  await idle(page);
  await page.locator('#surface-large').focus();
  await page.keyboard.press('ArrowLeft');
  await idle(page);
  await page.keyboard.press('Enter');
  await visit('chosen-by-keys');
  await page.keyboard.press('n');
  await beginNote(page);
  await page.locator('#note-text').fill('Here the strap is pulled along the drum.');
  await visit('note');
  await page.locator('#note-text').fill('x'.repeat(3000));
  await page.keyboard.press('Control+Enter');
  await visit('note-too-long');
  await page.locator('#note-text').fill('Here the strap is pulled along the drum.');
  await page.keyboard.press('Control+Enter');
  await page.locator('#note').waitFor({ state: 'hidden' });
  await drawer(page);
  await page.locator('#notes-list .note-card').first().click();
  await drawer(page);
  await visit('notes');
  await page.getByRole('button', { name: 'Delete' }).click();
  await visit('note-gone');
  await page.locator('#note-undo').click();
  await drawer(page);
  await page.locator('#note-new-listed').click();
  await visit('placing');
  await page.keyboard.press('Escape');
  await drawer(page, false);
  await page.locator('#surface-large').focus();
  for (let press = 0; press < 12; press += 1) await page.keyboard.press('ArrowLeft');
  await visit('note-behind');
  await page.keyboard.press('c');
  await page.locator('#grid-words').fill('Signal lantern');
  await visit('cells');
  await page.locator('#grid-cell').fill('7');
  await visit('cells-refused');
  await page.locator('#grid-reset').click();
  await leave(page, '#grid');
  await page.keyboard.press('r');
  await page.locator('#brief').waitFor({ state: 'visible' });
  await visit('brief');
  await page.locator('[data-section=stretch] input').first().fill('0');
  await visit('brief-refused');
  await page.locator('[data-section=stretch] input').first().fill('1.5');
  await visit('brief-changed');
  await page.locator('#brief-reset').click();
  await leave(page, '#brief');
  await page.keyboard.press('s');
  for (const what of ['report', 'data', 'sheet', 'stage']) {
    await page.locator(`#save input[value="${what}"]`).first().check();
    await visit(`save-${what}`);
  }
  await page.locator('#save input[value=data]').check();
  await Promise.all([page.waitForEvent('download'), page.locator('#save-go').click()]);
  await visit('saved');
  await leave(page, '#save');
  await page.keyboard.press('l');
  await visit('share-whom');
  await page.locator('#share-more > summary').click();
  await page.locator('[data-kind=view] .share-link').waitFor();
  await visit('share');
  await page.locator('[data-kind=page]').scrollIntoViewIfNeeded();
  await visit('share-page');
  if (screen !== 'wide' && screen !== 'small-dark') return;
  const carried = page.locator('[data-kind=carried]');
  await carried.getByRole('button', { name: 'Make the link' }).click();
  await visit('share-working', { rest: false });
  await carried.locator('.share-link').waitFor({ timeout: LIMIT });
  await visit('share-carried');
  const link = await carried.locator('.share-link').inputValue();
  await page.goto('about:blank');
  await page.goto(link);
  await page.waitForFunction(() => window.gridproof?.report(), null, { timeout: LIMIT });
  await visit('carried');
  await page.goto('about:blank');
  await page.goto(`${link.slice(0, 400)}`);
  await page.waitForFunction(() => window.gridproof?.state().problem ?? window.gridproof?.state().notice);
  await visit('carried-refused');
});

journey('verdicts, file warnings, no UVs', async ({ page, visit }) => {
  await start(page, '?demo=revised');
  await visit('ready');
  await give(page, 'look.obj', LOOK);
  assert.equal(await page.evaluate(() => window.gridproof.report().verdict), 'look');
  await visit('look');
  await give(page, 'hurt.obj', `${QUAD}v 1 two 3\nf 1/1 2/2 99/3\nf 1/1 2/2 3/`);
  await visit('cut-short');
  await page.locator('#chips button', { hasText: /file warning/i }).click();
  await visit('reading-notes');
  await leave(page, '#warnings');
  await give(page, 'bare.obj', 'v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n');
  await visit('no-uvs');
  await give(page, 'texture.png', PNG);
  await visit('error-over-model');
});

journey('two versions', async ({ page, visit }) => {
  await start(page);
  await give(page, 'lantern-draft.obj', demo('draft'));
  await give(page, 'lantern-revised.obj', demo('revised'));
  await page.locator('#versions').waitFor({ state: 'visible' });
  await visit('versions');
  await page.locator('#versions-flip').click();
  await visit('versions-previous');
  await page.locator('#versions-flip').click();
  await page.locator('#versions-details').click();
  await page.locator('#compare').waitFor({ state: 'visible' });
  await visit('versions-details');
  await page.locator('#compare-numbers-title').scrollIntoViewIfNeeded();
  await visit('versions-numbers');
});

journey('a class', async ({ page, visit }) => {
  await start(page);
  const files = { 'draft.obj': readFileSync(demo('draft')), 'revised.obj': readFileSync(demo('revised')), 'look.obj': LOOK, 'bad.obj': 'v 0 0 0\nf 1 2 9\n' };
  await page.setInputFiles('#file-input', Object.entries(files).map(([name, content]) => ({ name, mimeType: '', buffer: Buffer.from(content) })));
  await idle(page);
  await visit('class');
  await page.locator('#class-words').fill('nothing has this name');
  await visit('class-none');
  await page.locator('#class-all').click();
  await page.locator('#class-verdicts button').first().click();
  await visit('class-filtered');
  await page.locator('#class-all').click();
  await Promise.all([page.waitForEvent('download'), page.locator('#class-save-table').click()]);
  await visit('class-saved');
  await page.locator('#class-save-pages').click();
  await page.locator('#class-offer').waitFor({ state: 'visible' });
  await visit('class-pages-offered');
  await page.locator('#class-offer-leave').click();
  await page.locator('button.class-file').first().click();
  await visit('class-file');
});

journey('links that ask for their file', async ({ page, visit }) => {
  const file = { name: 'look.obj', bytes: LOOK.length, sha256: 'ab'.repeat(32) };
  const note = { text: 'too narrow', face: 0, triangle: 0, barycentric: [1, 0, 0], point: [0, 0, 0] };
  const review = { schema: 'gridproof-review/3', file, sender: 'Zoë', since: { fixed: 2, still: 0, new: 1 }, lens: 'stretch', brief: { stretch: { max_anisotropy: 1.5 } }, notes: [note], decisions: [{ finding: 'x', kind: 'to-fix' }] };
  await start(page, `#r=${packed(review)}`);
  await visit('awaited');
  await give(page, 'look.obj', LOOK);
  await page.locator('#other').waitFor({ state: 'visible' });
  await visit('other-file');
  await page.locator('#other-leave').click();
  await visit('review-left');
  await page.goto('about:blank');
  await start(page, '#r=damaged');
  await visit('review-refused');
});

journey('without WebGL2', async ({ page, visit }) => {
  await page.addInitScript(withoutWebGL2);
  await start(page, '?demo=draft');
  await visit('no-webgl2');
}, { screens: ['wide', 'small-dark'] });

journey('in the frame of another page', async ({ page, visit }) => {
  await page.goto(`${site.address}demo/embed.html`);
  const frame = page.frames().find((one) => one.parentFrame() === page.mainFrame());
  await frame.waitForFunction(() => window.gridproof?.state().engine === 'ok');
  await page.locator('#draft').click();
  await frame.waitForFunction(() => window.gridproof.report());
  await visit('embedding', { rest: false });
  await visit('embedded', { rest: false, frame });
}, { screens: ['wide', 'narrow', 'zoom-dark'] });

const folder = mkdtempSync(join(tmpdir(), 'gridproof-axe-'));
after(() => rmSync(folder, { recursive: true }));

test('a review page, from disk', { timeout: LIMIT }, async (t) => {
  const { page } = await site.openPage(t, { path: '?demo=draft' });
  await idle(page);
  await page.keyboard.press('l');
  await page.locator('[name=share-whom][value=student]').check();
  await page.getByRole('button', { name: 'Make the page' }).click();
  const save = page.getByRole('button', { name: 'Save page' });
  await save.waitFor({ timeout: LIMIT });
  const [download] = await Promise.all([page.waitForEvent('download', { timeout: LIMIT }), save.click()]);
  const file = join(folder, 'review.html');
  await download.saveAs(file);
  for (const screen of ['wide', 'small-dark']) {
    const { width, height, dark } = SCREENS[screen];
    const context = await site.browser.newContext({ viewport: { width, height }, colorScheme: dark ? 'dark' : 'light', offline: true });
    t.after(() => context.close());
    const review = await context.newPage();
    await review.goto(pathToFileURL(file).href);
    await review.waitForFunction(() => window.gridproof?.report(), null, { timeout: LIMIT });
    await idle(review);
    visited.set(screen, [...(visited.get(screen) ?? []), 'review-page']);
    await review.screenshot({ path: join(SHOTS, `axe-review-page-${screen}.png`) });
    assert.deepEqual(await violations(review), []);
  }
});

after(() => {
  const states = new Set([...visited.values()].flat());
  const visits = [...visited.values()].reduce((sum, { length }) => sum + length, 0);
  console.log(`# ${states.size} states, ${visits} visits on ${visited.size} screens`);
});
