// Helpers for tests of a class: small models and folders of them, lanterns with faults planted by the demo's generator, zips,
// and the table's rows.

import assert from 'node:assert/strict';
import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { after } from 'node:test';
import { BlobReader, BlobWriter, ZipWriter } from '@zip.js/zip.js';
import { gridproof, ROOT } from './harness.mjs';

export const QUAD = 'v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n';
/** Flipped. */
export const MIRRORED = QUAD.replace('f 1/1 2/2 3/3 4/4', 'f 1/2 2/1 3/4 4/3');
/** Three of its four numbers are stretched. */
export const STRETCHED = QUAD.replaceAll('vt 0.9', 'vt 0.3');
export const BAD = 'v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n';

/**
 * Most that one task of the page's thread may compute, ms. The longest takes 45 here, for what is typed into the filter of 600
 * rows; machines that share their cores count up to four times as much for the same work.
 */
export const MOST_COMPUTED_MS = 250;
/** Most that measuring thirty lanterns may take on a busy machine, ms. */
export const CLASS_LIMIT = 600_000;

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

/** Each row of the table: student, file, verdict, worst finding, and all numbers as shown. */
export function rowsOf(page) {
  return page.evaluate(() => [...document.querySelectorAll('#class-rows > tr')].map((row) => {
    const text = (cell) => row.querySelector(`.class-of-${cell}`)?.textContent.replaceAll('\u00a0', ' ').trim();
    const own = (part) => row.querySelector(part)?.textContent ?? '';
    const names = ['verdict', 'must-fix', 'look', 'worst', 'triangles', 'shells', 'anisotropy', 'density', 'coverage', 'padding', 'bytes', 'notes', 'seen', 'since', 'findings', 'points'];
    return { student: own('.class-student'), file: own('.class-file'), several: own('.class-several').replaceAll('\u00a0', ' '), ...Object.fromEntries(names.map((name) => [name, text(name)])) };
  }));
}

/**
 * Planted faults that are missing in the table when it is filtered by their kind.
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

/** Setup of one test file about classes: the site, a temporary folder, and its folders for the page. */
export function classroom() {
  const site = gridproof();
  const work = mkdtempSync(join(tmpdir(), 'gridproof-class-'));
  after(() => rmSync(work, { recursive: true }));

  /** Writes files and their folders. */
  function folderOf(name, files) {
    const folder = join(work, name);
    for (const [path, content] of Object.entries(files)) {
      mkdirSync(dirname(join(folder, path)), { recursive: true });
      writeFileSync(join(folder, path), content);
    }
    return folder;
  }

  async function open(t, options) {
    const opened = await site.openPage(t, { ...options, path: null });
    await opened.page.addInitScript(countWorkers);
    await opened.page.goto(new URL(options?.path ?? '', site.address).href);
    await opened.page.evaluate(() => window.gridproof.idle());
    return opened;
  }

  /** Chooses a folder with its button; rows are in the order of students. */
  async function chooseFolderOf(page, name, files) {
    await page.setInputFiles('#folder-input', folderOf(name, files));
    await page.evaluate(() => window.gridproof.idle());
    await byPath(page);
  }

  return { site, work, folderOf, open, chooseFolderOf };
}

/** In the page: counts started workers of a class, and the file reads that a test has them report. */
function countWorkers() {
  Object.assign(window, { begun: 0, reads: 0 });
  window.Worker = class extends window.Worker {
    constructor(script, options) {
      super(script, options);
      window.begun += options.name === 'gridproof class' ? 1 : 0;
      this.addEventListener('message', ({ data }) => (window.reads += data.type === 'read' ? 1 : 0));
    }
  };
}

/** Chooses files by the button: paths, or names and contents. */
export async function choose(page, files, { sorted = true } = {}) {
  const given = Array.isArray(files) ? files : Object.entries(files).map(([name, content]) => ({ name, mimeType: '', buffer: Buffer.from(content) }));
  await page.setInputFiles('#file-input', given);
  await page.evaluate(() => window.gridproof.idle());
  if (sorted) await byPath(page);
}

/** Sorts the rows by path, where there is a table. */
export async function byPath(page) {
  const head = page.locator('#class-heads button[data-key=file]');
  if (!(await head.isVisible())) return;
  await head.click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#class-title').focus();
}

export const filesOf = async (page) => (await rowsOf(page)).map(({ file }) => file);

/** Content of a download. */
export async function saved(page, button) {
  const [download] = await Promise.all([page.waitForEvent('download', { timeout: CLASS_LIMIT }), page.locator(button).click()]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

/** Students of the rows. */
export const studentsOf = async (page) => (await rowsOf(page)).map(({ student }) => student);

/** Output of a program; `status` is the expected exit status. */
function run(program, args, { status = [0], cwd = ROOT } = {}) {
  const ran = spawnSync(program, args, { cwd, encoding: 'utf8', maxBuffer: 2 ** 28 });
  assert.ok(status.includes(ran.status), `${program} ${args.join(' ')}: ${ran.status} ${ran.error ?? ''} ${ran.stderr}`);
  return ran.stdout;
}

/** Output of the command for files that need not be ready. */
export function command(args, cwd) {
  const { GRIDPROOF_COMMAND: built } = process.env;
  const manifest = ['run', '--quiet', '--manifest-path', join(ROOT, 'Cargo.toml'), '--'];
  return built ? run(built, args, { status: [0, 1, 2], cwd }) : run('cargo', [...manifest, ...args], { status: [0, 1, 2], cwd });
}

/** Rows of a CSV by RFC 4180, as objects. */
export function parseCsv(bytes) {
  const rows = [[]];
  let cell = '';
  let quoted = false;
  const text = bytes.toString().replace(/^\ufeff/, '');
  for (let at = 0; at < text.length; at += 1) {
    if (quoted && text[at] === '"' && text[at + 1] === '"') [cell, at] = [cell + '"', at + 1];
    else if (text[at] === '"') quoted = !quoted;
    else if (!quoted && (text[at] === ',' || text.startsWith('\r\n', at))) {
      rows.at(-1).push(cell);
      cell = '';
      if (text[at] === '\r') [at] = [at + 1, rows.push([])];
    } else cell += text[at];
  }
  const [head, ...others] = rows.filter(({ length }) => length > 0);
  return others.map((row) => Object.fromEntries(head.map((name, at) => [name, row[at]])));
}
