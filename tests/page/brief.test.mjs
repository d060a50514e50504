// The form of the brief: every control against the command's own report under the same JSON, refusals, presets, tiles,
// what is measured again and what is not, long names, saving and opening, keys, and the narrow and the dark page.

import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { countNumbers, differences, reportOfCommand } from './agree.mjs';
import { gridproof, ROOT } from './harness.mjs';

const site = gridproof();
const DRAFT = join(ROOT, 'demo', 'lantern-draft.obj');

async function idle(page) {
  await page.evaluate(() => window.gridproof.idle());
}

/** The draft with the form open; `told` on the page collects the messages of the models' workers. */
async function openForm(t, options = {}) {
  const opened = await site.openPage(t, { path: null, ...options });
  const { page } = opened;
  await page.addInitScript(() => {
    window.told = [];
    const Plain = window.Worker;
    window.Worker = class extends Plain {
      constructor(...given) {
        super(...given);
        if (!String(given[0]).endsWith('/model.worker.js')) return;
        this.addEventListener('message', ({ data }) => window.told.push(data.type === 'stage' ? `stage ${data.name}` : data.type));
      }
    };
  });
  await page.goto(`${site.address}?demo=draft`);
  await page.waitForFunction(() => window.gridproof?.report());
  await idle(page);
  await page.locator('#brief-open').click();
  await page.locator('#brief').waitFor({ state: 'visible' });
  return opened;
}

/** Clears the collected messages, runs `act`, and returns the messages since. */
async function toldBy(page, act) {
  await page.evaluate(() => (window.told.length = 0));
  await act();
  await idle(page);
  return page.evaluate(() => window.told);
}

// As text: the bridge to the page loses a key named `__proto__`.
const briefOf = async (page) => JSON.parse(await page.evaluate(() => JSON.stringify(window.gridproof.state().brief)));
const reportOf = (page) => page.evaluate(() => window.gridproof.report());

/** A folder that is removed with the test. */
function folder(t) {
  const path = mkdtempSync(join(tmpdir(), 'gridproof-brief-'));
  t.after(() => rmSync(path, { recursive: true }));
  return path;
}

/** Compares the page's report with the command's under the page's current brief. */
async function agrees(t, page, brief = null) {
  const file = join(folder(t), 'brief.json');
  writeFileSync(file, JSON.stringify(brief ?? (await briefOf(page))));
  const ofCommand = reportOfCommand(DRAFT, ['--brief', file]);
  assert.ok(countNumbers(ofCommand) > 100, 'there are numbers to compare');
  assert.deepEqual(differences(await reportOf(page), ofCommand), []);
}

test('every key of a brief is in the form, with its explanation', async (t) => {
  const { page } = await openForm(t);
  const form = await (await fetch(`${site.address}brief.json`)).json();
  await page.locator('#brief-form details').evaluateAll((all) => all.forEach((details) => (details.open = true)));
  for (const { section, text, keys } of form.sections) {
    const part = page.locator(`#brief-form [data-section="${section}"]`);
    assert.ok((await part.innerText()).includes(text), section);
    for (const { key, text: meaning } of keys) {
      const control = page.locator(`#brief-${section}-${key}`);
      assert.equal(await control.count(), 1, `${section}.${key}`);
      const [told] = (await control.getAttribute('aria-describedby')).split(' ');
      assert.equal(await page.locator(`#${told}`).innerText(), meaning);
      assert.ok((await page.locator(`label[for="brief-${section}-${key}"]`).innerText()).length > 1);
    }
  }
  assert.equal(await page.locator('#brief-padding-between_px').getAttribute('placeholder'), '16');
  assert.match(await page.locator('#brief-density-target_px_per_unit').getAttribute('placeholder'), /^median 28\.2$/);
  assert.deepEqual(await briefOf(page), {});
});

