// Accessibility by axe-core's rules: all that it enables, including best practices.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/**
 * The violations in a page or a frame, or in what a selector names there, as sentences.
 * @param {import('playwright-core').Page | import('playwright-core').Frame} page
 * @param {string | null} within
 * @returns {Promise<string[]>}
 */
export async function violations(page, within = null) {
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(AXE);
  // Only the violations leave the page: all passes would be megabytes for each state.
  const { passed, sentences } = await page.evaluate(async (selector) => {
    const { passes, violations } = await window.axe.run(selector ?? document, { resultTypes: ['violations'] });
    const sentence = ({ id, nodes }) => `${id}: ${nodes.map(({ html, failureSummary }) => `${html} ${failureSummary}`).join('; ')}`;
    return { passed: passes.length, sentences: violations.map(sentence) };
  }, within);
  assert.ok(passed > 5, 'rules were run');
  return sentences;
}
