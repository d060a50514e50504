// Links to hosted models and embedding: what other origins may and may not do.

import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { buildSite, serveElsewhere } from './elsewhere.mjs';
import { gridproof, ROOT } from './harness.mjs';

const demo = (name) => readFileSync(join(ROOT, 'demo', name));
const draft = demo('lantern-draft.obj');
const FILES = {
  '/embed.html': { type: 'text/html', body: demo('embed.html') },
  '/embed.js': { type: 'text/javascript', body: demo('embed.js') },
  '/lantern-draft.obj': { type: 'model/obj', body: draft },
  '/huge.obj': { type: 'model/obj', body: 'v', headers: { 'content-length': 600 * 2 ** 20 } },
};
const listed = await serveElsewhere(FILES);
const foreign = await serveElsewhere(FILES);
after(() => {
  listed.stop();
  foreign.stop();
});

const site = gridproof({ folder: () => buildSite('site-neighbours', ['--allow-models-from', listed.origin, '--allow-parent', listed.origin]) });
const digest = createHash('sha256').update(draft).digest('hex');
const idle = (page) => page.evaluate(() => window.gridproof.idle());
const src = (address, more = '') => `?src=${encodeURIComponent(address)}${more}`;

test('a model hosted with the page opens from its link, and Back returns', async (t) => {
  const { page } = await site.openPage(t, { path: src('demo/lantern-draft.obj', `&sha256=${digest}`) });
  await idle(page);
  assert.equal(await page.locator('#file-name').innerText(), 'lantern-draft.obj');
  assert.ok(await page.locator('#notice').isHidden(), 'it is the file the link was made for');
  await page.setInputFiles('#file-input', { name: 'own.obj', mimeType: 'model/obj', buffer: demo('lantern-revised.obj') });
  await idle(page);
  assert.equal(new URL(page.url()).search, '');
  await page.goBack();
  await idle(page);
  assert.equal(await page.locator('#file-name').innerText(), 'lantern-draft.obj');
});

test('a model that changed since is shown and reported as changed', async (t) => {
  const { page, shot } = await site.openPage(t, { path: src('demo/lantern-revised.obj', `&sha256=${digest}`) });
  await idle(page);
  assert.match(await page.locator('#notice').innerText(), /not the file that the link was made for/);
  await shot('link-changed');
});

test('a listed origin is fetched without cookies or referrer', async (t) => {
  listed.asked.length = 0;
  const { page } = await site.openPage(t, { path: src(`${listed.origin}/lantern-draft.obj`), allow: [/asked another host/] });
  await idle(page);
  assert.equal(await page.evaluate(() => window.gridproof.state().model?.verdict), 'not ready');
  const [{ headers }] = listed.asked;
  assert.equal(headers.cookie, undefined);
  assert.equal(headers.referer, undefined);
});

for (const [what, address, says] of [
  ['an origin that is not listed', () => `${foreign.origin}/lantern-draft.obj`, /another site/],
  ['a path of data', () => 'data:text/plain,v', /another site/],
  ['script', () => 'javascript:alert(1)', /another site/],
  ['a name and a password', () => listed.origin.replace('//', '//me:secret@'), /another site/],
  ['nothing that is there', () => 'demo/missing.obj', /could not be fetched/],
  ['a model larger than links may open', () => `${listed.origin}/huge.obj`, /too large for a link/],
]) {
  test(`a link to ${what} is refused with a message, and the page still works`, async (t) => {
    foreign.asked.length = 0;
    const { page, shot } = await site.openPage(t, { path: src(address()), allow: [/asked another host/, /404/, /ERR_/] });
    await idle(page);
    assert.match(await page.locator('#problem').innerText(), says);
    assert.equal(foreign.asked.length, 0);
    if (says.source.startsWith('another')) await shot('link-refused');
    await page.setInputFiles('#file-input', { name: 'own.obj', mimeType: 'model/obj', buffer: draft });
    await idle(page);
    assert.equal(await page.evaluate(() => window.gridproof.state().model?.name), 'own.obj');
  });
}

/** Opens the example of a course's page at `origin` around the site. */
async function course(t, origin) {
  const context = await site.browser.newContext({ viewport: { width: 1200, height: 900 }, serviceWorkers: 'block' });
  t.after(() => context.close());
  const page = await context.newPage();
  await page.goto(`${origin}/embed.html?page=${encodeURIComponent(site.address)}`);
  const answer = page.locator('#answer');
  return { page, answer, said: async (pattern) => page.waitForFunction(([source]) => new RegExp(source).test(document.getElementById('answer').textContent), [pattern.source], { timeout: 60_000 }).catch(async (error) => assert.fail(`waited for ${pattern}, read “${await answer.innerText()}”: ${error}`)) };
}

