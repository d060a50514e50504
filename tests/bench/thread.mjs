// What opening costs on the page's own thread, and how soon the grid is on the demo.

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
  const marks = await page.evaluate(() => ['gridproof-engine', 'gridproof-grid'].map((name) => performance.getEntriesByName(name)[0]?.startTime ?? NaN));
  console.log(`grid on the demo:  ${ms(marks[1] - marks[0])} after the module is ready`);
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
}

const ms = (value) => `${value.toFixed(0)} ms`;

/** What the browser takes for one call that every page with WebGL2 makes, on a page with nothing but a line of text. */
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
