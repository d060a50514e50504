// A review as a value: what its reader accepts and refuses, and that everything written is read back unchanged. No browser.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { deflateRawSync } from 'node:zlib';
import { decode, encode } from '../../www/base/base64url.js';
import { asSender, byKey, MOST, packReview, parseReview, readReview, Refused, unpackReview, writeReview } from '../../www/core/review.js';
import { LENS_NAMES } from '../../www/core/known.js';
import { random } from './random.mjs';

const utf8 = (text) => new TextEncoder().encode(text);

/** RFC 4648 section 10, with the letters of section 5 and without padding. */
const VECTORS = [['', ''], ['f', 'Zg'], ['fo', 'Zm8'], ['foo', 'Zm9v'], ['foob', 'Zm9vYg'], ['fooba', 'Zm9vYmE'], ['foobar', 'Zm9vYmFy']];

test('base64url follows RFC 4648', () => {
  for (const [plain, letters] of VECTORS) {
    assert.equal(encode(utf8(plain)), letters);
    assert.deepEqual(decode(letters), utf8(plain));
  }
  assert.equal(encode(Uint8Array.of(0xfb, 0xff, 0xbf)), '-_-_', 'the two characters of base64url');
  for (const bad of ['Z', 'Zg==', 'Zm9v\n', 'Zm+v', 'Zm/v', 'Zm9vY', 'Zh', 'é', 'Zm8A'.slice(0, 1)]) assert.equal(decode(bad), null, bad);
});

test('base64url agrees with Node on any bytes', () => {
  const next = random(1);
  for (let length = 0; length < 400; length += 1) {
    const bytes = Uint8Array.from({ length }, () => next() * 256);
    const letters = Buffer.from(bytes).toString('base64url');
    assert.equal(encode(bytes), letters);
    assert.deepEqual(decode(letters), bytes);
  }
});

const FILE = { name: 'lantern.obj', bytes: 12345, sha256: 'ab'.repeat(32) };
const EYE = { eye: [1, 2, 3], target: [0, 0.5, 0], radius: 2.5, up: '-z', across: [4, 2.5] };
const NOTE = { text: 'zu schmal\nΣ שלום 🏮', face: 4, triangle: 1, barycentric: [0.25, 0.25, 0.5], point: [1e-9, -2e6, 3], uv: [0.25, -1], shell: 'drum, shell 3', camera: EYE, lens: 'stretch' };
const FULL = {
  schema: 'gridproof-review/2',
  file: FILE,
  camera: EYE,
  lens: 'density',
  finding: 'text-Tür',
  brief: { map: { width_px: 1024 }, density: { target_px_per_unit: null }, text: { groups: ['Tür'] }, density_factor: { constructor: 2, __proto__x: 3 } },
  grid: { cell: 128, words: 'HARBOUR MUSEUM', words_px: 64 },
  notes: [NOTE, { text: 'x', face: 0, triangle: 0, barycentric: [1, 0, 0], point: [0, 0, 0] }],
  decisions: [{ finding: 'stretch-3', kind: 'intended', reason: 'a strip' }, { finding: 'tilt-1', kind: 'to-fix' }],
};

test('a review with every field is read and written unchanged', () => {
  assert.deepEqual(writeReview(readReview(FULL)), FULL);
});

test('a review without entries contains only its file', () => {
  const least = { schema: 'gridproof-review/2', file: FILE };
  const read = readReview(least);
  assert.deepEqual(writeReview(read), least);
  assert.deepEqual(read, { file: FILE, sender: '', since: null, camera: null, lens: 'grid', finding: null, note: null, brief: {}, grid: { cell: 64, words: '', wordsPx: 96 }, notes: [], decisions: [] });
});

test('sender and fixes need version 3, and only they do', () => {
  const sent = { ...FULL, schema: 'gridproof-review/3', sender: 'Zoë', since: { fixed: 2, still: 0, new: 1 } };
  assert.deepEqual(Object.entries(writeReview(readReview(sent))).toSorted(), Object.entries(sent).toSorted());
  assert.throws(() => readReview({ ...sent, schema: 'gridproof-review/2' }), /sender: is no key of version 2/);
  for (const [sender, why] of [['', /is empty/], ['a\nb', /control/], ['x'.repeat(MOST.sender + 1), /longer than 80/]]) {
    assert.throws(() => readReview({ ...sent, sender }), why);
  }
  assert.equal(asSender('  Zo\u00eb\n\u202eMeyer\ud800 '), 'Zoë  Meyer');
  assert.equal(readReview({ ...sent, sender: asSender('🏮'.repeat(200)) }).sender, '🏮'.repeat(80));
});

