// Allowed imports: they point down the lists of folders below, or stay in their folder, without cycles. And files named in the
// documents exist.

import assert from 'node:assert/strict';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { posix } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('..', import.meta.url));
const read = (path) => readFileSync(posix.join(ROOT, path), 'utf8');
const filesIn = (folder, ending) => readdirSync(posix.join(ROOT, folder), { recursive: true })
  .map((path) => path.replaceAll('\\', '/')).filter((path) => path.endsWith(ending));

/** Folders of www/ in order; each may import from itself and from those after it. */
const PAGE = ['app', 'batch', 'compare', 'share', 'save', 'notes', 'brief', 'findings', 'lenses', 'stage', 'model', 'open', 'core', 'base'];
/** Folders of www/ that are not checked. */
const NOT_ROOMS = ['fonts', 'vendor'];

/** Folders and files of src/ in the same order: each may use those after it. */
const CORE = [
  'main', 'cli', 'web', 'lib', 'check', 'compare', 'carried', 'report', 'findings', 'view', 'draw', 'lens', 'measure', 'review', 'obj', 'model', 'brief',
  'grid', 'util',
];

/** Imports of a module of the page: in code, and in comments for types. */
function namesIn(text) {
  const comments = text.match(/\/\*[\s\S]*?\*\//g) ?? [];
  const code = text.replace(/\/\*[\s\S]*?\*\//g, '').replace(/^\s*\/\/.*$/gm, '');
  const types = comments.flatMap((comment) => [...comment.matchAll(/(?:import\(|from )"(\.[^"]+)"/g)]);
  const values = [...code.matchAll(/(?:\bfrom |\bimport |\bimport\()"(\.[^"]+)"/g), ...code.matchAll(/new URL\("([^"]+)", import\.meta\.url\)/g)];
  return { types: types.map(([, name]) => name), values: values.map(([, name]) => name) };
}

const PAGE_FILES = filesIn('www', '.js').filter((path) => !NOT_ROOMS.includes(path.split('/')[0]));
/** Imported modules of each module of the page. */
const PAGE_NAMES = new Map(PAGE_FILES.map((path) => {
  const { types, values } = namesIn(read(`www/${path}`));
  const resolved = (names) => names.map((name) => posix.join('www', posix.dirname(path), name));
  return [path, { types: resolved(types), values: resolved(values) }];
}));

/** Cycles of a graph: its strongly connected components of more than one node (Tarjan 1972). */
function circlesOf(graph) {
  const [at, low, stack, circles] = [new Map(), new Map(), [], []];
  const visit = (node) => {
    at.set(node, at.size);
    low.set(node, at.get(node));
    stack.push(node);
    for (const next of graph.get(node) ?? []) {
      if (!at.has(next)) visit(next);
      if (stack.includes(next)) low.set(node, Math.min(low.get(node), low.get(next)));
    }
    if (low.get(node) !== at.get(node)) return;
    const part = stack.splice(stack.indexOf(node));
    if (part.length > 1) circles.push(part.sort());
  };
  for (const node of graph.keys()) if (!at.has(node)) visit(node);
  return circles;
}

const roomOf = (path) => path.split('/')[0].replace(/\.rs$/, '');

test('cycles are found', () => {
  assert.deepEqual(circlesOf(new Map([['a', ['b']], ['b', ['c']], ['c', ['b', 'd']], ['d', []]])), [['b', 'c']]);
});

test('imports are found, in code and in comments', () => {
  const text = 'import { a } from "./a.js";\nimport {\n  b,\n} from "../b.js";\nimport "./c.js";\n/** @import {D} from "../d.js" */\n// from "./no.js"\n'
    + '/** @type {import("./e.js").E} */\nconst W = new URL("./w.js", import.meta.url);\nawait import("./f.js");\nexport { g } from "./g.js";\n';
  assert.deepEqual(namesIn(text), { types: ['../d.js', './e.js'], values: ['./a.js', '../b.js', './c.js', './f.js', './g.js', './w.js'] });
});

test('every module of the page is in a folder with a rank, and its imports exist', () => {
  assert.ok(PAGE_FILES.length > 90);
  const folders = readdirSync(posix.join(ROOT, 'www'), { withFileTypes: true }).filter((entry) => entry.isDirectory()).map(({ name }) => name);
  assert.deepEqual(folders.sort(), [...PAGE, ...NOT_ROOMS].sort());
  assert.deepEqual([...PAGE_FILES, ...filesIn('www', '.css')].filter((path) => !PAGE.includes(roomOf(path))), []);
  const made = /^(wasm\/|brief\.json$)/;
  const missing = [...PAGE_NAMES].flatMap(([path, { types, values }]) => [...types, ...values]
    .filter((name) => !made.test(name) && !existsSync(posix.join(ROOT, name))).map((name) => `${path}: ${name}`));
  assert.deepEqual(missing, []);
  const named = [...read('index.html').matchAll(/(?:src|href)="(www\/[^"]+)"/g)].map(([, path]) => path);
  assert.deepEqual(named.filter((path) => !existsSync(posix.join(ROOT, path))), []);
});

test('the page’s imports point down, those of types too, and its code has no cycles', () => {
  const rank = (path) => PAGE.indexOf(roomOf(path.replace(/^www\//, '')));
  const up = [...PAGE_NAMES].flatMap(([path, { types, values }]) => [...types, ...values]
    .filter((name) => rank(name) >= 0 && rank(name) < rank(path)).map((name) => `${path} -> ${name}`));
  assert.deepEqual(up, []);
  // Types may be cyclic within a folder: they load nothing.
  assert.deepEqual(circlesOf(new Map([...PAGE_NAMES].map(([path, { values }]) => [path, values.map((name) => name.replace(/^www\//, ''))]))), []);
});

/** A Rust file's code without comments and without the tests at its end. */
const codeOf = (path) => read(`src/${path}`).replace(/\/\/.*$/gm, '').split(/#\[cfg\(test\)\]\s*mod tests/)[0];

test('the core’s imports point down', () => {
  const files = filesIn('src', '.rs').filter((path) => !/(^|\/)tests\.rs$/.test(path));
  assert.deepEqual([...new Set(files.map(roomOf))].sort(), [...CORE].sort());
  const up = new Set();
  for (const path of files) {
    for (const [, names] of codeOf(path).matchAll(/\b(?:crate|gridproof)::(\{[^;]*\}|\w+)/g)) {
      for (const [, name] of names.matchAll(/(?:^|[{,])\s*(\w+)/g)) {
        if (CORE.includes(name) && CORE.indexOf(name) < CORE.indexOf(roomOf(path))) up.add(`${path} ${name}`);
      }
    }
  }
  assert.deepEqual([...up].sort(), []);
});

test('the modules of src/measure/ point down its folders too, without cycles', () => {
  const rooms = ['rays', 'sheet', 'flat'];
  const files = filesIn('src/measure', '.rs').filter((path) => path.includes('/') && !/(^|\/)(mod|tests)\.rs$/.test(path));
  assert.deepEqual([...new Set(files.map(roomOf))].sort(), [...rooms].sort());
  const modules = new Set(files.map((path) => path.slice(0, -3)));
  const graph = new Map([...modules].map((name) => {
    const named = [...codeOf(`measure/${name}.rs`).matchAll(/\b(?:super|crate::measure::(\w+))::(\{[^;]*?\};|\w+)/g)]
      .flatMap(([, room, names]) => [...names.matchAll(/\w+/g)].map(([other]) => `${room ?? roomOf(name)}/${other}`));
    return [name, [...new Set(named.filter((other) => modules.has(other) && other !== name))]];
  }));
  const up = [...graph].flatMap(([name, others]) => others.filter((other) => rooms.indexOf(roomOf(other)) < rooms.indexOf(roomOf(name))).map((other) => `${name} -> ${other}`));
  assert.deepEqual(up, []);
  assert.deepEqual(circlesOf(graph), []);
});

test('paths named in the documents exist', () => {
  for (const document of ['DEVELOPERS.md', 'README.md', 'tests/README.md', 'tests/bench/README.md', 'tests/outside/README.md', 'demo/README.md']) {
    const named = [...read(document).matchAll(/`((?:www|src|tests|demo|benches)\/[\w./-]*\w\/?)`/g)].map(([, path]) => path);
    const made = /^tests\/shots/;
    assert.deepEqual(named.filter((path) => !made.test(path) && !existsSync(posix.join(ROOT, path))), [], document);
  }
  // A row that begins with folders names files in them.
  const missing = [];
  for (const row of read('DEVELOPERS.md').match(/^\| `(?:www|src)\/.*$/gm) ?? []) {
    const [first, ...rest] = row.split(' | ');
    const folders = [...first.matchAll(/`([\w./-]+)\/`/g)].map(([, folder]) => folder);
    for (const [, name] of rest.join(' ').matchAll(/`([\w./-]+\.(?:js|rs))`/g)) {
      if (folders.length > 0 && ![...folders, '.'].some((folder) => existsSync(posix.join(ROOT, folder, name)))) missing.push(`${first} ${name}`);
    }
  }
  assert.deepEqual(missing, []);
});

test('no type of the page is any', () => {
  const typed = /[{<(|,:&>] ?any(?=\[\]|[})>|,&]| [|&]| \})/;
  for (const sample of ['{any}', 'Map<any, {value: T}>', '(answer: any) => void', 'Promise<any>', '{{a: any}}', '{any[]}', 'string | any}']) assert.match(sample, typed);
  for (const sample of ['of any kind', 'as any, too', '{@link any}']) assert.doesNotMatch(sample, typed);
  const found = PAGE_FILES.flatMap((path) => (read(`www/${path}`).match(/\/\*\*[\s\S]*?\*\//g) ?? []).filter((comment) => comment.match(typed)).map((comment) => `${path}: ${comment}`));
  assert.deepEqual(found, []);
});
