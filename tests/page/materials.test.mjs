// Material libraries as values: what is read from them, and which belong to a model. No browser.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { keyOf, libraryText, linkMaterials, readLibrary } from '../../www/model/materials.js';

/** The command's reader is checked against these too. */
const shared = JSON.parse(readFileSync(new URL('../materials.json', import.meta.url), 'utf8'));
const mapIn = (line) => readLibrary(`newmtl a\n${line}\n`).get('a').map;
const plain = { scale: [1, 1], offset: [0, 0], clamp: false };

test('names, colours and maps of a library', () => {
  const materials = readLibrary('# made by hand\r\nnewmtl  brass  plate \r\nNs 10\r\nKd 0.5 0.25 1\r\nmap_Kd brass.png\r\nmap_Bump bump.png\r\n\r\nnewmtl glass #2\nKd 0.2\nnewmtl wax # inner\n\tkd 2 -1 0.5\n');
  assert.deepEqual([...materials], [
    ['brass plate', { colour: [0.5, 0.25, 1], map: { file: 'brass.png', ...plain } }],
    ['glass #2', { colour: [0.2, 0.2, 0.2], map: null }],
    ['wax', { colour: [1, 0, 0.5], map: null }],
  ]);
});

for (const { line, file, ...more } of shared.maps) {
  test(`read: ${JSON.stringify(line)}`, () => assert.deepEqual(mapIn(line), file && { file, ...plain, ...more }));
}

for (const { text, pictures } of shared.libraries) {
  test(`read: ${JSON.stringify(text)}`, () => assert.deepEqual(Object.fromEntries([...readLibrary(text)].map(([name, { map }]) => [name, map?.file ?? null])), pictures));
}

test('colours that are not three numbers are ignored', () => {
  assert.equal(readLibrary('newmtl a\nKd spectral steel.rfl 1\nKd xyz 1 2 3\n').get('a').colour, null);
});

test('text as UTF-8, with or without a BOM, or single-byte', () => {
  assert.equal(libraryText(new TextEncoder().encode('\ufeffnewmtl Tür')), 'newmtl Tür');
  assert.equal(libraryText(Uint8Array.from([...'newmtl T\xfcr'].map((letter) => letter.charCodeAt(0)))), 'newmtl Tür');
  assert.deepEqual([...readLibrary(libraryText(new TextEncoder().encode('\ufeffnewmtl a\nKd 1 1 1'))).keys()], ['a']);
});

test('files are matched by name without folders, ignoring case', () => {
  for (const path of ['Wood.PNG', 'maps/wood.png', 'C:\\Maps\\WOOD.png', 'a\\b/wood.Png']) assert.equal(keyOf(path), 'wood.png');
  assert.equal(keyOf('Tu\u0308r.png'), keyOf('T\u00fcr.png'), 'in any Unicode normal form');
});

test('materials come from the libraries a model names first, then from others', () => {
  const library = (name, text) => [keyOf(name), { name, materials: readLibrary(text) }];
  const given = new Map([library('other.mtl', 'newmtl a\nKd 0 0 0\nnewmtl c\nKd 0 0 1'), library('First.mtl', 'newmtl a\nKd 1 0 0'), library('second.mtl', 'newmtl a\nKd 0 1 0\nnewmtl b b\nKd 0 1 0')]);
  const colours = ({ found }) => found.map((material) => material?.colour ?? null);
  const linked = linkMaterials(['a', 'b  b', 'c', 'd'], ['lib/first.mtl', 'second.mtl', 'gone.mtl', 'x\\GONE.mtl'], given);
  assert.deepEqual(colours(linked), [[1, 0, 0], [0, 1, 0], [0, 0, 1], null]);
  assert.deepEqual(linked.missing, ['GONE.mtl'], 'once');
  assert.deepEqual(linkMaterials(['a'], ['gone.mtl'], given).missing, [], 'nothing is missing');
  assert.deepEqual(linkMaterials([], ['gone.mtl'], new Map()), { found: [], missing: [] }, 'without materials no library is needed');
});