/** Characters of many scripts and widths, and joining and directional ones; no control characters. */
const LETTERS = [...'aZ09 -_"\\/<>&{}[]\u00e9ß中文שלוםعربى🏮👩‍👧\u202e\u2066\u200d\ufeff\n\t'];

/** A review in memory, of any shape that one may have. */
function anyReview(next) {
  const some = (most) => Math.floor(next() * (most + 1));
  const maybe = (make) => (next() < 0.5 ? make() : null);
  const pick = (values) => values[Math.floor(next() * values.length)];
  const number = () => (next() - 0.5) * 10 ** (some(40) - 20);
  const words = (most, lines) => {
    const text = Array.from({ length: 1 + some(most - 1) }, () => pick(LETTERS)).join('');
    const held = [...(lines ? text : text.replace(/[\n\t]/g, ' '))].slice(0, most).join('');
    return held.trim() === '' ? 'x' : held;
  };
  const point = () => [number(), number(), number()];
  const eye = () => ({ eye: point(), target: point(), radius: 10 ** (some(20) - 10), up: pick(['x', 'y', 'z', '-x', '-y', '-z']) });
  const weights = () => {
    const [a, b] = [next(), next()];
    return [a, b * (1 - a), 1 - a - b * (1 - a)].map((weight) => Math.max(0, weight));
  };
  const note = () => ({ text: words(60, true), face: some(2 ** 31), triangle: some(5), barycentric: weights(), point: point(), uv: maybe(() => [number(), number()]), shell: maybe(() => words(20)), camera: maybe(eye), lens: pick(LENS_NAMES) });
  const notes = Array.from({ length: some(4) }, note);
  const decisions = Array.from({ length: some(4) }, (_, index) => (next() < 0.5
    ? { finding: `${index} ${words(10)}`, kind: 'intended', reason: words(30, true) }
    : { finding: `${index} ${words(10)}`, kind: 'to-fix' }));
  const finding = maybe(() => words(20));
  return {
    sender: maybe(() => words(20)) ?? '',
    since: maybe(() => ({ fixed: some(9), still: some(9), new: some(9) })),
    file: { name: words(30), bytes: some(2 ** 40), sha256: Array.from({ length: 64 }, () => pick([...'0123456789abcdef'])).join('') },
    camera: maybe(eye),
    lens: pick(LENS_NAMES),
    finding,
    note: finding === null && notes.length > 0 ? maybe(() => 1 + some(notes.length - 1)) : null,
    brief: next() < 0.5 ? {} : { density_factor: { [words(20)]: number(), [words(20)]: number() }, text: { groups: [words(10)] }, seams: { front: '+x', max_front_over_diagonal: maybe(number) } },
    grid: { cell: 16 + some(240), words: maybe(() => words(100)) ?? '', wordsPx: 8 + some(504) },
    notes,
    decisions,
  };
}

test('any review survives a round trip: as a value, as JSON, and packed for a link', async () => {
  const next = random(2);
  for (let turn = 0; turn < 300; turn += 1) {
    const review = anyReview(next);
    assert.deepEqual(readReview(writeReview(review)), review);
    assert.deepEqual(parseReview(JSON.stringify(writeReview(review))), review);
    const packed = await packReview(review);
    assert.match(packed, /^[A-Za-z0-9_-]+$/);
    assert.deepEqual(await unpackReview(packed), review);
  }
});

const refusal = (value, upgrades) => {
  try {
    readReview(value, upgrades);
  } catch (error) {
    assert.ok(error instanceof Refused, String(error));
    return error.message;
  }
  return null;
};

