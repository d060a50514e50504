// Worst-case files for reader and measures, each at most 5 MB: time of command and page, and memory, against 5 s, 20 s and
// 64 MB plus 60 times the file.
//
//   npm ci --prefix tests
//   node tests/bench/pathological.mjs [NAME…]      without a name, all
//
// Builds command and site with Cargo, or takes those named by GRIDPROOF_COMMAND and GRIDPROOF_SITE. GNU time (/usr/bin/time)
// reports the command's memory; without it that column is empty. Prints; judges nothing.

import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { serve } from './serve.mjs';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const MB = 2 ** 20;
const PAGE_LIMIT_MS = 120_000;

/** Seeded random numbers: Numerical Recipes' quick generator, 0..1. */
function random(seed = 1) {
  let state = seed;
  return () => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
}

const list = (count, of) => Array.from({ length: count }, (_, at) => of(at)).flat();
const SQUARE_UVS = ['vt .1 .1', 'vt .4 .1', 'vt .4 .4', 'vt .1 .4'];
const square = (z) => [`v 0 0 ${z}`, `v 1 0 ${z}`, `v 1 1 ${z}`, `v 0 1 ${z}`];
const stacked = (count, before = () => [], corners = () => 'f -4/1 -3/2 -2/3 -1/4') => [...SQUARE_UVS, ...list(count, (at) => [...before(at), ...square(at), corners(at)])];
const TRIANGLE = ['v 0 0 0', 'v 1 0 0', 'v 0 1 0', 'vt 0 0', 'vt 1 0', 'vt 0 1'];
const again = (count, before) => [...TRIANGLE, ...list(count, (at) => [...before(at), 'f 1/1 2/2 3/3'])];
const own = ([a, b, c], at) => [`v ${at} 0 0`, `v ${at} 1 0`, `v ${at} 0 1`, ...[a, b, c].map(([u, v]) => `vt ${u.toFixed(6)} ${v.toFixed(6)}`), 'f -3/-3 -2/-2 -1/-1'];
function oneFace(points) {
  const most = points.reduce((size, [x, y]) => Math.max(size, Math.abs(x), Math.abs(y)), 0) || 1;
  return [
    ...points.map(([x, y]) => `v ${x.toPrecision(6)} ${y.toPrecision(6)} 0`),
    ...points.map(([x, y]) => `vt ${(x / most / 2 + 0.5).toFixed(6)} ${(y / most / 2 + 0.5).toFixed(6)}`),
    `f ${points.map((_, at) => `${at + 1}/${at + 1}`).join(' ')}`,
  ];
}
const round = (count, turns = 1) => Array.from({ length: count }, (_, at) => [Math.cos((at * 2 * Math.PI * turns) / count), Math.sin((at * 2 * Math.PI * turns) / count)]);
const grid = (side, scale, at) => [(at % side) * scale, Math.floor(at / side) * scale];
/** A grid of vertices, and triangles that `uses`. */
function sheetOf(side, rows, scale, uv, uses) {
  const count = side * rows;
  return [
    ...list(count, (at) => `v ${grid(side, scale, at).join(' ')} 0`),
    ...list(count, (at) => `vt ${uv(at).join(' ')}`),
    ...list(count - side - 1, (at) => (uses(at) ? `f ${[at + 1, at + 2, at + side + 1].map((n) => `${n}/${n}`).join(' ')}` : [])),
  ];
}

