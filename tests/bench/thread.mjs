// Cost of opening on the main thread, and how soon the demo's grid is shown.

import { heldSince, traceThread, watchThread } from '../page/thread.mjs';

/**
 * @param {import('playwright-core').Browser} browser
 * @param {string} site address of the page
 * @param {string} model a file
 */
export async function thread(browser, site, model) {
  await alone(browser);
  const page = await browser.newPage();
  page.on('pageerror', (error) => console.error(error));
  await page.addInitScript(watchThread);
  let since = 0;
  let stop = await traceThread(page);
  const tell = async (what) => {
    await page.evaluate(() => window.gridproof.idle());
    const { task, pause, now } = await heldSince(page, since);
    const { computed } = await stop();
    console.log(`page's thread, ${what}: longest pause ${ms(pause)}, longest task ${task > 0 ? ms(task) : 'not over 50 ms'}, of which none computed for more than ${ms(computed)}`);
    since = now;
    stop = await traceThread(page);
  };
  await page.goto(site);
  await tell('start');
  since = 0;
  await page.goto(`${site}?demo=draft`);
  await page.waitForFunction(() => window.gridproof.report());
  await page.waitForFunction(() => performance.getEntriesByName('gridproof-grid').length > 0);
  await tell('start with the demo');
  await page.locator('#file-input').setInputFiles(model);
  await page.waitForFunction(() => window.gridproof.state().model?.counts.triangles > 500_000 && window.gridproof.report(), null, { timeout: 120_000 });
  await tell('opening the large file');
  for (const key of ['2', '3', '4', '5', '1']) {
    await page.keyboard.press(key);
    await tell(`lens ${key}`);
  }
  const box = await page.locator('#surface-large').boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  for (let step = 0; step < 40; step += 1) {
    await page.mouse.move(box.x + box.width / 2 + 5 * step, box.y + box.height / 2 + step);
    await page.waitForTimeout(16);
  }
  await page.mouse.up();
  await tell('turning the model');
  await stop();
  await page.close();
  const times = [];
  for (let round = 0; round < FRESH; round += 1) times.push((await firstGrid(browser, `${site}?demo=draft`)).grid);
  console.log(`grid on the demo:  ${ms(middle(times))} after the module is ready, the middle of ${FRESH} fresh profiles (${times.map((time) => time.toFixed(0)).join(', ')})`);
}

const FRESH = 9;

/** Median. @param {number[]} times */
export function middle(times) {
  return times.toSorted((a, b) => a - b)[times.length >> 1];
}

/**
 * Opens an address in a fresh profile: ms from the module's being ready until the GPU has drawn the model with its grid, and
 * until the report is there; and from the navigation's start until then. Nothing is traced, and the browser's own window
 * was opened before.
 * @param {import('playwright-core').Browser} browser
 * @param {string} address
 * @param {{name: string, text: string}} [dropped] a file that is given to the page the moment its module is ready
 */
export async function firstGrid(browser, address, dropped) {
  const page = await browser.newPage();
  page.on('pageerror', (error) => console.error(error));
  await page.addInitScript((given) => {
    let left = given;
    const look = () => {
      if (left && performance.getEntriesByName('gridproof-engine').length > 0) {
        const files = new DataTransfer();
        files.items.add(new File([left.text], left.name));
        left = undefined;
        const input = document.getElementById('file-input');
        input.files = files.files;
        input.dispatchEvent(new Event('change'));
      }
      if (window.gridproof?.report()) performance.mark('bench-report');
      else setTimeout(look, 5);
    };
    look();
  }, dropped);
  await page.waitForTimeout(SETTLED_MS);
  await page.goto(address);
  const marks = ['gridproof-engine', 'gridproof-grid', 'bench-report'];
  await page.waitForFunction((names) => names.every((name) => performance.getEntriesByName(name).length > 0), marks, { polling: 250 });
  const [engine, grid, report] = await page.evaluate((names) => names.map((name) => performance.getEntriesByName(name)[0].startTime), marks);
  await page.close();
  return { grid: grid - engine, report: report - engine, since: { grid, report } };
}

/** After this time a browser has finished opening a window, ms. */
const SETTLED_MS = 2500;

const ms = (value) => `${value.toFixed(0)} ms`;

/** Time of one call that every page with WebGL2 makes, on a page with only a line of text. */
async function alone(browser) {
  const page = await browser.newPage();
  await page.setContent('<p>nothing</p>');
  const took = await page.evaluate(() => {
    const start = performance.now();
    document.createElement('canvas').getContext('webgl2');
    return performance.now() - start;
  });
  console.log(`asking for a WebGL2 context and nothing else, on an empty page: ${ms(took)}`);
  await page.close();
}