// One change for each kind of control, and its value in the brief.
const CHANGES = [
  ['a whole number', (page) => page.fill('#brief-map-width_px', '1024'), { map: { width_px: 1024 } }],
  ['a number', (page) => page.fill('#brief-stretch-max_anisotropy', '1.1'), { stretch: { max_anisotropy: 1.1 } }],
  ['a share', (page) => page.fill('#brief-coverage-min_share', '0.9'), { coverage: { min_share: 0.9 } }],
  ['a number that may be absent', (page) => page.fill('#brief-padding-between_px', '40'), { padding: { between_px: 40 } }],
  ['a target', (page) => page.fill('#brief-density-target_px_per_unit', '12.5'), { density: { target_px_per_unit: 12.5 } }],
  ['a policy', (page) => page.selectOption('#brief-sharing-mirrored', 'must-fix'), { sharing: { mirrored: 'must-fix' } }],
  ['the front', (page) => page.selectOption('#brief-seams-front', '-x'), { seams: { front: '-x' } }],
  ['the axis that is up', (page) => page.selectOption('#brief-tilt-up', '+z'), { tilt: { up: '+z' } }],
  ['a lettered group', async (page) => {
    await page.fill('#brief-text-groups', 'nameplate_face');
    await page.press('#brief-text-groups', 'Enter');
  }, { text: { groups: ['nameplate_face'] } }],
  ['density_factor', async (page) => {
    await page.fill('#brief-density_factor', 'handle_tube');
    await page.locator('[data-section="density_factor"] button', { hasText: 'Add' }).click();
    await page.fill('[data-section="density_factor"] input[type=number]', '0.25');
  }, { density_factor: { handle_tube: 0.25 } }],
];

test('each kind of control gives the same report as the command', async (t) => {
  const { page } = await openForm(t);
  const before = JSON.stringify(await reportOf(page));
  for (const [what, change, brief] of CHANGES) {
    await change(page);
    await idle(page);
    assert.deepEqual(await briefOf(page), brief, what);
    assert.notEqual(JSON.stringify(await reportOf(page)), before, `${what}: the report has changed`);
    await agrees(t, page, brief);
    await page.locator('#brief-reset').click();
    await idle(page);
    assert.equal(JSON.stringify(await reportOf(page)), before, `${what}: undone`);
  }
});

test('resetting to the defaults restores the first report', async (t) => {
  const { page } = await openForm(t);
  const before = await reportOf(page);
  for (const [, change] of CHANGES) await change(page);
  await idle(page);
  const brief = await briefOf(page);
  assert.deepEqual(Object.keys(brief).sort(), ['coverage', 'density', 'density_factor', 'map', 'padding', 'seams', 'sharing', 'stretch', 'text', 'tilt']);
  await agrees(t, page);
  assert.match(await page.locator('#brief-in-force').innerText(), /1024 × 2048 px, 10\s+values changed/);
  assert.equal(await page.evaluate(() => window.gridproof.state().up), 'z', 'the stage turns with the brief');
  assert.deepEqual(await page.evaluate(() => { const { width, height } = window.gridproof.state().grid; return [width, height]; }), [1024, 2048]);
  await page.locator('#brief-reset').click();
  await idle(page);
  assert.deepEqual(await briefOf(page), {});
  assert.deepEqual(await reportOf(page), before);
  assert.equal(await page.locator('.brief-names li').count(), 0);
  assert.equal(await page.inputValue('#brief-map-width_px'), '2048');
});

test('an invalid value shows its reason beside the field and changes nothing', async (t) => {
  const { page, shot } = await openForm(t);
  const before = await reportOf(page);
  for (const [field, value, why] of [
    ['stretch-max_anisotropy', '0.5', /stretch\.max_anisotropy is 0\.5; it has to be a number from 1/],
    ['map-width_px', '0', /whole number from 1 to 16384/],
    ['map-height_px', '10.5', /whole number from 1 to 16384/],
    ['coverage-min_share', '1.5', /a share from 0 to 1/],
    ['density-target_px_per_unit', '0', /a number above 0/],
    ['padding-border_px', '-1', /0 or more/],
  ]) {
    await page.fill(`#brief-${field}`, value);
    await idle(page);
    assert.match(await page.locator(`#brief-${field}-trouble`).innerText(), why);
    assert.equal(await page.getAttribute(`#brief-${field}`, 'aria-invalid'), 'true');
  }
  assert.deepEqual(await briefOf(page), {});
  assert.deepEqual(await reportOf(page), before);
  // The others are still applied, and the refused text stays.
  await page.fill('#brief-density-tolerance_percent', '30');
  await idle(page);
  assert.deepEqual(await briefOf(page), { density: { tolerance_percent: 30 } });
  assert.equal(await page.inputValue('#brief-stretch-max_anisotropy'), '0.5');
  await shot('brief-refused');
  await page.fill('#brief-stretch-max_anisotropy', '');
  await page.press('#brief-stretch-max_anisotropy', 'Tab');
  await idle(page);
  assert.equal(await page.inputValue('#brief-stretch-max_anisotropy'), '1.25', 'an empty field takes its default');
  assert.ok(await page.locator('#brief-stretch-max_anisotropy-trouble').isHidden());
});