/** The full review with the value at this path replaced. */
function changed(path, value) {
  const copy = JSON.parse(JSON.stringify(FULL));
  const at = path.slice(0, -1).reduce((object, key) => object[key], copy);
  const key = path.at(-1);
  if (value === undefined) delete at[key];
  else Object.defineProperty(at, key, { value, enumerable: true, configurable: true, writable: true });
  return copy;
}

test('unknown, missing and oversized fields are refused with their path', () => {
  const long = 'é'.repeat(MOST.text + 1);
  for (const [path, value, reason] of [
    [['notes', 1, 'text'], long, 'notes[1].text: is longer than 2000 characters.'],
    [['notes', 1, 'text'], '🏮'.repeat(MOST.text + 1), 'notes[1].text: is longer than 2000 characters.'],
    [['notes', 1, 'text'], ' \n', 'notes[1].text: is empty.'],
    [['notes', 1, 'text'], 7, 'notes[1].text: has to be a text.'],
    [['notes', 1, 'text'], 'a\u0000b', 'notes[1].text: has a control character in it.'],
    [['notes', 1, 'text'], 'a\ud800b', 'notes[1].text: has half a character in it.'],
    [['notes', 1, 'text'], undefined, 'notes[1].text: is missing.'],
    [['notes', 0, 'texts'], 'x', 'notes[0].texts: is no key of a review.'],
    [['notes', 0, '__proto__'], {}, 'notes[0].__proto__: is no key of a review.'],
    [['notes', 0, 'face'], -1, 'notes[0].face: is -1; it has to be from 0 to 4294967295.'],
    [['notes', 0, 'face'], 1.5, 'notes[0].face: is 1.5; it has to be a whole number.'],
    [['notes', 0, 'barycentric'], [1, 1, 1], 'notes[0].barycentric: has to sum up to 1.'],
    [['notes', 0, 'barycentric'], [0.5, 0.5], 'notes[0].barycentric: has to be a list of 3 numbers.'],
    [['notes', 0, 'barycentric', 2], 1.5, 'notes[0].barycentric[2]: is 1.5; it has to be from 0 to 1.'],
    [['notes', 0, 'point', 1], null, 'notes[0].point[1]: has to be a number.'],
    [['notes', 0, 'camera', 'radius'], 0, 'notes[0].camera.radius: is 0; it has to be above 0.'],
    [['notes', 0, 'camera', 'up'], 'w', 'notes[0].camera.up: has to be one of x, y, z'],
    [['notes'], Array(MOST.notes + 1).fill(NOTE), 'notes: has 201 entries; at most 200 are taken.'],
    [['notes'], {}, 'notes: has to be a list.'],
    [['decisions', 0, 'reason'], '', 'decisions[0].reason: is empty.'],
    [['decisions', 0, 'reason'], undefined, 'decisions[0].reason: is missing.'],
    [['decisions', 1, 'reason'], 'x', 'decisions[1].reason: is no key of a review.'],
    [['decisions', 1, 'kind'], 'later', 'decisions[1].kind: has to be one of intended, to-fix.'],
    [['decisions', 1, 'finding'], 'stretch-3', 'decisions[1].finding: is decided twice.'],
    [['file', 'sha256'], 'AB'.repeat(32), 'file.sha256: has to be 64 lower-case hexadecimal digits.'],
    [['file', 'bytes'], 2 ** 60, 'file.bytes: is 1152921504606847000; it has to be from 0 to 9007199254740991.'],
    [['file'], undefined, 'file: is missing.'],
    [['lens'], 'rainbow', 'lens: has to be one of grid,'],
    [['note'], 1, 'note: cannot be chosen together with a finding.'],
    [['grid', 'cell'], 8, 'grid.cell: is 8; it has to be from 16 to 256.'],
    [['brief', 'map'], [], 'brief.map: has to be an object.'],
    [['brief', 'map', 'width_px'], { a: 1 }, 'brief.map.width_px: has to be a text.'],
    [['camera', 'eye'], [1, 2, Infinity], 'camera.eye[2]: has to be a number.'],
    [['extra'], 1, 'extra: is no key of a review.'],
    [['x'.repeat(5000)], 1, `${'x'.repeat(40)}…: is no key of a review.`],
    [['schema'], 'gridproof-review/4', 'schema: is version 4, and this page reads up to version 3.'],
    [['schema'], 'gridproof-report/2', 'schema: has to be "gridproof-review/3"'],
    [['schema'], undefined, 'schema: has to be "gridproof-review/3"'],
  ]) {
    const message = refusal(changed(path, value));
    assert.ok(message?.startsWith(reason), `${path.join('.')}: ${message}`);
  }
  assert.match(refusal({ ...FULL, finding: undefined, note: 3 }) ?? '', /^finding: has to be a text/);
  const { finding: _, ...unfound } = FULL;
  assert.equal(refusal({ ...unfound, note: 3 }), 'note: is 3, and there are 2 notes.');
  for (const value of [null, 5, 'x', [], undefined]) assert.match(refusal(value) ?? '', /^A review is an object/);
});

