// A large class: the planted faults of thirty lanterns from the demo's generator are found; six hundred files; accessibility
// of the page with a class.

import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { BAD, choose, CLASS_LIMIT, classroom, LANTERNS, lanternsIn, MIRRORED, missedFaults, MOST_COMPUTED_MS, QUAD, rowsOf, zipOf } from './classes.mjs';
import { violations } from './everybody.mjs';
import { traceThread } from './thread.mjs';

const { site, work, open } = classroom();

test('thirty lanterns with planted faults: all are found, and the page stays responsive', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const { folder, faults } = lanternsIn(work);
  const { page, shot } = await site.openPage(t, { path: null });
  const stop = await traceThread(page);
  await page.goto(site.address);
  await page.evaluate(() => window.gridproof.idle());
  await page.setInputFiles('#folder-input', folder);
  await page.locator('#class-job').waitFor({ state: 'visible' });
  await page.waitForFunction(() => /^Measured [1-9]\d* of 30: now lantern-\d+\.obj/.test(document.getElementById('class-job-text').textContent));
  await shot('class-measuring');
  await page.waitForFunction(() => document.getElementById('class-job').hidden, null, { timeout: CLASS_LIMIT });
  await page.evaluate(() => window.gridproof.idle());
  const { computed, tasks, did } = await stop();
  t.diagnostic(`longest task computed ${computed.toFixed(0)} ms of ${tasks} (${did})`);
  assert.ok(computed < MOST_COMPUTED_MS, `a task computed ${computed} ms: ${did}`);
  const rows = await rowsOf(page);
  assert.equal(rows.length, LANTERNS);
  const missed = await missedFaults(page, faults, (kind) => page.locator('#class-kind').selectOption(kind));
  assert.deepEqual(missed, [], 'every planted fault is found');
  assert.ok([...faults.values()].some(({ kinds: planted }) => planted.length > 2), 'faults were planted');
});

test('measuring is stopped and resumed; another brief measures everything again', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const { folder } = lanternsIn(work);
  const { page } = await open(t);
  await page.setInputFiles('#folder-input', folder);
  await page.waitForFunction(() => /^Measured [1-9]/.test(document.getElementById('class-job-text').textContent));
  await page.locator('#class-cancel').click();
  await page.evaluate(() => window.gridproof.idle());
  const before = (await rowsOf(page)).filter(({ verdict }) => verdict === 'Not measured').length;
  assert.ok(before > 0 && before < LANTERNS, `${before} were left`);
  await page.locator('#class-words').fill('lantern-1');
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-again').click();
  await page.waitForFunction(() => document.getElementById('class-job').hidden, null, { timeout: CLASS_LIMIT });
  await page.evaluate(() => window.gridproof.idle());
  const rows = await rowsOf(page);
  assert.ok(rows.every(({ verdict }) => ['Ready', 'Have a look', 'Not ready'].includes(verdict)), JSON.stringify(rows.map(({ verdict }) => verdict)));
  // A map of half the size has half the density; only files judged again show it.
  const density = rows.map(({ density: text }) => Number.parseFloat(text));
  await page.keyboard.press('Escape');
  await page.locator('#brief-open').click();
  for (const side of ['width', 'height']) await page.fill(`#brief-map-${side}_px`, '1024');
  await page.locator('#brief-close').click();
  await page.waitForFunction(() => !document.getElementById('class-job').hidden);
  await page.waitForFunction(() => document.getElementById('class-job').hidden, null, { timeout: CLASS_LIMIT });
  await page.evaluate(() => window.gridproof.idle());
  const halved = (await rowsOf(page)).map(({ density: text }) => Number.parseFloat(text));
  for (const [at, value] of halved.entries()) assert.ok(Math.abs(value / density[at] - 0.5) < 0.01, `${density[at]} became ${value}`);
});

test('six hundred files: no long task on the main thread, and all rows are reachable', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const { page } = await site.openPage(t, { path: null });
  const files = Object.fromEntries(Array.from({ length: 600 }, (_, at) => [`${String(at).padStart(3, '0')}/quad.obj`, at % 3 ? QUAD : MIRRORED]));
  const zip = join(work, 'six-hundred.zip');
  writeFileSync(zip, await zipOf(files));
  const stop = await traceThread(page);
  await page.goto(site.address);
  await page.evaluate(() => window.gridproof.idle());
  await choose(page, [zip]);
  assert.equal((await rowsOf(page)).length, 600);
  await page.locator('#class-heads button[data-key=verdict]').click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-heads button[data-key=verdict]').click();
  await page.locator('#class-words').fill('12');
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-words').fill('');
  await page.evaluate(() => window.gridproof.idle());
  const { computed, tasks, did } = await stop();
  t.diagnostic(`longest task computed ${computed.toFixed(0)} ms of ${tasks} (${did})`);
  assert.ok(computed < MOST_COMPUTED_MS, `a task computed ${computed} ms: ${did}`);
});

test('accessibility: axe-core finds nothing; wide, narrow, light, dark and at 200 %', { timeout: 2 * CLASS_LIMIT }, async (t) => {
  const { folder } = lanternsIn(work);
  const given = [1, 2, 3, 4, 5, 6, 7].map((seed) => join(folder, `lantern-${seed}.obj`));
  writeFileSync(join(work, 'broken.obj'), BAD);
  for (const [name, options] of Object.entries({
    'class-wide-light': {}, 'class-wide-dark': { dark: true }, 'class-narrow-light': { width: 320, height: 720, touch: true },
    'class-narrow-dark': { width: 390, height: 844, dark: true, touch: true }, 'class-200-percent': { width: 640, height: 400, scale: 2 }, 'class-middle': { width: 820, height: 1100 },
  })) {
    const { page, shot } = await open(t, options);
    await choose(page, [...given, join(work, 'broken.obj')]);
    await shot(name);
    assert.deepEqual(await violations(page), [], name);
    const wide = await page.evaluate(() => [document.documentElement, document.getElementById('class-scroll')].map(({ scrollWidth, clientWidth }) => scrollWidth - clientWidth));
    assert.deepEqual(wide, [0, 0], `${name}: no horizontal overflow`);
    await page.locator('button.class-file').nth(2).click();
    await page.evaluate(() => window.gridproof.idle());
    await shot(`${name}-file`);
    assert.ok(await page.locator('#class-where').isVisible());
    await page.locator('#class-marking summary').click();
    assert.match(await page.locator('#class-marking-note').innerText(), /Gone when the page is left/, 'single files have no class name');
    await shot(`${name}-grade`);
    assert.deepEqual(await violations(page), [], `${name}, with its grade`);
    const within = await page.locator('.class-marking-card').evaluate((card) => card.getBoundingClientRect().left >= 0 && card.getBoundingClientRect().right <= innerWidth && document.documentElement.scrollWidth <= innerWidth);
    assert.ok(within, `${name}: the grade does not overflow`);
  }
});