test('a preset applies its values, and the bar shows its name', async (t) => {
  const { page } = await openForm(t);
  const { presets } = await (await fetch(`${site.address}brief.json`)).json();
  assert.ok(presets.length > 3);
  for (const name of ['small-prop-512', 'hero-prop-4096']) {
    const preset = presets.find((entry) => entry.name === name);
    await page.selectOption('#brief-preset', name);
    await idle(page);
    assert.equal(await page.locator('#brief-in-force').innerText(), preset.title);
    assert.equal(await page.inputValue('#brief-map-width_px'), String(preset.brief.map.width_px));
    await agrees(t, page, preset.brief);
  }
  await page.selectOption('#brief-map-unit', 'mm');
  await idle(page);
  assert.equal(await page.inputValue('#brief-preset'), '', 'it no longer matches a preset');
  assert.match(await page.locator('#brief-in-force').innerText(), /^4096 px, \d+\s+values changed$/);
});

test('a change measures again only what depends on it', async (t) => {
  const { page } = await openForm(t);
  const stages = async (act) => (await toldBy(page, act)).filter((told) => told.startsWith('stage '));
  const all = (await stages(() => page.fill('#brief-map-width_px', '1024'))).length;
  assert.ok(all >= 4, `another map measures all but the seams: ${all}`);
  for (const [field, value] of [['stretch-max_anisotropy', '1.5'], ['density-tolerance_percent', '40'], ['coverage-min_share', '0.1'], ['density-target_px_per_unit', '8']]) {
    const told = await toldBy(page, () => page.fill(`#brief-${field}`, value));
    assert.deepEqual(told, ['measured', 'report'], field);
  }
  assert.equal((await stages(() => page.fill('#brief-padding-between_px', '3'))).length, 1, 'padding only');
  assert.equal((await stages(() => page.selectOption('#brief-seams-front', '+x'))).length, 1, 'seams only');
  // Typing is debounced: six letters, one report.
  await page.locator('#brief-density-target_px_per_unit').fill('');
  await idle(page);
  const told = await toldBy(page, () => page.locator('#brief-density-target_px_per_unit').pressSequentially('11.025', { delay: 20 }));
  assert.deepEqual(told, ['measured', 'report']);
  assert.equal((await briefOf(page)).density.target_px_per_unit, 11.025);
});

test('a change while a file is being read applies to that file', async (t) => {
  const { page } = await openForm(t);
  await page.evaluate(() => {
    const { report } = window.gridproof;
    window.first = report();
    document.querySelector('[data-demo="revised"]').click();
    // Before the file arrives: the worker starts reading with the old brief, and must judge by the new one.
    document.querySelector('#brief-coverage-min_share').value = '0.99';
    document.querySelector('#brief-coverage-min_share').dispatchEvent(new Event('change', { bubbles: true }));
  });
  await page.waitForFunction(() => window.gridproof.state().model?.name === 'lantern-revised.obj' && window.gridproof.report());
  await idle(page);
  const report = await reportOf(page);
  assert.equal(report.file.name, 'lantern-revised.obj');
  assert.ok(report.findings.some(({ kind }) => kind === 'coverage'));
  const file = join(folder(t), 'brief.json');
  writeFileSync(file, JSON.stringify(await briefOf(page)));
  assert.deepEqual(differences(report, reportOfCommand(join(ROOT, 'demo', 'lantern-revised.obj'), ['--brief', file])), []);
});

