// Helpers for page tests: the site served by the project's command, a headless Chromium, and a page that fails
// its test on any error that the test did not announce.
//
//   import { gridproof } from './harness.mjs';
//   const site = gridproof();                                  // once a file; starts and stops with its tests
//   test('…', async (t) => {
//     const { page, shot } = await site.openPage(t, { width: 390, height: 844, dark: true });
//     await page.waitForSelector('…');
//     await shot('narrow-dark');                               // tests/shots/narrow-dark.png
//   });
//
// Environment: GRIDPROOF_COMMAND (the built command; without it Cargo builds and runs it), GRIDPROOF_SITE (a site
// written by `gridproof site`; without it the page is built), CHROMIUM (the browser's program).

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { accessSync, constants, mkdirSync, readFileSync } from 'node:fs';
import { delimiter, join } from 'node:path';
import { after, before } from 'node:test';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

/** The project's folder. */
export const ROOT = fileURLToPath(new URL('../..', import.meta.url));
/** Where `shot` writes. */
export const SHOTS = join(ROOT, 'tests', 'shots');

/** A build of the page may come first. Milliseconds. */
const SERVER_START_LIMIT = 600_000;

/** Most that one step in a page may take, ms: long enough for a busy machine. */
const STEP_LIMIT = 120_000;

/** Waits until all animations have ended. */
export const still = (page) => page.evaluate(() => Promise.allSettled(document.getAnimations().map(({ finished }) => finished)));

/** To be given to `page.addInitScript`: a browser without WebGL2. */
export function withoutWebGL2() {
  // A transferred canvas is asked in a worker, which this script does not reach.
  delete HTMLCanvasElement.prototype.transferControlToOffscreen;
  for (const canvas of [HTMLCanvasElement, OffscreenCanvas]) {
    const before = canvas.prototype.getContext;
    canvas.prototype.getContext = function (kind, ...rest) {
      return kind === 'webgl2' ? null : before.call(this, kind, ...rest);
    };
  }
}

/**
 * Serves the site and opens a browser for the tests of one file.
 * @param {{folder?: () => Promise<string> | string}} options `folder` gives another site than the usual one
 */
export function gridproof({ folder } = {}) {
  const server = served({ folder });
  let browser;
  before(async () => {
    browser = await launch();
  });
  after(() => browser?.close());
  return {
    /** Address of the page, with a slash at its end. */
    get address() {
      return server.address;
    },
    /** The browser, for tests that need more than one page. */
    get browser() {
      return browser;
    },
    openPage: (t, options) => openPage(browser, server.address, t, options),
  };
}

/**
 * Serves a site for the tests of one file, for any browser.
 * @param {{folder?: () => Promise<string> | string}} options as of `gridproof`
 */
export function served({ folder } = {}) {
  let server;
  before(async () => {
    server = await startServer(await folder?.());
  });
  after(() => server?.stop());
  return {
    /** Address of the page, with a slash at its end. */
    get address() {
      return server?.address ?? '';
    },
    /** Stops the server early: later requests get no connection. */
    stop: () => server.stop(),
  };
}

/**
 * Opens a page with its own storage and cache, and closes it after the test; the test fails where the page wrote an
 * error to the console, threw, broke its Content-Security-Policy, failed to load something, or asked another host.
 *
 * @param {import('node:test').TestContext} t
 * @param {{ width?: number, height?: number, dark?: boolean, reducedMotion?: boolean, scale?: number, touch?: boolean,
 *   path?: string | null, allow?: RegExp[], context?: object }} options
 *   `path` is opened below the site's address, null opens nothing; `allow` names problems that the test provokes.
 */
