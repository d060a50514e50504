// How soon a link with the model inside is open, against its file. First in fresh profiles, by a link to a page that was not
// open: from the module's being ready, and from the navigation's start, to the first picture with its grid and to the report;
// alternating with a file that is dropped the moment the page's module is ready, and with a page that fetches the file by
// itself from the start. Then in one page that stays open, against a file that is dropped: until the model is on screen, and
// until it is measured. Ratios, since machines are noisy.
//
//   npm ci --prefix tests
//   node tests/bench/carried.mjs [FILE.obj …]      without files, the demo's draft
//
// Builds command and site with Cargo, or takes those named by GRIDPROOF_COMMAND and GRIDPROOF_SITE. Prints; judges nothing.

import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { serve } from './serve.mjs';
import { firstGrid, middle } from './thread.mjs';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const ROUNDS = 5;
const FRESH = 15;
const work = mkdtempSync(join(tmpdir(), 'gridproof-bench-'));
const stdio = ['ignore', 'pipe', 'inherit'];

function command(...args) {
  const { GRIDPROOF_COMMAND: built } = process.env;
  const [program, first] = built ? [built, []] : ['cargo', ['run', '--release', '--']];
  return execFileSync(program, [...first, ...args], { cwd: ROOT, stdio, encoding: 'utf8', maxBuffer: 1 << 26 });
}

/** In the page: opens file or link and gives ms until the model is on screen and until its report is there. */
async function timed({ name, text, link }) {
  const until = async (is) => {
    while (!is()) await new Promise((resolve) => setTimeout(resolve, 0));
    return performance.now() - start;
  };
  const { gridproof } = window;
  await gridproof.idle();
  const before = gridproof.report();
  const files = new DataTransfer();
  if (text !== undefined) files.items.add(new File([text], name));
  const input = document.getElementById('file-input');
  const start = performance.now();
  if (text === undefined) location.hash = `#m=${link}`;
  else {
    input.files = files.files;
    input.dispatchEvent(new Event('change'));
  }
  const shown = await until(() => gridproof.state().model && gridproof.report() !== before);
  const measured = await until(() => gridproof.report() && gridproof.report() !== before);
  return { shown, measured };
}

try {
  const site = process.env.GRIDPROOF_SITE ?? join(work, 'site');
  if (!process.env.GRIDPROOF_SITE) command('site', '--out', site);
  const address = await serve({ '/site/': site, '/placed/': work });
  const { args } = JSON.parse(readFileSync(join(ROOT, 'webdriver.json'), 'utf8'))['goog:chromeOptions'];
  const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args });
  for (const file of process.argv.length > 2 ? process.argv.slice(2) : [join(ROOT, 'demo/lantern-draft.obj')]) {
    const text = readFileSync(file, 'utf8');
    const link = command('link', file, '--site', 'https://example.org/').trim().split('#m=')[1];
    console.log(`${basename(file)}, ${(text.length / 1e6).toFixed(2)} MB, a link of ${link.length} characters:`);
    const cold = { link: [], dropped: [], fetched: [] };
    copyFileSync(file, join(work, 'model.obj'));
    for (let round = 0; round < FRESH; round += 1) {
      const ends = { link: `#m=${link}`, dropped: '', fetched: `?src=${encodeURIComponent('/placed/model.obj')}` };
      for (const [way, end] of Object.entries(ends)) cold[way].push(await firstGrid(browser, `${address}/site/index.html${end}`, way === 'dropped' ? { name: basename(file), text } : undefined));
    }
    for (const [what, title] of [['grid', 'first grid'], ['report', 'report']]) {
      for (const [from, time] of [['after the module is ready', (times) => times[what]], ['since the navigation began', (times) => times.since[what]]]) {
        const [ours, ...others] = Object.values(cold).map((rounds) => middle(rounds.map(time)));
        const [dropped, fetched] = others.map((its) => `${its.toFixed(0)} ms, ${(ours / its).toFixed(2)} of it`);
        console.log(`  fresh, ${title} ${from}: link ${ours.toFixed(0)} ms; file dropped ${dropped}; file fetched ${fetched} (middle of ${FRESH})`);
      }
    }
    const page = await browser.newPage();
    await page.goto(`${address}/site/index.html`);
    await page.waitForFunction(() => window.gridproof?.state().engine === 'ok');
    const best = {};
    for (let round = 0; round < ROUNDS; round += 1) {
      for (const [way, given] of [['file', { name: basename(file), text }], ['link', { link }]]) {
        const times = await page.evaluate(timed, given);
        best[way] = best[way] ? { shown: Math.min(best[way].shown, times.shown), measured: Math.min(best[way].measured, times.measured) } : times;
      }
    }
    const [dropped, opened] = [best.file, best.link];
    for (const what of ['shown', 'measured']) {
      console.log(`  open page, ${what}: link ${opened[what].toFixed(0)} ms, file ${dropped[what].toFixed(0)} ms, ${(opened[what] / dropped[what]).toFixed(2)} of it`);
    }
    await page.close();
  }
  await browser.close();
  process.exit(0);
} finally {
  rmSync(work, { recursive: true, force: true });
}
