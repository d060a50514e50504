// How soon a class is measured: thirty lanterns of some 20,000 triangles in the table, against the time npm's three takes to
// read them one after another, in one run of one browser. Ratios, since machines are noisy. As in normal use, the page has been
// open for some seconds, and the folder is chosen by the button.
//
//   npm ci --prefix tests
//   node tests/bench/class.mjs [WORKERS]      without a number, as many as the page takes
//
// Builds the site and the lanterns with Cargo, or takes those named by GRIDPROOF_SITE and GRIDPROOF_LANTERNS. Prints;
// judges nothing.

import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { serve } from './serve.mjs';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const COUNT = 30;
const ROUNDS = 3;
/** How long the page is open first, and the folder dialog. */
const [OPEN_MS, CHOOSING_MS] = [3000, 500];
const work = mkdtempSync(join(tmpdir(), 'gridproof-bench-'));
const cargo = (...args) => execFileSync('cargo', args, { cwd: ROOT, stdio: ['ignore', 'inherit', 'inherit'] });

/** Twice the triangles: every triangle and quad gets a corner in its middle; larger polygons, some of them not convex, stay. */
function finer(text) {
  const lines = text.split('\n').map((line) => line.trim().split(/\s+/));
  const numbers = (word) => lines.filter(([first]) => first === word).map(([, ...rest]) => rest.map(Number));
  // All existing vertices first, so that new ones shift no index.
  const [points, uvs] = [numbers('v'), numbers('vt')];
  let triangles = 0;
  const faces = lines.filter(([word]) => word !== 'v' && word !== 'vt').flatMap(([word, ...rest]) => {
    const corners = word === 'f' ? rest.map((corner) => corner.split('/').map(Number)) : [];
    if (corners.length < 3 || corners.length > 4 || corners.some(([, uv]) => !uv)) {
      triangles += word === 'f' ? corners.length - 2 : 0;
      return [[word, ...rest].join(' ')];
    }
    for (const [at, list] of [points, uvs].entries()) {
      const chosen = corners.map((corner) => list[corner[at] - 1]);
      list.push(chosen[0].map((_, axis) => chosen.reduce((sum, one) => sum + one[axis], 0) / chosen.length));
    }
    triangles += corners.length;
    const middle = `${points.length}/${uvs.length}`;
    return corners.map(([p, q], at) => `f ${p}/${q} ${corners[(at + 1) % corners.length].slice(0, 2).join('/')} ${middle}`);
  });
  return { text: [...points.map((xyz) => `v ${xyz.join(' ')}`), ...uvs.map((uv) => `vt ${uv.join(' ')}`), ...faces, ''].join('\n'), triangles };
}

try {
  const site = process.env.GRIDPROOF_SITE ?? join(work, 'site');
  if (!process.env.GRIDPROOF_SITE) cargo('run', '--release', '--', 'site', '--out', site);
  const lanterns = process.env.GRIDPROOF_LANTERNS ?? join(work, 'lanterns');
  if (!process.env.GRIDPROOF_LANTERNS) cargo('run', '--release', '--example', 'lantern', '--', '--random', '1', String(COUNT), lanterns);
  const fine = join(work, 'class');
  mkdirSync(fine);
  const names = readdirSync(lanterns).filter((name) => name.endsWith('.obj')).slice(0, COUNT);
  let triangles = 0;
  for (const name of names) {
    const made = finer(readFileSync(join(lanterns, name), 'utf8'));
    triangles += made.triangles;
    writeFileSync(join(fine, name), made.text);
  }
  const address = await serve({ '/site/': site, '/three/': join(ROOT, 'tests/node_modules/three'), '/bench/': join(ROOT, 'tests/bench'), '/class/': fine });
  const { args } = JSON.parse(readFileSync(join(ROOT, 'webdriver.json'), 'utf8'))['goog:chromeOptions'];
  const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args });
  console.log(`${names.length} lanterns, ${Math.round(triangles / names.length)} triangles each`);
  const best = { three: Infinity, numbers: Infinity, all: Infinity };
  for (let round = 0; round < ROUNDS; round += 1) {
    const page = await browser.newPage();
    page.on('pageerror', (error) => console.error(error));
    await page.goto(`${address}/bench/class.html`);
    const three = await page.evaluate((files) => globalThis.readAll(files), names.map((name) => `/class/${name}`));
    await page.close();
    const ours = await table(browser, `${address}/site/index.html`, fine);
    for (const [key, time] of Object.entries({ three, ...ours })) best[key] = Math.min(best[key], time);
    console.log(`round ${round + 1}: three ${three.toFixed(0)} ms; table ${ours.numbers.toFixed(0)} ms, with pictures ${ours.all.toFixed(0)} ms`);
  }
  console.log(`three's OBJLoader, one after another: ${best.three.toFixed(0)} ms`);
  console.log(`all rows with their numbers:          ${best.numbers.toFixed(0)} ms, ${(best.numbers / best.three).toFixed(2)} of it`);
  console.log(`all pictures too:                     ${best.all.toFixed(0)} ms, ${(best.all / best.three).toFixed(2)} of it`);
  await browser.close();
  process.exit(0);
} finally {
  rmSync(work, { recursive: true, force: true });
}

/** From choosing the folder to the last row's verdict, and to the last picture. */
async function table(browser, site, folder) {
  const page = await browser.newPage();
  page.on('pageerror', (error) => console.error(error));
  const workers = process.argv[2];
  if (workers) await page.addInitScript((count) => Object.defineProperty(navigator, 'hardwareConcurrency', { value: count }), Number(workers));
  await page.goto(site);
  await page.evaluate(() => window.gridproof.idle());
  await page.evaluate((count) => {
    const times = {};
    document.getElementById('folder-input').addEventListener('change', () => (times.start = performance.now()), { capture: true });
    const look = () => {
      const now = performance.now();
      if (document.querySelectorAll('#class-rows .class-of-verdict :is(.tone-must-fix, .tone-look, .tone-ready)').length === count) times.numbers ??= now;
      if (document.querySelectorAll('#class-rows canvas').length === count) times.all ??= now;
    };
    new MutationObserver(look).observe(document.getElementById('class-rows'), { childList: true, subtree: true });
    globalThis.classTimes = times;
  }, COUNT);
  await page.waitForTimeout(OPEN_MS);
  const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.locator('#folder-open').click()]);
  await page.waitForTimeout(CHOOSING_MS);
  await chooser.setFiles(folder);
  await page.waitForFunction(() => globalThis.classTimes.all, null, { timeout: 300_000, polling: 500 });
  const { start, numbers, all } = await page.evaluate(() => globalThis.classTimes);
  await page.close();
  return { numbers: numbers - start, all: all - start };
}