test('a version 1 review is upgraded to version 2', () => {
  const read = (name) => JSON.parse(readFileSync(new URL(`../reviews/${name}.json`, import.meta.url), 'utf8'));
  assert.deepEqual(writeReview(readReview(read('version-1'))), read('version-1-as-2'));
  assert.match(refusal({ ...read('version-1'), decisions: [{ finding: 'stretch-3', kind: 'later' }] }) ?? '', /^decisions\[0\]\.kind: has to be one of/);
  const shells = [{ key: 0 }, { key: 12 }];
  assert.deepEqual(['stretch-shell-1', 'stretch-shell-2', 'stretch-1', 'coverage'].map((id) => byKey(id, shells)), ['stretch-12', 'stretch-shell-2', 'stretch-1', 'coverage']);
});

test('an older version is upgraded step by step; one without an upgrade is refused', () => {
  const older = { schema: 'gridproof-review/0', of: FILE, remarks: [NOTE] };
  const upgrades = {
    0: ({ of, remarks }) => ({ schema: 'gridproof-review/1', file: of, notes: remarks }),
    1: ({ file, notes }) => ({ schema: 'gridproof-review/2', file, notes }),
    2: (second) => ({ ...second, schema: 'gridproof-review/3' }),
  };
  assert.deepEqual(writeReview(readReview(older, upgrades)), { schema: 'gridproof-review/2', file: FILE, notes: [NOTE] });
  assert.equal(refusal(older), 'schema: is version 0, which is no longer read.');
  assert.match(refusal({ ...older, remarks: [{}] }, upgrades) ?? '', /^notes\[0\]\.text: is missing/, 'the upgraded review is validated too');
});

const refusedPack = async (letters) => {
  const started = performance.now();
  await assert.rejects(unpackReview(letters), (error) => error instanceof Refused);
  assert.ok(performance.now() - started < 5000, 'refused in time');
};

test('a damaged, truncated or oversized fragment is refused', async () => {
  const packed = await packReview(readReview(FULL));
  for (const length of [0, 1, 5, packed.length >> 1, packed.length - 4]) await refusedPack(packed.slice(0, length));
  await refusedPack('!'.repeat(40));
  await refusedPack('A'.repeat(MOST.fragment + 1));
  const bomb = Buffer.from(deflateRawSync(Buffer.alloc(200_000_000, 0x20))).toString('base64url');
  assert.ok(bomb.length < MOST.fragment);
  await refusedPack(bomb);
  await refusedPack(Buffer.from(deflateRawSync(Buffer.from([0x22, 0xff, 0xfe, 0x22]))).toString('base64url'));
  await refusedPack(Buffer.from(deflateRawSync(`${'['.repeat(100_000)}`)).toString('base64url'));
});

test('changing any one character gives a review or a refusal, never an exception', async () => {
  const packed = await packReview(readReview(FULL));
  const next = random(3);
  let refused = 0;
  for (let turn = 0; turn < 400; turn += 1) {
    const at = Math.floor(next() * packed.length);
    const letter = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_'[Math.floor(next() * 64)];
    try {
      const review = await unpackReview(packed.slice(0, at) + letter + packed.slice(at + 1));
      assert.deepEqual(readReview(writeReview(review)), review);
    } catch (error) {
      assert.ok(error instanceof Refused, String(error));
      refused += 1;
    }
  }
  assert.ok(refused > 100, `${refused} were refused`);
});
