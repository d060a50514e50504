// Single-key shortcuts: never lost without a focused field, never triggered while typing.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { gridproof } from './harness.mjs';

const site = gridproof();

const idle = (page) => page.evaluate(() => window.gridproof.idle());

async function openDraft(t, options = {}) {
  const opened = await site.openPage(t, { path: '?demo=draft', ...options });
  await opened.page.waitForFunction(() => window.gridproof?.report());
  await idle(opened.page);
  return opened;
}

test('a key pressed before a closed dialog is repainted is not lost', async (t) => {
  const { page } = await openDraft(t);
  await page.keyboard.press('s');
  await page.locator('#save input[value="stage"]').check();
  const [wasInside, isShared] = await page.evaluate(() => {
    const save = document.getElementById('save');
    save.close();
    const focused = document.activeElement;
    focused.dispatchEvent(new KeyboardEvent('keydown', { key: 'l', bubbles: true, cancelable: true }));
    return [save.contains(focused), document.getElementById('share').open];
  });
  assert.ok(wasInside, 'the closed dialog still had the focus');
  assert.ok(isShared, 'the key was handled');
});

/** Every single key that the page knows, and what each might change. */
const KEYS = ['1', '2', '3', '4', '5', '6', '7', '8', 'g', 't', 'c', '.', ',', 'n', 'j', 'k', 'f', 'm', 'b', 'e', 'v', '0', 'u', 'r', 'o', 's', 'l', '?'];

/** State that typing must not change. */
const looksOf = (page) => page.evaluate(() => {
  const { lens, flags, leaning, finding, note, swapped, beside, large, up, placing, problem, notice } = window.gridproof.state();
  return { lens, flags, leaning, finding, note, swapped, beside, large, up, placing, problem, notice, dialogs: [...document.querySelectorAll('dialog[open]')].map(({ id }) => id) };
});

/** Types all keys into a field; what was typed is there, and nothing else happened. */
async function typeInto(page, selector, what) {
  const field = page.locator(selector).first();
  await field.focus();
  const before = await looksOf(page);
  await field.evaluate((element) => {
    element.setAttribute('maxlength', '400');
    element.value = '';
  });
  const words = (await field.getAttribute('type')) === 'number' ? KEYS.filter((key) => /\d/.test(key)) : KEYS;
  for (const key of words) await page.keyboard.press(key);
  assert.deepEqual(await looksOf(page), before, `typing into ${what} did something else`);
  assert.ok((await field.inputValue()).length >= words.length - 2, `${what} took “${await field.inputValue()}”`);
}

test('a comment on a finding by keyboard only; typing in a field triggers no shortcut', async (t) => {
  const { page } = await openDraft(t, { reducedMotion: true });
  // Selected from the list by keyboard.
  await page.keyboard.press('.');
  await idle(page);
  await page.keyboard.press('.');
  await idle(page);
  const { finding } = await page.evaluate(() => window.gridproof.state());
  assert.ok(finding);
  await page.keyboard.press('n');
  await page.locator('#note-text').waitFor({ state: 'visible' });
  assert.equal(await page.evaluate(() => document.activeElement?.id), 'note-text');
  await typeInto(page, '#note-text', 'the note');
  await page.locator('#note-text').fill('');
  await page.keyboard.type('The handle is too coarse.');
  await page.keyboard.press('Control+Enter');
  await idle(page);
  const { notes, shells } = await page.evaluate((id) => ({ notes: window.gridproof.state().notes, shells: window.gridproof.report().findings.find((found) => found.id === id).shells }), finding);
  assert.deepEqual(notes.map(({ text }) => text), ['The handle is too coarse.']);
  const labels = await page.evaluate((ids) => ids.map((id) => window.gridproof.report().shells[id].part ?? ''), shells);
  assert.ok(notes[0].shell.includes(`shell ${shells[0]}`) || labels.some((label) => notes[0].shell.startsWith(label)), `${notes[0].shell} for ${shells} of ${labels}`);

  // The reason of a decision, the brief's form, the grid's words, the legend's words and numbers.
  await page.keyboard.press('.');
  await idle(page);
  await page.locator('[data-act=intended]').first().click();
  await typeInto(page, '.decide-form textarea', 'the reason');
  await page.keyboard.press('Escape');
  for (const [key, field, close] of [['r', '#brief-map-width_px', '#brief-close'], ['c', '#grid-words', '#grid-close']]) {
    await page.locator('#surface-large').focus();
    await page.keyboard.press(key);
    await page.locator(field).waitFor({ state: 'visible' });
    await typeInto(page, field, field);
    await page.locator(close).click();
  }
  await page.locator('#surface-large').focus();
  for (const [lens, field] of [['7', '#legend-words'], ['2', '.isolate input']]) {
    await page.keyboard.press(lens);
    await idle(page);
    await typeInto(page, field, field);
    await page.locator('#surface-large').focus();
  }

  // A class: the search, grade and comment of a row, names of students.
  const quad = Buffer.from('v 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nf 1/1 2/2 3/3\n');
  await page.setInputFiles('#file-input', ['a', 'b'].map((name) => ({ name: `${name}.obj`, mimeType: '', buffer: quad })));
  await page.locator('#class').waitFor({ state: 'visible' });
  await idle(page);
  await page.locator('#class-students-open').click();
  for (const field of ['[data-mark=grade]', '[data-mark=comment]', '#class-list', '#class-words']) await typeInto(page, field, field);
});
