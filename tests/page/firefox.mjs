// Helpers for tests in Firefox: stock Firefox through WebDriver BiDi, fresh profiles, a virtual screen where Xvfb is
// installed, and the same checks of pages as in Chromium.
//
// Firefox draws WebGL2 in software only on a screen: with Xvfb one is started; an existing one is never used. Without it
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
/** How long a start or an answer may take on a busy machine, ms. */
const LIMIT = 120_000;
/** How often a folder is polled for saved files, ms. */
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
    /** The page's graphics: “gl” or “none”, from its state. */
    get graphics() {
      return renderer ? 'gl' : 'none';
    },
    /** Opens a page with separate storage in the shared browser. */
    openPage: async (t, options) => openPage(t, shared, await shared.browser.createBrowserContext(), options),
    /** Opens a page in a separate browser with a new profile. */
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
 * Starts a virtual screen on a free number and returns its name; null without Xvfb.
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
      // Downloads go into a folder without a dialog.
      'browser.download.folderList': 2,
      'browser.download.dir': downloads,
      'browser.download.alwaysOpenPanel': false,
      // On a busy machine Firefox does not wait for the graphics driver's answer, and then offers no WebGL2.
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
 *   `site`, the only one that the page may contact
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
    /** Presses the save button, and returns the file once it is complete. */
    async saved(press) {
      const before = new Set(readdirSync(downloads));
      await press();
      for (const until = Date.now() + LIMIT; Date.now() < until; await new Promise((resolve) => setTimeout(resolve, LOOK_EVERY_MS))) {
        const names = readdirSync(downloads);
        const [name] = names.filter((file) => !before.has(file) && !file.endsWith('.part'));
        // Firefox writes to a temporary name beside the reserved one.
        if (name && !names.some((file) => file.endsWith('.part'))) return join(downloads, name);
      }
      throw new Error('nothing was saved');
    },
  };
}
