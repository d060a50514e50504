// What tests of a class stand on: lanterns with faults planted by the demo's generator, zips, and the table's rows.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { BlobReader, BlobWriter, ZipWriter } from '@zip.js/zip.js';
import { ROOT } from './harness.mjs';

export const LANTERNS = 30;

/**
 * A folder of lanterns with random faults, made once in `work` unless GRIDPROOF_LANTERNS names one; `faults` by name.
 * @param {string} work a folder of the test's own
 */
export function lanternsIn(work) {
  const folder = process.env.GRIDPROOF_LANTERNS ?? join(work, 'lanterns');
  if (!existsSync(folder)) {
    execFileSync('cargo', ['run', '--quiet', '--example', 'lantern', '--', '--random', '1', String(LANTERNS), folder], { cwd: ROOT });
  }
  const faults = new Map();
  for (const name of readdirSync(folder).filter((file) => file.endsWith('.json'))) {
    const { px_per_cm: density, faults: planted } = JSON.parse(readFileSync(join(folder, name), 'utf8'));
    faults.set(name.replace('.json', '.obj'), { density, kinds: planted.map(({ kind }) => kind) });
  }
  assert.equal(faults.size, LANTERNS);
  return { folder, faults };
}

/** A zip by the package that the page reads it with; entries are text or bytes. */
export async function zipOf(entries, options = {}) {
  const writer = new ZipWriter(new BlobWriter('application/zip'));
  for (const [name, content] of Object.entries(entries)) await writer.add(name, new BlobReader(new Blob([content])), options);
  return Buffer.from(await (await writer.close()).arrayBuffer());
}

/** Each row of the table: its student, file, verdict, worst finding, and all numbers as they are read. */
export function rowsOf(page) {
  return page.evaluate(() => [...document.querySelectorAll('#class-rows > tr')].map((row) => {
    const text = (cell) => row.querySelector(`.class-of-${cell}`)?.textContent.replaceAll('\u00a0', ' ').trim();
    const own = (part) => row.querySelector(part)?.textContent ?? '';
    const names = ['verdict', 'must-fix', 'look', 'worst', 'triangles', 'shells', 'anisotropy', 'density', 'coverage', 'padding', 'bytes', 'notes', 'seen', 'since', 'findings', 'points'];
    return { student: own('.class-student'), file: own('.class-file'), several: own('.class-several').replaceAll('\u00a0', ' '), ...Object.fromEntries(names.map((name) => [name, text(name)])) };
  }));
}

/**
 * Which planted faults the table does not tell when it is filtered by their kind.
 * @param {Map<string, {kinds: string[]}>} faults by file
 * @param {(kind: string) => Promise<unknown>} choose filters by a kind
 */
export async function missedFaults(page, faults, choose) {
  const kinds = await page.$$eval('#class-kind option', (all) => all.map((option) => option.value).filter(Boolean));
  const told = new Map([...faults.keys()].map((name) => [name, new Set()]));
  for (const kind of kinds) {
    await choose(kind);
    await page.evaluate(() => window.gridproof.idle());
    for (const { file } of await rowsOf(page)) told.get(file.split('/').at(-1)).add(kind);
  }
  return [...faults].flatMap(([name, { kinds: planted }]) => planted.filter((kind) => !told.get(name).has(kind)).map((kind) => `${name}: ${kind}`));
}
