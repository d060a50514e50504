// The page as the command serves it: it loads without errors under its Content-Security-Policy.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { gridproof, ROOT } from './harness.mjs';

const site = gridproof();

test('the page loads without errors and has a title', async (t) => {
  const { page, response } = await site.openPage(t);
  await page.waitForLoadState('load');
  assert.equal(response.status(), 200);
  assert.match(await page.title(), /Gridproof/);
});

test('the header and the page carry the same Content-Security-Policy', async (t) => {
  const { response } = await site.openPage(t);
  const header = response.headers()['content-security-policy'];
  for (const part of ["default-src 'none'", "script-src 'self' 'wasm-unsafe-eval'", "base-uri 'none'", "require-trusted-types-for 'script'", 'trusted-types gridproof']) {
    assert.ok(header.split('; ').includes(part), `${part} is missing from ${header}`);
  }
  const html = readFileSync(join(ROOT, 'index.html'), 'utf8');
  const meta = html.match(/http-equiv="Content-Security-Policy"\s+content="([^"]+)"/i)?.[1];
  assert.equal(meta?.replace(/\s+/g, ' ').trim(), header);
});

test('external and inline scripts are refused', async (t) => {
  const { page, problems } = await site.openPage(t, { allow: [/Content.Security.Policy|Trusted/i] });
  const ran = await page.evaluate(() => {
    const script = document.createElement('script');
    script.append('globalThis.ranInline = true');
    document.head.append(script);
    return 'ranInline' in globalThis;
  });
  assert.equal(ran, false);
  await page.waitForTimeout(100);
  assert.ok(problems.some((problem) => /script-src|require-trusted-types-for/.test(problem)), 'the refusal is reported');
});

test('no string becomes HTML, script or a script URL', async (t) => {
  const { page } = await site.openPage(t, { allow: [/Trusted|Content.Security.Policy/i] });
  await page.waitForFunction(() => window.gridproof?.state().engine === 'ok');
  const refused = await page.evaluate(async (origin) => {
    const { scriptAddress } = await import(new URL('www/base/trusted.js', document.baseURI).href);
    const tries = {
      html: () => (document.createElement('p').innerHTML = '<img src=x onerror=alert(1)>'),
      parsed: () => new DOMParser().parseFromString('<p>', 'text/html'),
      worker: () => new Worker(`${origin}/www/model/model.worker.js`),
      script: () => (document.createElement('script').src = 'www/app/app.js'),
      policy: () => globalThis.trustedTypes.createPolicy('another', {}),
      again: () => globalThis.trustedTypes.createPolicy('gridproof', {}),
      foreign: () => scriptAddress(new URL('https://elsewhere.example/worker.js')),
    };
    return Object.keys(tries).filter((name) => {
      try {
        tries[name]();
        return false;
      } catch (error) {
        return error instanceof TypeError;
      }
    });
  }, new URL(site.address).origin);
  assert.deepEqual(refused, ['html', 'parsed', 'worker', 'script', 'policy', 'again', 'foreign']);
});

test('the module is compiled while streaming, as application/wasm', async (t) => {
  const { page } = await site.openPage(t);
  const type = await page.evaluate(async () => (await fetch('wasm/gridproof_bg.wasm')).headers.get('content-type'));
  assert.equal(type, 'application/wasm');
  const exports = await page.evaluate(async () => {
    const module = await WebAssembly.compileStreaming(fetch('wasm/gridproof_bg.wasm'));
    return WebAssembly.Module.exports(module).map(({ name }) => name);
  });
  assert.ok(exports.includes('memory'), `exports: ${exports}`);
});
