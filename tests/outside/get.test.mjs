// tests/outside/get against a local registry, and its list against the files that tests use.

import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { createReadStream, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';

const LISTED = JSON.parse(readFileSync(new URL('packages.json', import.meta.url), 'utf8'));
const TEXT = '# made by hand\r\nv 0 0 0\n# kept\n';
const EMPTIED = '#\r\nv 0 0 0\n# kept\n';
const ARCHIVE = 'thing-1.0.tar.gz';
const digest = (bytes) => createHash('sha256').update(bytes).digest('hex');

/** A registry with one package, complete or truncated, and the list that names it. */
async function registry(t) {
  const folder = mkdtempSync(join(tmpdir(), 'gridproof-outside-'));
  mkdirSync(join(folder, 'thing-1.0'));
  writeFileSync(join(folder, 'thing-1.0', 'model.obj'), TEXT);
  execFileSync('tar', ['-czf', ARCHIVE, 'thing-1.0'], { cwd: folder });
  const archive = join(folder, ARCHIVE);
  const asked = [];
  const server = createServer((request, response) => {
    asked.push(`${request.url} ${request.headers.range ?? 'whole'}`);
    if (request.url === '/simple/thing/') return response.end(`<a href="../../files/${ARCHIVE}#sha256=0">${ARCHIVE}</a>`);
    const from = Number(/bytes=(\d+)-/.exec(request.headers.range ?? '')?.[1] ?? 0);
    const { size } = statSync(archive);
    response.writeHead(from ? 206 : 200, { 'content-length': size - from, ...(from && { 'content-range': `bytes ${from}-${size - 1}/${size}` }) });
    return createReadStream(archive, { start: from }).pipe(response);
  });
  await new Promise((done) => server.listen(0, '127.0.0.1', done));
  t.after(() => {
    server.close();
    rmSync(folder, { recursive: true });
  });
  const file = { to: 'meshes/thing.obj', path: 'thing-1.0/model.obj', bytes: EMPTIED.length, sha256: digest(EMPTIED), emptied: [1] };
  const list = (change = {}, ofPackage = {}) => {
    const bytes = readFileSync(archive);
    const thing = { registry: 'PyPI', name: 'thing', version: '1.0', licence: 'none', archive: ARCHIVE, bytes: bytes.length, sha256: digest(bytes), files: [{ ...file, ...change }], ...ofPackage };
    writeFileSync(join(folder, 'list.json'), JSON.stringify([thing]));
  };
  list();
  const out = join(folder, 'out');
  const get = (environment = {}, ...names) => new Promise((done) => {
    const env = { ...process.env, GRIDPROOF_OUTSIDE: out, GRIDPROOF_OUTSIDE_LIST: join(folder, 'list.json'), PIP_INDEX_URL: `http://127.0.0.1:${server.address().port}/simple`, no_proxy: '127.0.0.1', ...environment };
    const child = spawn(new URL('get', import.meta.url).pathname, names, { env, stdio: ['ignore', 'pipe', 'pipe'] });
    let said = '';
    for (const stream of [child.stdout, child.stderr]) stream.on('data', (text) => { said += text; });
    child.on('close', (status) => done({ status, said }));
  });
  return { archive, asked, get, list, out };
}

test('a file is fetched once and completely, and an interrupted download is continued', async (t) => {
  const { archive, asked, get, out } = await registry(t);
  const work = join(out, '.fetching');
  mkdirSync(work, { recursive: true });
  writeFileSync(join(work, ARCHIVE), readFileSync(archive).subarray(0, 50));
  assert.deepEqual(await get(), { status: 0, said: `thing 1.0 (PyPI, 0.0 MB) …\n${(await get()).said}` });
  assert.equal(readFileSync(join(out, 'meshes', 'thing.obj'), 'utf8'), EMPTIED);
  assert.deepEqual(asked, ['/simple/thing/ whole', `/files/${ARCHIVE} bytes=50-`]);
  assert.deepEqual(readdirSync(out), ['meshes']);
});

test('missing, unreachable and different files are reported and leave nothing behind', async (t) => {
  const { get, list, out } = await registry(t);
  const file = join(out, 'meshes', 'thing.obj');
  const refused = async (pattern, environment) => {
    const { status, said } = await get(environment);
    assert.equal(status, 1, said);
    assert.match(said, pattern);
    assert.match(said, /^0 of 1 files are at hand/m);
    assert.ok(!existsSync(file));
  };
  await refused(/thing could not be had: .*(connect|refused)/i, { PIP_INDEX_URL: 'http://127.0.0.1:1/simple' });
  list({ sha256: digest('another') });
  await refused(/thing could not be had: its thing-1.0\/model.obj is another file than the one listed/);
  list({ path: 'thing-1.0/none.obj' });
  await refused(/thing could not be had: .*none.obj/);
  list({}, { sha256: digest('another') });
  await refused(/what came as thing-1.0.tar.gz is another file than the one listed/);
  list({}, { archive: 'thing-2.0.tar.gz' });
  await refused(/the index no longer lists thing-2.0.tar.gz/);
  const { status, said } = await get({}, 'anything');
  assert.equal(status, 2);
  assert.match(said, /there is no package 'anything'; the packages are: thing\n/);
});

test('the list names files that tests use', () => {
  const meshes = JSON.parse(readFileSync(new URL('../reference/meshes.json', import.meta.url), 'utf8'));
  const asked = /^(parser-suite\/tinyobjloader\/.|models\/sponza\.obj$)/;
  for (const { to } of LISTED.flatMap(({ files }) => files)) assert.ok(asked.test(to) || to.replace('meshes/', '') in meshes, to);
});
