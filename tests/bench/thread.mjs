// What opening costs on the page's own thread, and how soon the grid is on the demo.

import { heldSince, watchThread } from '../page/thread.mjs';

/**
 * @param {import('playwright-core').Browser} browser
 * @param {string} site address of the page
 * @param {string} model a file
 */
export async function thread(browser, site, model) {
  const page = await browser.newPage();
  page.on('pageerror', (error) => console.error(error));
  await page.addInitScript(watchThread);
  await page.goto(site);
  const idle = () => page.evaluate(() => window.gridproof.idle());
  let since = 0;
  const tell = async (what) => {
    await idle();
    const { task, pause, now } = await heldSince(page, since);
    console.log(`page's thread, ${what}: longest pause ${pause.toFixed(0)} ms, longest task ${task > 0 ? `${task.toFixed(0)} ms` : 'not over 50 ms'}`);
    since = now;
  };
  await tell('start');
  await page.goto(`${site}?demo=draft`);
  await page.waitForFunction(() => window.gridproof.report());
  await page.waitForFunction(() => performance.getEntriesByName('gridproof-grid').length > 0);
  const grid = await page.evaluate(() => {
    const at = (name) => performance.getEntriesByName(name)[0]?.startTime ?? NaN;
    return at('gridproof-grid') - at('gridproof-engine');
  });
  since = 0;
  await tell('start with the demo');
  console.log(`grid on the demo:  ${grid.toFixed(0)} ms after the module is ready`);
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
  await page.close();
}