test('a course page of an allowed origin sends a model and gets its report', async (t) => {
  const { page, answer, said } = await course(t, listed.origin);
  await said(/Ready/);
  await page.locator('#draft').click();
  await said(/lantern-draft\.obj: not ready/);
  assert.match(await answer.innerText(), /\d+ findings/);
  await page.screenshot({ path: join(ROOT, 'tests', 'shots', 'embedded.png') });
  const frame = page.frames().find((one) => one.url().startsWith(site.address));
  await page.selectOption('#lens', 'flipped');
  assert.equal(await frame.evaluate(() => window.gridproof.state().lens), 'flipped');
  const before = await frame.evaluate(() => window.gridproof.report().sheet.padding_between_px);
  await page.locator('#small').check();
  await frame.waitForFunction((was) => window.gridproof.report().sheet.padding_between_px < was, before);
  // Mistakes a course page may make.
  for (const [message, why] of [
    [{ type: 'close' }, /no message “close”/],
    [{ type: 'constructor' }, /no message “constructor”/],
    [{ type: '__proto__' }, /no message “__proto__”/],
    [{ type: 'toString' }, /no message “toString”/],
    [{ type: ['open'] }, /no message “object”/],
    [{}, /no message “undefined”/],
    [{ type: 'lens', lens: 'constructor' }, /the lenses are grid/],
    [{ type: 'open', id: 'a', name: 'a.obj', bytes: 'text' }, /bytes must be an ArrayBuffer/],
    [{ type: 'open', id: '', name: 'a.obj', bytes: null }, /id must be/],
    [{ type: 'lens', lens: 'rainbow' }, /the lenses are grid/],
    [{ type: 'brief', brief: { map: { width_px: 0 } } }, /brief: .*width/],
    [{ type: 'lens', lens: 'grid', extra: 1 }, /no key “extra”/],
  ]) {
    await page.evaluate((sent) => document.getElementById('frame').contentWindow.postMessage({ protocol: 'gridproof-embed/1', ...sent }, '*'), message);
    await said(new RegExp(`Refused: .*${why.source}`));
  }
  await page.setInputFiles('#file', { name: 'broken.obj', mimeType: 'model/obj', buffer: Buffer.from('v 0 0 0\n') });
  await said(/broken\.obj: There is nothing to draw/);
});

test('each model sent gets one answer, even if others are opened meanwhile', async (t) => {
  const { page, said } = await course(t, listed.origin);
  await said(/Ready/);
  const frame = page.frames().find((one) => one.url().startsWith(site.address));
  await page.evaluate(() => {
    globalThis.answers = [];
    addEventListener('message', ({ data }) => ['report', 'failed'].includes(data.type) && globalThis.answers.push([data.id, data.type, data.code ?? data.report.file.name, data.message ?? '']));
    globalThis.hand = async (id, name, body) => document.getElementById('frame').contentWindow.postMessage({ protocol: 'gridproof-embed/1', type: 'open', id, name, bytes: body === undefined ? await (await fetch('lantern-draft.obj')).arrayBuffer() : new TextEncoder().encode(body).buffer }, '*');
  });
  const answered = async (count) => {
    await page.waitForFunction((count) => globalThis.answers.length >= count, count, { timeout: 60_000 });
    await page.waitForTimeout(300);
    return page.evaluate(() => globalThis.answers.splice(0));
  };
  // Three at once, two of one name; the last one counts.
  await page.evaluate(() => Promise.all([globalThis.hand('a', 'first.obj'), globalThis.hand('a', 'second.obj'), globalThis.hand('b', 'third.obj')]));
  const three = await answered(3);
  assert.deepEqual(three.map(([id, type, code]) => [id, type, code]), [['a', 'failed', 'replaced'], ['a', 'failed', 'replaced'], ['b', 'report', 'third.obj']]);
  assert.match(three[0][3], /Another model was opened before this one was measured\./);
  // One that cannot be read, and the next one.
  await page.evaluate(() => globalThis.hand('c', 'broken.obj', 'v 0 0 0\n'));
  assert.deepEqual((await answered(1)).map(([id, type, code]) => [id, type, code]), [['c', 'failed', 'no-faces']]);
  // One that the visitor cancels.
  await frame.evaluate(() => addEventListener('message', () => queueMicrotask(() => document.getElementById('job-cancel').click()), { once: true }));
  await page.evaluate(() => globalThis.hand('d', 'stopped.obj'));
  assert.deepEqual((await answered(1)).map(([id, type, code]) => [id, type, code]), [['d', 'failed', 'stopped']]);
  // What the visitor opens is not reported to the parent.
  await frame.setInputFiles('#file-input', { name: 'own.obj', mimeType: 'model/obj', buffer: draft });
  await frame.waitForFunction(() => window.gridproof.state().model?.name === 'own.obj' && window.gridproof.report());
  await page.waitForTimeout(300);
  assert.deepEqual(await page.evaluate(() => globalThis.answers.splice(0)), []);
});

test('a page of another origin gets no messages and has no effect', async (t) => {
  const { page, answer } = await course(t, foreign.origin);
  const frame = page.frames().find((one) => one.url().startsWith(site.address));
  await frame.waitForFunction(() => window.gridproof?.state().engine === 'ok');
  await page.locator('#draft').click();
  await page.waitForTimeout(500);
  await frame.evaluate(() => window.gridproof.idle());
  assert.equal(await frame.evaluate(() => window.gridproof.state().model), null);
  assert.match(await answer.innerText(), /Waiting/);
});