async function openPage(browser, address, t, options = {}) {
  const { width = 1280, height = 800, dark = false, reducedMotion = false, scale = 1, touch = false } = options;
  const { path = '', allow = [], context: more = {} } = options;
  const context = await browser.newContext({
    viewport: { width, height },
    colorScheme: dark ? 'dark' : 'light',
    reducedMotion: reducedMotion ? 'reduce' : 'no-preference',
    deviceScaleFactor: scale,
    hasTouch: touch,
    // Tests of other features should not get cached files.
    serviceWorkers: 'block',
    ...more,
  });
  context.setDefaultTimeout(STEP_LIMIT);
  const page = await context.newPage();
  const problems = watch(page, address);
  await page.addInitScript(tellViolations);
  t.after(async () => {
    // Loads aborted by closing are not errors of the page.
    const seen = [...problems];
    await context.close();
    assertNone(seen, allow);
  });
  const response = path === null ? null : await page.goto(new URL(path, address).href);
  const shot = async (name) => {
    mkdirSync(SHOTS, { recursive: true });
    const file = join(SHOTS, `${name}.png`);
    await page.screenshot({ path: file, animations: 'disabled' });
    return file;
  };
  return { page, context, response, problems, shot };
}

/** Reports violations of the Content-Security-Policy in the page's console. Runs in the page. */
export function tellViolations() {
  document.addEventListener('securitypolicyviolation', (event) => {
    console.error(`Content-Security-Policy: ${event.violatedDirective} forbids ${event.blockedURI} at ${event.sourceFile}:${event.lineNumber}`);
  });
}

/**
 * @param {string[]} problems
 * @param {RegExp[]} allow those that the test provokes
 */
export function assertNone(problems, allow) {
  const unexpected = problems.filter((problem) => !allow.some((pattern) => pattern.test(problem)));
  assert.deepEqual(unexpected, [], 'the page reported problems');
}

/**
 * Collects errors of a page, of Playwright or Puppeteer, which name these events alike.
 * @param {string} address the only one that it may contact
 * @returns {string[]} errors so far
 */
export function watch(page, address) {
  const problems = [];
  page.on('console', (message) => {
    const isRefused = message.type() === 'warning' && message.text().startsWith('WebGL: INVALID');
    if (message.type() === 'error' || isRefused) problems.push(`console: ${message.text()} (${message.location().url})`);
  });
  page.on('pageerror', (error) => problems.push(`thrown: ${error.stack ?? error}`));
  page.on('crash', () => problems.push('the page crashed'));
  page.on('request', (request) => {
    const url = request.url();
    if (!url.startsWith(address) && !/^(blob|data|about):/.test(url)) problems.push(`asked another host: ${url}`);
  });
  page.on('requestfailed', (request) => {
    // A load aborted by navigation is not an error.
    if (/ERR_ABORTED|NS_BINDING_ABORTED/.test(request.failure()?.errorText ?? '')) return;
    problems.push(`not loaded: ${request.url()} (${request.failure()?.errorText})`);
  });
  page.on('response', (response) => {
    if (response.status() >= 400) problems.push(`answered ${response.status()}: ${response.url()}`);
  });
  return problems;
}

/** Different colours within an element as it is seen: an undrawn surface has one. */
async function coloursSeen(page, selector) {
  const element = await page.$(selector);
  const png = Buffer.from(await element.screenshot());
  return page.evaluate(async (base64) => {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
    const context = canvas.getContext('2d');
    context.drawImage(bitmap, 0, 0);
    const pixels = new Uint32Array(context.getImageData(0, 0, bitmap.width, bitmap.height).data.buffer);
    return new Set(pixels).size;
  }, png.toString('base64'));
}

/**
 * Fails where the canvas adds nothing to what is in front of it: cards, bars and text are there without it too, so they
 * are counted in the same run with the canvas hidden. A drawn model or sheet has more shades than all of them.
 */
export async function isDrawn(page, selector) {
  const drawn = await coloursSeen(page, selector);
  const visible = (shown) => page.evaluate((value) => document.getElementById('canvas').style.setProperty('visibility', value), shown);
  await visible('hidden');
  const blank = await coloursSeen(page, selector);
  await visible('visible');
  assert.ok(drawn > 2 * blank, `${drawn} colours with the canvas, ${blank} without it`);
}