const FILES = {
  '2,000 quads on one place': () => stacked(2000),
  '70,000 quads on one place': () => stacked(70_000),
  '50,000 quads on one place, a group each': () => stacked(50_000, (at) => [`g g${at}`]),
  '45,000 quads on one place, half of them mirrored': () => stacked(45_000, undefined, (at) => (at % 2 ? 'f -4/1 -3/2 -2/3 -1/4' : 'f -4/2 -3/1 -2/4 -1/3')),
  '20,000 quads nearly on one place': () => {
    const next = random();
    return list(20_000, (at) => {
      const [u, v] = [0.1 + next() * 0.01, 0.1 + next() * 0.01];
      return [...square(at), ...[[0, 0], [0.3, 0], [0.3, 0.3], [0, 0.3]].map(([x, y]) => `vt ${(u + x).toFixed(6)} ${(v + y).toFixed(6)}`), 'f -4/-4 -3/-3 -2/-2 -1/-1'];
    });
  },
  '200,000 vertices that are not numbers': () => [...list(200_000, () => 'v nan nan nan'), 'f 1 2 3'],
  'a face of 20,000 corners that crosses itself': () => {
    const next = random();
    return oneFace(Array.from({ length: 20_000 }, () => [next(), next()]));
  },
  'a star of 20,001 corners that crosses itself': () => oneFace(round(20_001, 7919)),
  'a round face of 60,000 corners': () => oneFace(round(60_000)),
  'a comb of 30,000 corners': () => oneFace([...Array.from({ length: 30_000 }, (_, at) => [at, at % 2 ? 1000 : 0]), [30_000, -5], [0, -5]]),
  'a spiral of 40,000 corners': () => {
    const arm = (more) => Array.from({ length: 20_000 }, (_, at) => [(at + 1 + more) * Math.cos(at / 100), (at + 1 + more) * Math.sin(at / 100)]);
    return oneFace([...arm(0), ...arm(300).reverse()]);
  },
  '40,000 corners in line': () => oneFace([...Array.from({ length: 40_000 }, (_, at) => [at, 0]), [40_000, 1], [0, 1]]),
  'a face of 40,000 corners on one point': () => oneFace(Array.from({ length: 40_000 }, () => [0, 0])),
  'a fan of 60,000 triangles': () => {
    const rim = round(60_000);
    return [
      'v 0 0 1', ...rim.map(([x, y]) => `v ${x.toFixed(6)} ${y.toFixed(6)} 0`),
      'vt .5 .5', ...rim.map(([x, y]) => `vt ${(x / 2 + 0.5).toFixed(6)} ${(y / 2 + 0.5).toFixed(6)}`),
      ...rim.map((_, at) => `f 1/1 ${at + 2}/${at + 2} ${((at + 1) % 60_000) + 2}/${((at + 1) % 60_000) + 2}`),
    ];
  },
  '60,000 triangles at one edge': () => ['v 0 0 0', 'v 1 0 0', ...list(60_000, (at) => `v ${Math.cos(at).toFixed(6)} ${Math.sin(at).toFixed(6)} 1`), 'vt 0 0', 'vt 1 0', 'vt .5 1', ...list(60_000, (at) => `f 1/1 2/2 ${at + 3}/3`)],
  '30,000 slivers through one point': () => list(30_000, (at) => {
    const [x, y] = [Math.cos((Math.PI * at) / 30_000) / 2, Math.sin((Math.PI * at) / 30_000) / 2];
    return own([[0.5 - x, 0.5 - y], [0.5 + x, 0.5 + y], [0.5 + x - y * 9e-4, 0.5 + y + x * 9e-4]], at);
  }),
  '15,000 triangles all over the sheet': () => {
    const next = random();
    return list(15_000, (at) => own(Array.from({ length: 3 }, () => [next(), next()]), at));
  },
  '45,000 shells side by side': () => list(45_000, (at) => {
    const [u, v] = grid(224, 1 / 224, at);
    return own([[u, v], [u + 0.003, v], [u, v + 0.003]], at);
  }),
  'lines that go on and on': () => ['v 0 0 0', 'v 1 0 0', 'v 0 1 0', 'f 1 2 3 \\', ...list(1_900_000, () => '\\'), '1'],
  'a face of 800,000 continued corners': () => ['v 0 0 0', 'v 1 0 0', 'v 0 1 0', 'f \\', ...list(800_000, () => ' 1 \\'), ''],
  '100,000 groups': () => again(100_000, (at) => [`g group${at}`]),
  '100,000 materials': () => again(100_000, (at) => [`usemtl m${at}`]),
  '100,000 objects': () => again(100_000, (at) => [`o o${at}`]),
  '60,000 holes': () => sheetOf(250, 500, 1, (at) => grid(250, 1 / 500, at), (at) => at % 2),
  'everything on one point': () => [...list(100_000, () => 'v 0 0 0'), 'vt 0 0', ...list(99_998, (at) => `f ${at + 1}/1 ${at + 2}/1 ${at + 3}/1`)],
  '60,000 faces on one point of the sheet': () => [...list(60_000, (at) => `v ${grid(300, 1, at).join(' ')} 0`), 'vt .5 .5', ...list(59_000, (at) => `f ${at + 1}/1 ${at + 2}/1 ${at + 301}/1`)],
  'coordinates of 1e9': () => sheetOf(200, 100, 1e9, (at) => grid(200, 1e9, at), () => true),
  'uvs anywhere up to 1e9': () => {
    const next = random();
    return sheetOf(200, 100, 1, () => [next() * 1e9, next() * 1e9], () => true);
  },
  'a name of four million letters': () => [`o ${'x'.repeat(4_000_000)}`, 'v 0 0 0', 'v 1 0 0', 'v 0 1 0', 'f 1 2 3'],
  '600,000 unknown statements': () => [...list(600_000, () => 'zz 1 2'), 'v 0 0 0', 'v 1 0 0', 'v 0 1 0', 'f 1 2 3'],
  '500,000 faces of missing vertices': () => ['v 0 0 0', ...list(500_000, () => 'f 1 2 9')],
};

