// Time for models of many sizes: npm's three to read one, the worker alone from its bytes to the report, and the page from the
// drop to its grid and to the report, each in a separate process; and the peak memory of the page's process.
//
//   npm ci --prefix tests
//   node tests/bench/large.mjs [MILLIONS…]      without a number, 0.1, 1, 4 and 13 million triangles
//
// Builds command and site with Cargo, or takes those named by GRIDPROOF_COMMAND and GRIDPROOF_SITE; GRIDPROOF_BROWSER_ARGS are
// more arguments for the browser. Memory is read from /proc, so only on Linux. Prints; judges nothing.

import { execFileSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, readFileSync, readdirSync, rmSync, statSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { serve } from './serve.mjs';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const LIMIT_MS = 400_000;
const work = mkdtempSync(join(tmpdir(), 'gridproof-bench-'));

/** A sphere with bumps, of quads, mapped whole: about this many triangles. */
function write(file, triangles) {
  const around = Math.round(Math.sqrt(triangles));
  const down = around >> 1;
  const out = openSync(file, 'w');
  const rows = (count, line) => {
    for (let row = 0; row < count; row += 1) writeSync(out, Array.from({ length: around + 1 }, (_, column) => line(row, column)).join(''));
  };
  const polar = (row) => 0.02 + (0.96 * row) / down;
  rows(down + 1, (row, column) => {
    const [theta, phi] = [Math.PI * polar(row), (2 * Math.PI * column) / around];
    const r = 1 + 0.05 * Math.sin(7 * phi) * Math.sin(9 * theta);
    const flat = [r * Math.sin(theta) * Math.cos(phi), r * Math.cos(theta), r * Math.sin(theta) * Math.sin(phi)];
    return `v ${flat.map((part) => part.toFixed(6)).join(' ')}\n`;
  });
  rows(down + 1, (row, column) => `vt ${(column / around).toFixed(6)} ${polar(row).toFixed(6)}\n`);
  rows(down, (row, column) => {
    if (column === around) return '';
    const a = row * (around + 1) + 1 + column;
    return `f ${[a, a + 1, a + around + 2, a + around + 1].map((corner) => `${corner}/${corner}`).join(' ')}\n`;
  });
  closeSync(out);
}

/** Peak memory of one process of this browser, bytes. */
function mostMemory(profile) {
  const most = [0];
  for (const id of readdirSync('/proc').filter((name) => /^\d+$/.test(name))) {
    try {
      const command = readFileSync(`/proc/${id}/cmdline`, 'utf8');
      if (!command.includes('--type=renderer') || !belongs(id, profile)) continue;
      most.push(Number(/VmHWM:\s+(\d+)/.exec(readFileSync(`/proc/${id}/status`, 'utf8'))?.[1] ?? 0) * 1024);
    } catch {
      // A process that has just ended.
    }
  }
  return Math.max(...most);
}

/** Whether a process belongs to the browser with this profile. */
function belongs(id, profile) {
  for (let at = id; at && at !== '1'; at = /PPid:\s+(\d+)/.exec(readFileSync(`/proc/${at}/status`, 'utf8'))?.[1]) {
    if (readFileSync(`/proc/${at}/cmdline`, 'utf8').includes(`--user-data-dir=${profile}`)) return true;
  }
  return false;
}

/** In a separate browser; null where it failed. */
async function inBrowser(address, act) {
  const profile = mkdtempSync(join(work, 'profile-'));
  const { args } = JSON.parse(readFileSync(join(ROOT, 'webdriver.json'), 'utf8'))['goog:chromeOptions'];
  const more = process.env.GRIDPROOF_BROWSER_ARGS?.split(' ') ?? [];
  const browser = await chromium.launchPersistentContext(profile, { executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: [...args, ...more], viewport: { width: 1440, height: 900 } });
  try {
    const page = await browser.newPage();
    page.setDefaultTimeout(LIMIT_MS);
    await page.goto(address);
    const crashed = new Promise((_, reject) => page.on('crash', () => reject(new Error('The page crashed.'))));
    return { ...(await Promise.race([act(page), crashed])), memory: mostMemory(profile) };
  } catch (error) {
    console.error(`  ${String(error).split('\n')[0]}`);
    return null;
  } finally {
    await browser.close();
  }
}

const three = (address) => inBrowser(`${address}/bench/large.html`, (page) => page.evaluate(() => globalThis.byThree()));
const alone = (address) => inBrowser(`${address}/bench/large.html`, (page) => page.evaluate(() => globalThis.byWorker()));

function page(address, file) {
  return inBrowser(`${address}/site/index.html`, async (page) => {
    await page.waitForFunction(() => globalThis.gridproof);
    await page.waitForTimeout(3000);
    await page.evaluate(() => {
      const marks = (globalThis.marks = {});
      document.getElementById('file-input').addEventListener('change', () => {
        const start = performance.now();
        const look = () => {
          if (globalThis.gridproof.report()) marks.report ??= performance.now() - start;
          const [grid] = performance.getEntriesByName('gridproof-grid');
          if (grid) marks.grid ??= grid.startTime - start;
          if (!marks.report || !marks.grid) setTimeout(look, 10);
        };
        look();
      }, true);
    });
    await page.setInputFiles('#file-input', file);
    await page.waitForFunction(() => globalThis.marks.report && globalThis.marks.grid, null, { polling: 200 });
    await page.evaluate(() => globalThis.gridproof.idle());
    return page.evaluate(() => globalThis.marks);
  });
}

const seconds = (time) => (time === undefined ? '–' : (time / 1000).toFixed(2));
const gigabytes = (result) => (result ? (result.memory / 2 ** 30).toFixed(2) : '–');

try {
  const cargo = (...args) => execFileSync('cargo', args, { cwd: ROOT, stdio: ['ignore', 'inherit', 'inherit'] });
  const site = process.env.GRIDPROOF_SITE ?? join(work, 'site');
  if (!process.env.GRIDPROOF_SITE) cargo('run', '--release', '--', 'site', '--out', site);
  const sizes = process.argv.length > 2 ? process.argv.slice(2).map(Number) : [0.1, 1, 4, 13];
  console.log('| million triangles | MB | three reads, s | worker alone, s | page: grid, s | report, s | of the worker | three, GB | page, GB |\n|---:|---:|---:|---:|---:|---:|---:|---:|---:|');
  for (const size of sizes) {
    const file = join(work, `${size}.obj`);
    write(file, size * 1e6);
    const places = { '/site/': site, '/three/': join(ROOT, 'tests/node_modules/three'), '/bench/': join(ROOT, 'tests/bench'), '/model.obj': file };
    const address = await serve(places);
    const [theirs, ours, whole] = [await three(address), await alone(address), await page(address, file)];
    const share = ours && whole ? (whole.report / ours.report).toFixed(2) : '–';
    console.log(`| ${size} | ${(statSync(file).size / 1e6).toFixed(0)} | ${seconds(theirs?.read)} | ${seconds(ours?.report)} | ${seconds(whole?.grid)} | ${seconds(whole?.report)} | ${share} | ${gigabytes(theirs)} | ${gigabytes(whole)} |`);
    rmSync(file);
  }
  process.exit(0);
} finally {
  rmSync(work, { recursive: true, force: true });
}