/** Starts `gridproof serve` and waits for the address it prints. */
function startServer(folder = process.env.GRIDPROOF_SITE) {
  const { GRIDPROOF_COMMAND: command } = process.env;
  const [program, first] = command ? [command, []] : ['cargo', ['run', '--quiet', '--']];
  const args = [...first, 'serve', '--port', '0', ...(folder ? ['--site', folder] : [])];
  const child = spawn(program, args, { cwd: ROOT, stdio: ['ignore', 'pipe', 'pipe'] });
  const stop = () => child.kill();
  process.once('exit', stop);
  return new Promise((resolve, reject) => {
    let out = '';
    let errors = '';
    const fail = (why) => {
      clearTimeout(timer);
      stop();
      reject(new Error(`${program} ${args.join(' ')}: ${why}\n${errors}`));
    };
    const timer = setTimeout(() => fail('printed no address in time'), SERVER_START_LIMIT);
    child.stderr.on('data', (text) => (errors += text));
    child.stdout.on('data', (text) => {
      out += text;
      const address = out.match(/http:\/\/localhost:\d+\//)?.[0];
      if (!address) return;
      clearTimeout(timer);
      resolve({ address, stop });
    });
    child.once('error', (error) => fail(error.message));
    child.once('exit', (status, signal) => fail(`ended with ${status ?? signal}`));
  });
}

/** WebGL2 drawn by Mesa, the page itself by the processor: together a third of the time that SwiftShader takes for both. */
const MESA = ['--use-gl=angle', '--use-angle=gl-egl', '--disable-gpu-compositing'];
const WITHOUT_GRAPHICS = ['--disable-gpu', '--disable-software-rasterizer'];

/** A browser; `graphics` false for one without WebGL2. */
export async function launch({ graphics = true } = {}) {
  const flags = browserArguments();
  const plain = flags.filter((flag) => !/angle|swiftshader|blocklist/.test(flag));
  const start = (args) => chromium.launch({ executablePath: browserProgram(), args });
  if (!graphics) return start([...plain, ...WITHOUT_GRAPHICS]);
  const browser = await start([...plain, '--ignore-gpu-blocklist', ...MESA]);
  if (await hasWebGL2(browser)) return browser;
  await browser.close();
  console.log('# drawn by SwiftShader, slowly: Mesa (libegl1, libgl1-mesa-dri) gives no WebGL2');
  return start(flags);
}

async function hasWebGL2(browser) {
  const page = await browser.newPage();
  const has = await page.evaluate(() => new OffscreenCanvas(1, 1).getContext('webgl2') !== null);
  await page.close();
  return has;
}

/** The flags of webdriver.json, also used for the wasm tests: WebGL2 in software, no background requests. */
function browserArguments() {
  return JSON.parse(readFileSync(join(ROOT, 'webdriver.json'), 'utf8'))['goog:chromeOptions'].args;
}

/** The headless shell is the same browser without windows, which cost a third of the time. */
function browserProgram() {
  const program = programOf([process.env.CHROMIUM], ['chromium-headless-shell', 'chromium', 'chromium-browser', 'google-chrome']);
  if (!program) throw new Error('no Chromium on the search path; install it or name its program in CHROMIUM');
  return program;
}

/**
 * The first program that exists: a file path, or a name on the search path.
 * @param {(string | undefined)[]} files
 * @param {string[]} names
 */
export function programOf(files, names) {
  const folders = (process.env.PATH ?? '').split(delimiter);
  const candidates = names.flatMap((name) => folders.map((folder) => join(folder, name)));
  return [...files, ...candidates].find((file) => file && isProgram(file));
}

function isProgram(file) {
  try {
    accessSync(file, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}