test('the selected finding stays selected while it exists', async (t) => {
  const { page } = await openForm(t);
  const id = (await reportOf(page)).findings.find(({ kind }) => kind === 'stretch').id;
  await page.locator(`[data-finding="${id}"]`).click();
  await idle(page);
  const camera = await page.evaluate(() => window.gridproof.state().camera);
  await page.fill('#brief-density-tolerance_percent', '16');
  await idle(page);
  assert.equal(await page.evaluate(() => window.gridproof.state().finding), id);
  assert.deepEqual(await page.evaluate(() => window.gridproof.state().camera), camera, 'the camera does not move');
  await page.fill('#brief-stretch-max_anisotropy', '1000');
  await idle(page);
  assert.equal(await page.evaluate(() => window.gridproof.state().finding), null);
  assert.ok(!page.url().includes('finding='), page.url());
  assert.match(await page.locator('#announcement').textContent(), /Judged by the changed brief\. Verdict: not ready/);
  assert.equal(await page.locator('#chips [data-kind="stretch"]').count(), 0);
});

test('chips and checks show the active limit', async (t) => {
  const { page } = await openForm(t);
  const chip = page.locator('#chips [data-kind="stretch"]');
  assert.match(await chip.getAttribute('title'), /anisotropy up to 1\.25, must fix beyond 2, each on all but 5\s%/);
  await page.fill('#brief-stretch-max_anisotropy', '1.4');
  await page.fill('#brief-padding-between_px', '12');
  await idle(page);
  assert.match(await chip.getAttribute('title'), /anisotropy up to 1\.4, /);
  assert.match(await page.locator('#brief-checks [data-kind="padding"]').innerText(), /at least 12\spx/);
  assert.match(await page.locator('#brief-checks [data-kind="border"]').innerText(), /at least 8\spx/);
});

test('a saved brief is read by the command and opens again', async (t) => {
  const { page } = await openForm(t);
  const odd = 'Schild "vorn" \\ 箱';
  await page.fill('#brief-density_factor', odd);
  await page.press('#brief-density_factor', 'Enter');
  await page.fill('[data-section="density_factor"] input[type=number]', '3');
  await page.selectOption('#brief-map-tiles', 'udim');
  await page.fill('#brief-seams-max_front_over_diagonal', '0.2');
  await idle(page);
  const [download] = await Promise.all([page.waitForEvent('download'), page.locator('#brief-save').click()]);
  assert.equal(download.suggestedFilename(), 'brief.json');
  const saved = JSON.parse(readFileSync(await download.path(), 'utf8'));
  const wanted = { map: { tiles: 'udim' }, seams: { max_front_over_diagonal: 0.2 }, density_factor: { [odd]: 3 } };
  assert.deepEqual(saved, wanted);
  await agrees(t, page, saved);
  const report = await reportOf(page);
  await page.locator('#brief-reset').click();
  await idle(page);
  assert.deepEqual(await briefOf(page), {});
  const file = { name: 'brief.json', mimeType: 'application/json', buffer: readFileSync(await download.path()) };
  await page.setInputFiles('#brief-file', file);
  await page.waitForFunction(() => window.gridproof.state().brief.density_factor);
  await idle(page);
  assert.deepEqual(await briefOf(page), wanted);
  assert.deepEqual(await reportOf(page), report);
});

test('a file that is not a brief is refused with its reason', async (t) => {
  const { page } = await openForm(t);
  for (const [name, text, why] of [
    ['a.json', '{"stretch":{"max_anisotropi":2}}', /a\.json: A brief has no key stretch\.max_anisotropi\. Did you mean max_anisotropy\?/],
    ['b.json', '{"map":{"width_px":0}}', /map\.width_px is 0/],
    ['c.json', '{"sharing":{"mirrored":"perhaps"}}', /not understood/],
    ['d.json', '[1]', /an object with a section/],
    ['e.json', '{', /no JSON/],
    ['f.toml', '[map]\nwidth_px = 5\n', /opened as JSON\. gridproof brief --from f\.toml --json/],
  ]) {
    await page.setInputFiles('#brief-file', { name, mimeType: 'application/json', buffer: Buffer.from(text) });
    await page.waitForFunction((wanted) => document.querySelector('#brief-trouble').textContent.startsWith(wanted), name);
    assert.match(await page.locator('#brief-trouble').innerText(), why);
  }
  assert.deepEqual(await briefOf(page), {});
});

