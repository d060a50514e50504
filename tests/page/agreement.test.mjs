// Report of the page and of the command, on every available model: same texts, numbers to 1e-6.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { after, before, test } from 'node:test';
import { countNumbers, differences, reportOfCommand } from './agree.mjs';
import { outside } from '../support/outside.mjs';
import { gridproof, ROOT } from './harness.mjs';

const site = gridproof();

/** Seeds of lanterns with random faults; together they have all kinds of fault. */
const SEEDS = [1, 2, 3, 4, 5, 6];
/** A brief that leaves no section at its default. */
const BRIEF = {
  map: { width_px: 1024, height_px: 512, tiles: 'udim', unit: 'm' },
  density: { target_px_per_unit: 20, tolerance_percent: 5 },
  stretch: { max_anisotropy: 1.1, max_share_over: 0.01 },
  sharing: { mirrored: 'must-fix', stacked: 'allow', partial_overlap: 'look' },
  padding: { between_px: 9, border_px: 3.5 },
  coverage: { min_share: 0.9 },
  seams: { front: '-x', max_front_over_diagonal: 0.1 },
  tilt: { up: '+z' },
  text: { groups: ['nameplate_face'] },
  density_factor: { handle_tube: 0.5 },
};

let folder;
before(() => {
  folder = mkdtempSync(join(tmpdir(), 'gridproof-agreement-'));
});
after(() => rmSync(folder, { recursive: true }));

/** Opens files on a new page and compares its report with the command's. */
async function agree(t, model, brief = null) {
  const { page } = await site.openPage(t);
  await page.setInputFiles('#file-input', brief ? [brief, model] : [model]);
  await page.waitForFunction(() => window.gridproof.report() || window.gridproof.state().problem, null, { timeout: 300_000 });
  const { report, problem } = await page.evaluate(() => ({ report: window.gridproof.report(), problem: window.gridproof.state().problem }));
  const ofCommand = reportOfCommand(model, brief ? ['--brief', brief] : []);
  if (ofCommand.error) {
    assert.ok(problem, `the command refuses it (${ofCommand.error.message}), the page does not`);
    t.diagnostic(`${basename(model)}: neither reads it`);
    return;
  }
  assert.equal(problem, null);
  const found = differences(report, ofCommand);
  assert.deepEqual(found.slice(0, 20), [], `${found.length} differences`);
  const numbers = countNumbers(ofCommand);
  assert.ok(numbers > 50, `${numbers} numbers`);
  t.diagnostic(`${basename(model)}: ${numbers} numbers, ${ofCommand.counts.triangles} triangles`);
}

for (const name of ['draft', 'revised']) {
  const model = join(ROOT, 'demo', `lantern-${name}.obj`);
  test(`the ${name} demo`, (t) => agree(t, model));
  test(`the ${name} demo, under a brief without defaults`, (t) => {
    const brief = join(folder, 'brief.json');
    writeFileSync(brief, JSON.stringify(BRIEF));
    return agree(t, model, brief);
  });
}

test('lanterns with random faults', async (t) => {
  const made = spawnSync('cargo', ['run', '--quiet', '--example', 'lantern', '--', '--random', String(SEEDS[0]), String(SEEDS.length), folder], { cwd: ROOT, encoding: 'utf8' });
  assert.equal(made.status, 0, made.stderr);
  for (const seed of SEEDS) await t.test(`seed ${seed}`, (own) => agree(own, join(folder, `lantern-${seed}.obj`)));
});

test('the real models', async (t) => {
  const names = Object.keys(JSON.parse(readFileSync(join(ROOT, 'tests', 'reference', 'meshes.json'), 'utf8')));
  for (const name of names) {
    await t.test(name, (own) => {
      const model = outside(own, `meshes/${name}`);
      return model && agree(own, model);
    });
  }
});
