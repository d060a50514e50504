// What tests in Firefox stand on: stock Firefox through WebDriver BiDi, profiles of its own, a screen where the system has
// one to give, and the same watch over pages as in Chromium.
//
// Firefox draws WebGL2 in software only on a screen: with Xvfb one is started, and never anybody's own is used. Without it
// Firefox runs headless, has no WebGL2, and the page draws the sheet alone.
//
// Environment: FIREFOX (the browser's program), and what harness.mjs reads.

import { spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before } from 'node:test';
import puppeteer from 'puppeteer-core';
import { assertNone, programOf, SHOTS, tellViolations, watch } from './harness.mjs';

const VIEWPORT = { width: 1280, height: 800 };
/** How long a start or an answer may take, ms: on a machine that does other things too. */
const LIMIT = 120_000;
/** How often a folder is looked into for what is being saved, ms. */
const LOOK_EVERY_MS = 50;

/** Opens Firefox for the tests of one file. */
export function firefox() {
  let screen;
  let shared;
  let renderer = null;
  before(async () => {
    screen = await startScreen();
    shared = await launch(screen);
    const [page] = await shared.browser.pages();
    renderer = await page.evaluate(() => {
      const gl = document.createElement('canvas').getContext('webgl2');
      return gl && gl.getParameter(gl.RENDERER);
    });
    console.log(`${await shared.browser.version()}, ${screen ? 'on a screen of Xvfb' : 'headless'}: ${renderer ? `WebGL2 by ${renderer}` : 'no WebGL2, the sheet alone is drawn'}`);
  });
  after(async () => {
    await shared?.close();
    screen?.stop();
  });
  return {
    /** What the page has to draw with: “gl” or “none”, as its state says. */
    get graphics() {
      return renderer ? 'gl' : 'none';
    },
    /** Opens a page with storage of its own in the browser that these tests share. */
    openPage: async (t, options) => openPage(t, shared, await shared.browser.createBrowserContext(), options),
    /** Opens a page in a browser of its own, with a new profile. */
    async openFresh(t, options) {
      const fresh = await launch(screen);
      try {
        return await openPage(t, fresh, fresh.browser.defaultBrowserContext(), options);
      } finally {
        // After the page.
        t.after(fresh.close);
      }
    },
  };
}

/**
 * Starts a screen of its own, on a free number, and gives the number's name; null where there is no Xvfb.
 * @returns {Promise<{display: string, stop: () => void} | null>}
 */
async function startScreen() {
  const program = programOf([], ['Xvfb']);
  if (!program) return null;
  const child = spawn(program, ['-displayfd', '1', '-screen', '0', '1600x1200x24', '-nolisten', 'tcp'], { stdio: ['ignore', 'pipe', 'ignore'] });
  const stop = () => child.kill();
  process.once('exit', stop);
  const number = await new Promise((resolve, reject) => {
    let said = '';
    child.stdout.on('data', (text) => {
      said += text;
      if (said.endsWith('\n')) resolve(said.trim());
    });
    child.once('error', reject);
    child.once('exit', (status) => reject(new Error(`${program} ended with ${status}`)));
  });
  return { display: `:${number}`, stop };
}

/** Starts Firefox with a new profile. */
async function launch(screen) {
  const program = programOf([process.env.FIREFOX], ['firefox-esr', 'firefox']);
  if (!program) throw new Error('no Firefox on the search path; install it or name its program in FIREFOX');
  const downloads = mkdtempSync(join(tmpdir(), 'gridproof-saved-'));
  const browser = await puppeteer.launch({
    browser: 'firefox',
    executablePath: program,
    headless: screen === null,
    env: { ...process.env, ...(screen && { DISPLAY: screen.display, WAYLAND_DISPLAY: '' }) },
    timeout: LIMIT,
    protocolTimeout: LIMIT,
    extraPrefsFirefox: {
      // What is saved goes into a folder, and nothing asks.
      'browser.download.folderList': 2,
      'browser.download.dir': downloads,
      'browser.download.alwaysOpenPanel': false,
      // On a busy machine Firefox does not wait until the graphics system has said what it is, and then offers no WebGL2.
      'webgl.force-enabled': true,
    },
  });
  const close = async () => {
    await browser.close();
    rmSync(downloads, { recursive: true, force: true });
  };
  return { browser, downloads, close };
}

/**
 * @param {import('node:test').TestContext} t
 * @param {{site: string, path?: string, allow?: RegExp[]}} options as in harness.mjs; `path` is opened below the address
 *   `site`, the only one that the page may ask
 */
async function openPage(t, { downloads }, context, { site, path = '', allow = [] }) {
  const page = await context.newPage();
  page.setDefaultTimeout(LIMIT);
  await page.setViewport(VIEWPORT);
  const problems = watch(page, site);
  await page.evaluateOnNewDocument(tellViolations);
  t.after(async () => {
    const seen = [...problems];
    await page.close();
    assertNone(seen, allow);
  });
  await page.goto(new URL(path, site).href);
  return {
    page,
    async shot(name) {
      mkdirSync(SHOTS, { recursive: true });
      await page.screenshot({ path: join(SHOTS, `firefox-${name}.png`) });
    },
    /** Presses what saves, and gives the file once it is whole. */
    async saved(press) {
      const before = new Set(readdirSync(downloads));
      await press();
      for (const until = Date.now() + LIMIT; Date.now() < until; await new Promise((resolve) => setTimeout(resolve, LOOK_EVERY_MS))) {
        const names = readdirSync(downloads);
        const [name] = names.filter((file) => !before.has(file) && !file.endsWith('.part'));
        // Firefox writes beside the name that it has taken.
        if (name && !names.some((file) => file.endsWith('.part'))) return join(downloads, name);
      }
      throw new Error('nothing was saved');
    },
  };
}