test('names: suggested from the file, marked if missing there, long ones shown in full', async (t) => {
  const { page, shot } = await openForm(t);
  const offered = await page.locator('#brief-names option').evaluateAll((all) => all.map(({ value }) => value));
  assert.ok(offered.includes('nameplate_face'), offered.join());
  const long = `${'a_name_that_an_exporter_made_'.repeat(12)}end`;
  for (const name of [long, 'handle_tube', '__proto__']) {
    await page.fill('#brief-density_factor', name);
    await page.press('#brief-density_factor', 'Enter');
  }
  await idle(page);
  const rows = page.locator('[data-section="density_factor"] .brief-names li');
  assert.deepEqual(await rows.evaluateAll((all) => all.map((row) => /not in this file/.test(row.innerText))), [true, false, true]);
  const widths = await page.evaluate(() => [document.querySelector('.brief-body').scrollWidth, document.querySelector('.brief-body').clientWidth, document.querySelector('#findings-body').scrollWidth, document.querySelector('#findings-body').clientWidth]);
  assert.ok(widths[0] <= widths[1] && widths[2] <= widths[3], `nothing overflows: ${widths}`);
  await rows.first().scrollIntoViewIfNeeded();
  await shot('brief-names');
  await page.fill('#brief-density_factor', 'handle_tube');
  await page.press('#brief-density_factor', 'Enter');
  assert.match(await page.locator('#brief-density_factor-trouble').innerText(), /in the list already/);
  await page.fill('[data-section="density_factor"] li:nth-child(2) input', '-1');
  await idle(page);
  assert.match(await page.locator('#brief-density_factor-trouble').innerText(), /density_factor\.handle_tube is -1; it has to be a factor above 0/);
  await rows.nth(1).locator('button').click();
  await idle(page);
  assert.deepEqual(Object.keys((await briefOf(page)).density_factor).sort(), ['__proto__', long]);
  await agrees(t, page);
});

test('by keyboard only, narrow and dark', async (t) => {
  const { page, shot } = await site.openPage(t, { path: '?demo=draft', width: 390, height: 844, dark: true });
  await page.waitForFunction(() => window.gridproof?.report());
  await idle(page);
  await page.locator('#help-open').focus();
  await page.keyboard.press('r');
  assert.ok(await page.locator('#brief').isVisible());
  assert.equal(await page.evaluate(() => document.activeElement.id), 'brief-preset');
  await shot('brief-narrow-dark');
  const reached = [];
  for (let at = 0; at < 40; at += 1) {
    await page.keyboard.press('Tab');
    reached.push(await page.evaluate(() => document.activeElement.id));
  }
  for (const id of ['brief-reset', 'brief-save', 'brief-map-width_px', 'brief-sharing-mirrored', 'brief-density_factor']) assert.ok(reached.includes(id), `${id} in ${reached}`);
  await page.locator('#brief-density-tolerance_percent').focus();
  await page.keyboard.press('ControlOrMeta+a');
  await page.keyboard.type('80');
  await idle(page);
  assert.deepEqual(await briefOf(page), { density: { tolerance_percent: 80 } });
  const overflow = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth, document.querySelector('.brief-body').scrollWidth, document.querySelector('.brief-body').clientWidth]);
  assert.ok(overflow[0] <= overflow[1] && overflow[2] <= overflow[3], `no horizontal overflow: ${overflow}`);
  await page.keyboard.press('Escape');
  assert.ok(await page.locator('#brief').isHidden());
  assert.equal(await page.evaluate(() => document.activeElement.id), 'help-open');
  assert.match(await page.locator('#brief-open').getAttribute('class'), /is-changed/);
  await page.locator('#chips button', { hasText: 'clear' }).press('Enter');
  await page.locator('#brief-density-tolerance_percent').fill('70');
  await idle(page);
  await page.keyboard.press('Escape');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'brief-open', 'the chip that opened it is gone');
});

test('without brief.json the form says so, and the model is still judged', async (t) => {
  const { page } = await site.openPage(t, { path: null, allow: [/brief\.json/, /404/] });
  await page.route('**/brief.json', (route) => route.fulfill({ status: 404, body: '' }));
  await page.goto(`${site.address}?demo=revised`);
  await page.waitForFunction(() => window.gridproof?.report());
  await idle(page);
  await page.locator('#brief-open').click();
  assert.match(await page.locator('#brief-trouble').innerText(), /could not be fetched .* reload the page/);
});
