// What the browser remembers between visits, and how it forgets.

import assert from 'node:assert/strict';
import { join } from 'node:path';
import { test } from 'node:test';
import { gridproof, SHOTS } from './harness.mjs';

const site = gridproof();
const idle = (page) => page.evaluate(() => window.gridproof.idle());
const memory = (page) => page.evaluate(() => JSON.parse(localStorage.getItem('gridproof.memory') ?? 'null'));

async function settle(page) {
  await page.clock.runFor(5000);
}

test('a brief and the axis up are there at the next visit, and gone when forgotten', async (t) => {
  const { page, context } = await site.openPage(t, { path: null });
  await page.clock.install();
  await page.goto(site.address);
  const wait = async (what) => {
    for (let tries = 0; tries < 200 && !(await page.evaluate(what)); tries += 1) await page.clock.runFor(50);
  };
  await wait(() => window.gridproof.state().engine === 'ok' && window.gridproof.state().form !== null);
  await page.keyboard.press('r');
  await page.locator('[data-section=stretch] input').first().fill('1.5');
  await settle(page);
  await settle(page);
  assert.deepEqual((await memory(page)).briefs, [{ stretch: { max_anisotropy: 1.5 } }]);
  await page.keyboard.press('Escape');

  const next = await context.newPage();
  await next.goto(site.address);
  await idle(next);
  await next.keyboard.press('r');
  const used = next.locator('#brief-used');
  assert.ok(await used.isVisible());
  assert.match(await used.innerText(), /stretch\.max_anisotropy 1\.5/);
  await used.selectOption('0');
  assert.deepEqual(await next.evaluate(() => window.gridproof.state().brief), { stretch: { max_anisotropy: 1.5 } });
  assert.equal(await next.locator('[data-section=stretch] input').first().inputValue(), '1.5');
  await next.keyboard.press('Escape');
  await next.locator('#help-open').click();
  assert.match(await next.locator('#memory').innerText(), /1\sbrief/);
  await next.screenshot({ path: join(SHOTS, 'memory.png') });
  await next.locator('#memory [data-forget]').click();
  await next.locator('#memory').waitFor({ state: 'hidden' });
  assert.equal(await next.evaluate(() => Object.keys(localStorage).filter((key) => key.startsWith('gridproof')).length), 0);
});

test('the axis up comes back, but never into a link', async (t) => {
  const { page, context } = await site.openPage(t);
  await idle(page);
  await page.evaluate(() => localStorage.setItem('gridproof.memory', JSON.stringify({ version: 1, up: 'z', briefs: [] })));
  const plain = await context.newPage();
  await plain.goto(site.address);
  await idle(plain);
  assert.equal(await plain.evaluate(() => window.gridproof.state().up), 'z');
  const link = await context.newPage();
  await link.goto(`${site.address}?demo=draft`);
  await idle(link);
  assert.equal(await link.evaluate(() => window.gridproof.state().up), 'y');
});

test('a damaged memory is as good as none', async (t) => {
  const { page, context } = await site.openPage(t);
  await idle(page);
  for (const text of ['{', '[]', '{"version":9}', '{"version":1,"up":"sideways","briefs":[{"map":{"width_px":-4}}]}']) {
    await page.evaluate((kept) => localStorage.setItem('gridproof.memory', kept), text);
    const next = await context.newPage();
    const errors = [];
    next.on('pageerror', (error) => errors.push(String(error)));
    await next.goto(`${site.address}`);
    await idle(next);
    assert.equal(await next.evaluate(() => window.gridproof.state().engine), 'ok', text);
    assert.deepEqual(errors, [], text);
    await next.close();
  }
});
