// The two demos, from their addresses to their findings: verdict, cards, address bar, Back.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof } from './harness.mjs';

const site = gridproof();

const SEVERITIES = ['must-fix', 'look', 'info'];

async function openDemo(t, name, options = {}) {
  const opened = await site.openPage(t, { path: `?demo=${name}`, ...options });
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await opened.page.evaluate(() => window.gridproof.idle());
  return opened;
}

test('the draft is not ready, and its cards are sorted worst first', async (t) => {
  const { page, shot } = await openDemo(t, 'draft');
  assert.equal((await page.locator('#verdict').innerText()).trim().toLowerCase(), 'not ready');
  const cards = await page.locator('#cards .card').evaluateAll((all) =>
    all.map((card) => ({ severity: card.className.match(/tone-([\w-]+)/)[1], text: card.innerText, id: card.dataset.finding })));
  const findings = (await page.evaluate(() => window.gridproof.report())).findings;
  assert.ok(cards.length >= 4, `${cards.length} cards`);
  assert.deepEqual(cards.map(({ id }) => id), findings.map(({ id }) => id));
  const ranks = cards.map(({ severity }) => SEVERITIES.indexOf(severity));
  assert.deepEqual(ranks, [...ranks].sort((a, b) => a - b), 'severities descend');
  assert.equal(ranks[0], 0, 'the first must be fixed');
  for (const { text } of cards) assert.match(text, /\d/, 'a card shows its number');
  await shot('draft-wide-light');
});

test('selecting a card puts it in the address, and Back removes it', async (t) => {
  const { page, shot } = await openDemo(t, 'draft');
  const card = page.locator('#cards .card').first();
  const id = await card.getAttribute('data-finding');
  const before = await page.evaluate(() => window.gridproof.state().camera);
  await card.click();
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(new URLSearchParams(new URL(page.url()).hash.slice(1)).get('finding'), id);
  assert.equal(await card.getAttribute('aria-current'), 'true');
  assert.notDeepEqual(await page.evaluate(() => window.gridproof.state().camera), before, 'the camera flew there');
  await shot('draft-finding');
  const link = page.url();
  await page.goBack();
  await page.evaluate(() => window.gridproof.idle());
  assert.ok(!page.url().includes('finding='), page.url());
  assert.equal(await page.evaluate(() => window.gridproof.state().finding), null);
  assert.equal(await card.getAttribute('aria-current'), null);
  await page.goto('about:blank');
  await page.goto(link);
  await page.waitForFunction(() => window.gridproof?.report());
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.evaluate(() => window.gridproof.state().finding), id, 'the link opens on its finding');
});

test('the revised demo is ready', async (t) => {
  const { page, shot } = await openDemo(t, 'revised');
  assert.equal((await page.locator('#verdict').innerText()).trim(), 'Ready');
  assert.equal(await page.locator('#cards .card.tone-must-fix').count(), 0);
  await shot('revised-wide-light');
});
