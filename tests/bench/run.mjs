// Speed and size of page and command against npm's three, in one run of one browser: ratios, since machines are noisy. Then
// how long the main thread is blocked.
//
//   npm ci --prefix tests
//   node tests/bench/run.mjs [FILE.obj]        without a file, a million triangles are generated first
//
// Builds site and command with Cargo, or takes those named by GRIDPROOF_SITE and GRIDPROOF_COMMAND. Prints; judges nothing.

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import { chromium } from 'playwright-core';
import { serve } from './serve.mjs';
import { thread } from './thread.mjs';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const work = mkdtempSync(join(tmpdir(), 'gridproof-bench-'));
const cargo = (...args) => execFileSync('cargo', args, { cwd: ROOT, stdio: ['ignore', 'inherit', 'inherit'] });

function built() {
  cargo('build', '--release');
  const said = execFileSync('cargo', ['metadata', '--format-version', '1', '--no-deps'], { cwd: ROOT, encoding: 'utf8' });
  return join(JSON.parse(said).target_directory, 'release/gridproof');
}

/** Time of the command's whole report of a file, ms. */
function timed(command, model) {
  const start = performance.now();
  const { status } = spawnSync(command, ['check', model, '--json'], { stdio: 'ignore' });
  // Exit status 1: it has findings.
  if (status !== 0 && status !== 1) throw new Error(`gridproof check ended with ${status}`);
  return performance.now() - start;
}

try {
  const command = process.env.GRIDPROOF_COMMAND ?? built();
  const site = process.env.GRIDPROOF_SITE ?? join(work, 'site');
  if (!process.env.GRIDPROOF_SITE) execFileSync(command, ['site', '--out', site], { stdio: ['ignore', 'inherit', 'inherit'] });
  let model = process.argv[2];
  if (!model) {
    model = join(work, 'million.obj');
    cargo('run', '--release', '--example', 'big_obj', '--', model);
  }
  const address = await serve({ '/site/': site, '/three/': join(ROOT, 'tests/node_modules/three'), '/bench/': join(ROOT, 'tests/bench'), '/model.obj': model });
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--use-angle=swiftshader', '--enable-unsafe-swiftshader', '--ignore-gpu-blocklist', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
  await thread(browser, `${address}/site/index.html`, model);
  const page = await browser.newPage();
  page.on('console', (message) => console.log(message.text()));
  page.on('pageerror', (error) => console.error(error));
  await page.goto(`${address}/bench/page.html`);
  await page.exposeFunction('timedCommand', () => timed(command, model));
  await page.evaluate(() => globalThis.benchmark());
  await browser.close();
  const wasm = readFileSync(join(site, 'wasm/gridproof_bg.wasm'));
  console.log(`module, gzip -9: ${(gzipSync(wasm, { level: 9 }).length / 1024).toFixed(1)} KiB`);
  process.exit(0);
} finally {
  rmSync(work, { recursive: true, force: true });
}
