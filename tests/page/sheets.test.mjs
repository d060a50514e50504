// Sheets: libraries that come with a model decide which materials share a sheet, and a brief fixes that split.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { unpackReview } from '../../www/core/review.js';
import { gridproof, withoutWebGL2 } from './harness.mjs';

const site = gridproof();

/** Two squares of a material each, on one another on the sheet. */
const square = (material, z) => `usemtl ${material}\nv 0 0 ${z}\nv 1 0 ${z}\nv 1 1 ${z}\nv 0 1 ${z}\nvt .1 .1\nvt .9 .1\nvt .9 .9\nvt .1 .9\nf -4/-4 -3/-3 -2/-2 -1/-1\n`;
const MODEL = `mtllib maps/two.mtl\n${square('brass', 0)}${square('glass', 5)}`;
const LIBRARY = 'newmtl brass\nmap_Kd -s 1 1 1 maps/brass.png\nnewmtl glass\nmap_Kd maps/glass.png\n';

const file = (name, text) => ({ name, mimeType: '', buffer: Buffer.from(text) });
const report = (page) => page.evaluate(() => window.gridproof.report());
const idle = (page) => page.evaluate(() => window.gridproof.idle());

async function opened(t, files, { flat = false } = {}) {
  const { page } = await site.openPage(t, { path: null, reducedMotion: true });
  if (flat) await page.addInitScript(withoutWebGL2);
  await page.goto(site.address);
  await idle(page);
  await page.setInputFiles('#file-input', files);
  await idle(page);
  return page;
}

test('pictures of a library decide the sheets, and the split can be fixed', async (t) => {
  const page = await opened(t, [file('two.obj', MODEL), file('Two.MTL', LIBRARY)]);
  const { sheets, verdict, not_judged: notJudged } = await report(page);
  assert.deepEqual([sheets.by, sheets.list.map(({ name }) => name), verdict], ['pictures', ['brass.png', 'glass.png'], 'ready']);
  assert.deepEqual(notJudged, ['across-tiles', 'seams', 'text']);
  const groups = sheets.list.map(({ name, materials }) => ({ name, materials }));
  const fixed = await opened(t, [file('two.obj', MODEL), file('brief.json', JSON.stringify({ map: { sheets: groups } }))]);
  const again = await report(fixed);
  assert.deepEqual([again.sheets.by, again.sheets.list, again.verdict], ['brief', sheets.list, 'ready']);
  assert.deepEqual(await fixed.evaluate(() => window.gridproof.state().brief), { map: { sheets: groups } });
});

test('without a library overlaps decide, and the user is asked', async (t) => {
  const page = await opened(t, [file('two.obj', MODEL)]);
  const { sheets, verdict, findings } = await report(page);
  assert.deepEqual([sheets.by, verdict, findings.map(({ kind }) => kind)], ['materials', 'look', ['sheets']]);
});

test('the card shows one sheet at a time and the assumption, and changes it at one press', async (t) => {
  const page = await opened(t, [file('two.obj', MODEL.replace('vt .1 .1\nvt .9 .1\nvt .9 .9\nvt .1 .9\nf -4/-4 -3/-3 -2/-2 -1/-1\nusemtl glass', 'vt .05 .1\nvt .95 .1\nvt .95 .9\nvt .05 .9\nf -4/-4 -3/-3 -2/-2 -1/-1\nusemtl glass'))]);
  const options = page.locator('#sheet-choice option');
  assert.deepEqual((await options.allInnerTexts()).map((text) => text.replace(/\s/g, ' ')), ['brass · 72 %', 'glass · 64 %']);
  assert.match(await page.locator('#sheet-assumed').innerText(), /2\s+sheets assumed: materials overlap/);
  assert.match(await page.locator('#sheet-facts').innerText(), /72\s?% used/);
  const drawn = () => page.locator('#surface-small').screenshot();
  const brass = await drawn();
  await page.selectOption('#sheet-choice', '1');
  await idle(page);
  await page.waitForFunction(() => window.gridproof.state().sheet === 1);
  await page.waitForTimeout(300);
  assert.match(await page.locator('#sheet-facts').innerText(), /64\s?% used/);
  assert.ok(!brass.equals(await drawn()), 'another sheet is drawn');
  await page.locator('#sheet-change').click();
  await page.waitForFunction(() => window.gridproof.report().sheets.by === 'brief');
  const { sheets, findings } = await report(page);
  assert.equal(sheets.list.length, 1);
  assert.ok(findings.some(({ kind }) => kind === 'stacked' || kind === 'partial-overlap'), 'on one sheet the overlap is judged');
  assert.equal(await page.locator('#sheet-choice').isHidden(), true);
  await page.locator('#sheet-change').click();
  await page.waitForFunction(() => window.gridproof.report().sheets.list.length === 2);
});

test('a link contains the sheets that pictures decided', async (t) => {
  const page = await opened(t, [file('two.obj', MODEL), file('Two.MTL', LIBRARY)]);
  await page.waitForFunction(() => location.hash.startsWith('#r='));
  const review = await unpackReview(await page.evaluate(() => location.hash.slice(3)));
  assert.deepEqual(JSON.parse(JSON.stringify(review.brief)), { map: { sheets: [{ name: 'brass.png', materials: ['brass'] }, { name: 'glass.png', materials: ['glass'] }] } });
});

test('a sheet can be selected without WebGL2', async (t) => {
  const page = await opened(t, [file('two.obj', MODEL)], { flat: true });
  assert.equal(await page.evaluate(() => window.gridproof.state().graphics), 'none');
  assert.ok(await page.locator('#sheet-choice').isVisible());
  assert.ok(await page.locator('#sheet-title').isHidden());
  await page.locator('#sheet-change').click();
  await page.waitForFunction(() => window.gridproof.report().sheets.by === 'brief');
  assert.equal((await report(page)).sheets.list.length, 1);
});

test('of stacked shells each highlights all others and their shared partners', async (t) => {
  const { page } = await site.openPage(t);
  const lit = await page.evaluate(async () => {
    const { partners } = await import(new URL('www/stage/partners.js', document.baseURI).href);
    const report = { sharing: [{ a: 0, b: 1, kind: 'stacked' }, { a: 0, b: 7, kind: 'mirrored' }, { a: 3, b: 4, kind: 'stacked' }], equal_shells: [[0, 1, 2]] };
    return [[0], [1], [2], [7], [3], [5]].map((chosen) => [...partners({ model: { report }, chosen })].sort());
  });
  assert.deepEqual(lit, [[1, 2, 7], [0, 2, 7], [0, 1, 7], [0, 1, 2], [4], []]);
});