/** Time and memory of the command's whole report. */
function byCommand(command, file) {
  const timed = existsSync('/usr/bin/time');
  const begun = performance.now();
  const { stderr } = spawnSync(...(timed ? ['/usr/bin/time', ['-f', '%M', command, 'check', file, '--json']] : [command, ['check', file, '--json']]), { stdio: ['ignore', 'ignore', 'pipe'], encoding: 'utf8' });
  const seconds = (performance.now() - begun) / 1000;
  return { seconds, megabytes: timed ? Number(stderr.trim().split('\n').at(-1)) / 1024 : NaN };
}

/** Time until the page has a report or says why it has none. */
async function byPage(browser, address, file) {
  const page = await browser.newPage();
  try {
    await page.goto(address);
    await page.evaluate(() => globalThis.gridproof.idle());
    const begun = performance.now();
    await page.setInputFiles('#file-input', file);
    await page.waitForFunction(() => globalThis.gridproof.report() || document.querySelector('#problem:not([hidden]), .problem:not([hidden])'), null, { timeout: PAGE_LIMIT_MS });
    return (performance.now() - begun) / 1000;
  } catch {
    return NaN;
  } finally {
    await page.close();
  }
}

const work = mkdtempSync(join(tmpdir(), 'gridproof-bench-'));
try {
  const cargo = (...args) => execFileSync('cargo', args, { cwd: ROOT, stdio: ['ignore', 'inherit', 'inherit'] });
  if (!process.env.GRIDPROOF_COMMAND) cargo('build', '--release');
  const command = process.env.GRIDPROOF_COMMAND ?? join(JSON.parse(execFileSync('cargo', ['metadata', '--format-version', '1', '--no-deps'], { cwd: ROOT, encoding: 'utf8' })).target_directory, 'release/gridproof');
  const site = process.env.GRIDPROOF_SITE ?? join(work, 'site');
  if (!process.env.GRIDPROOF_SITE) execFileSync(command, ['site', '--out', site], { stdio: ['ignore', 'inherit', 'inherit'] });
  const address = await serve({ '/site/': site });
  const { args } = JSON.parse(readFileSync(join(ROOT, 'webdriver.json'), 'utf8'))['goog:chromeOptions'];
  const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args });
  console.log('| file | MB | command, s | memory, MB | of 64 MB + 60 files | page, s |\n|---|---:|---:|---:|---:|---:|');
  const asked = process.argv.slice(2);
  for (const [name, lines] of Object.entries(FILES)) {
    if (asked.length > 0 && !asked.some((word) => name.includes(word))) continue;
    const file = join(work, 'model.obj');
    writeFileSync(file, `${lines().join('\n')}\n`);
    const size = statSync(file).size / MB;
    const { seconds, megabytes } = byCommand(command, file);
    const page = await byPage(browser, `${address}/site/index.html`, file);
    console.log(`| ${name} | ${size.toFixed(1)} | ${seconds.toFixed(2)} | ${megabytes.toFixed(0)} | ${(megabytes / (64 + 60 * size)).toFixed(2)} | ${page.toFixed(1)} |`);
  }
  await browser.close();
  process.exit(0);
} finally {
  rmSync(work, { recursive: true, force: true });
}
