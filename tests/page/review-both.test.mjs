// The page's reader of reviews and the command's accept the same reviews and understand them alike. No browser.
// Briefs in reviews are validated by the core for both; here they are unchanged.

import assert from 'node:assert/strict';
import { execFile } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { byKey, MOST, parseReview, Refused } from '../../www/core/review.js';
import { random } from './random.mjs';

/** Two flipped squares beside each other: findings of shells whose number is not their lowest face. */
const OBJ = `v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 3 0 0\nv 4 0 0\nv 4 1 0\nv 3 1 0
vt .1 .1\nvt .4 .1\nvt .4 .4\nvt .1 .4\nvt .9 .6\nvt .6 .6\nvt .6 .9\nvt .9 .9
f 1/1 2/2 3/3\nf 1/1 3/3 4/4\nf 5/5 6/6 7/7\nf 5/5 7/7 8/8\n`;
const FLIPPED = { first: 'flipped-shell-1', key: 'flipped-2' };

let folder;
let model;
let files = 0;
before(() => {
  folder = mkdtempSync(join(tmpdir(), 'gridproof-reviews-'));
  model = join(folder, 'model.obj');
  writeFileSync(model, OBJ);
});
after(() => rmSync(folder, { recursive: true }));

const FILE = { name: 'model.obj', bytes: OBJ.length, sha256: createHash('sha256').update(OBJ).digest('hex') };
const EYE = { eye: [1, 2, 3], target: [0, 0.5, 0], radius: 2.5, up: '-z', across: [4, 2.5] };
const NOTE = { text: 'zu schmal\n\tΣ שלום 🏮', face: 3, triangle: 0, barycentric: [0.25, 0.25, 0.5], point: [1e-9, -2e6, 3], uv: [0.25, -1], shell: 'part 2', camera: EYE, lens: 'stretch' };
const FULL = {
  schema: 'gridproof-review/3',
  file: FILE,
  sender: 'Zoë',
  since: { fixed: 2, still: 0, new: 1 },
  camera: EYE,
  lens: 'density',
  finding: FLIPPED.key,
  brief: { map: { width_px: 1024 } },
  grid: { cell: 128, words: 'HARBOUR', words_px: 64 },
  notes: [NOTE, { text: 'x', face: 0, triangle: 0, barycentric: [1, 0, 0], point: [0, 0, 0] }],
  decisions: [{ finding: FLIPPED.key, kind: 'intended', reason: 'both\nare' }, { finding: 'tilt-1', kind: 'to-fix' }],
};

/** The full review with the value at this path replaced, or without it. */
function changed(path, value) {
  const copy = structuredClone(FULL);
  const at = path.slice(0, -1).reduce((object, key) => object[key], copy);
  if (value === undefined) delete at[path.at(-1)];
  else at[path.at(-1)] = value;
  return JSON.stringify(copy);
}

/** The text with one piece of it, which must be there, replaced. */
function written(from, to, text = JSON.stringify(FULL)) {
  assert.ok(text.includes(from), from);
  return text.replace(from, to);
}

/** The model's report with the review applied: null where the review is refused. */
function ofPage(json, shells) {
  try {
    const { notes, decisions } = parseReview(json.replace(/^\ufeff/, ''));
    // As JSON, where -0 is 0.
    return JSON.parse(JSON.stringify({
      notes: notes.map(({ text, shell, face, point, uv }) => ({ text, shell, face, point, uv })),
      decision: decisions.map(({ finding, ...decision }) => ({ ...decision, finding: byKey(finding, shells) })).find(({ finding }) => finding === FLIPPED.key) ?? null,
    }));
  } catch (error) {
    assert.ok(error instanceof Refused, String(error));
    return null;
  }
}

const command = (...args) => new Promise((done) => {
  execFile(process.env.GRIDPROOF_COMMAND ?? 'target/debug/gridproof', args, { maxBuffer: 1 << 26 }, (error, stdout, stderr) => done({ status: error?.code ?? 0, stdout, stderr }));
});

async function ofCommand(json) {
  const review = join(folder, `${(files += 1)}.json`);
  writeFileSync(review, json);
  const { status, stdout, stderr } = await command('check', model, '--json', '--review', review);
  if (/cannot use the review/.test(stderr)) return null;
  // A review of another file was read, too.
  if (/is about another file/.test(stderr)) return 'another';
  assert.ok(status === 0 || status === 1, `${status}: ${stderr}`);
  const { notes, findings } = JSON.parse(stdout);
  const found = findings.find(({ id }) => id === FLIPPED.key);
  assert.ok(found, findings.map(({ id }) => id).join());
  return { notes, decision: found.decision && { ...found.decision, finding: found.id } };
}

/** Both on each of these, as many at once as there are processors. */
async function both(t, reviews) {
  const { shells } = JSON.parse((await command('check', model, '--json')).stdout);
  let taken = 0;
  const rest = [...reviews];
  await Promise.all(Array.from({ length: availableParallelism() }, async () => {
    for (let json = rest.pop(); json !== undefined; json = rest.pop()) {
      const [page, other] = [ofPage(json, shells), await ofCommand(json)];
      const about = json.length > 4000 ? `${json.slice(0, 4000)}…` : json;
      if (other === 'another') assert.ok(page, about);
      else assert.deepEqual(other, page, about);
      taken += page ? 1 : 0;
    }
  }));
  t.diagnostic(`${reviews.length} reviews, ${taken} accepted`);
  return taken;
}

const long = (length) => '🏮'.repeat(length);
const notes = (count) => Array(count).fill(FULL.notes[1]);
const decisions = (count) => Array.from({ length: count }, (_, at) => ({ finding: `tilt-${at}`, kind: 'to-fix' }));

/** At each limit, and what JSON can write in more than one way. */
const TAKEN = [
  JSON.stringify(FULL),
  `\ufeff${JSON.stringify(FULL)}`,
  JSON.stringify({ schema: 'gridproof-review/2', file: FILE }),
  ...[
    [['notes', 1, 'text'], long(MOST.text)], [['notes', 1, 'text'], '\u202e x'], [['decisions', 0, 'reason'], long(MOST.reason)],
    [['sender'], long(MOST.sender)], [['file', 'name'], long(MOST.name)], [['finding'], long(MOST.name)], [['decisions', 1, 'finding'], long(MOST.name)],
    [['notes', 0, 'shell'], long(MOST.name)], [['grid', 'words'], long(MOST.words)], [['notes'], notes(MOST.notes)], [['decisions'], decisions(MOST.decisions)],
    [['grid', 'cell'], 16], [['grid', 'cell'], 256], [['grid', 'words_px'], 8], [['grid', 'words_px'], 512], [['notes', 0, 'face'], 4294967295],
    [['notes', 0, 'barycentric'], [0.3333, 0.3333, 0.3333]], [['file', 'bytes'], 9007199254740991], [['since', 'new'], 9007199254740991], [['grid'], {}],
    [['camera', 'up'], 'y'], [['notes', 0, 'uv'], undefined], [['decisions'], undefined], [['brief'], {}], [['finding'], 'constructor-7'],
  ].map(([path, value]) => changed(path, value)),
  written('"face":3', '"face":3.0'), written('"face":3', '"face":30e-1'), written('"face":0', '"face":-0'),
  written('"lens":"density"', '"lens":"rainbow","lens":"density"'),
];

const REFUSED = [
  '', 'null', '[]', '{', '{"schema":"gridproof-review/2"}', `${JSON.stringify(FULL)}x`, '['.repeat(5000),
  ...['gridproof-review/0', 'gridproof-review/4', 'gridproof-review/02', 'gridproof-review/2.0', 'gridproof-review/', 'gridproof-review/ 2', 'gridproof-report/2', 3, null]
    .map((schema) => changed(['schema'], schema)),
  changed(['schema'], 'gridproof-review/2'),
  ...[
    [['notes', 1, 'text'], long(MOST.text + 1)], [['notes', 1, 'text'], ' \n\u2003'], [['notes', 1, 'text'], '\ufeff'], [['notes', 1, 'text'], 'a\u0000'], [['notes', 1, 'text'], 'a\r'],
    [['notes', 1, 'text'], 'a\u0085'], [['notes', 1, 'text'], 7], [['notes', 1, 'text'], undefined], [['notes', 1, 'texts'], 'x'], [['notes', 1, 'uv'], null],
    [['notes', 0, 'uv'], [1]], [['notes', 0, 'point'], [1, 2, 3, 4]], [['notes', 0, 'point', 1], null], [['notes', 0, 'point', 1], '2'], [['notes', 0, 'face'], -1], [['notes', 0, 'face'], 1.5],
    [['notes', 0, 'face'], 4294967296], [['notes', 0, 'triangle'], 4294967296], [['notes', 0, 'barycentric'], [1, 1, 1]], [['notes', 0, 'barycentric'], [1.5, -0.5, 0]],
    [['notes', 0, 'shell'], ' '], [['notes', 0, 'shell'], long(MOST.name + 1)], [['notes', 0, 'shell'], 'a\nb'], [['notes', 0, 'shell'], null], [['notes', 0, 'lens'], 'size'], [['notes', 0, 'camera'], null],
    [['notes', 0, 'camera', 'radius'], 0], [['notes', 0, 'camera', 'across'], [1, 0]], [['notes', 0, 'camera', 'up'], '+y'], [['notes', 0, 'camera', 'up'], '--y'], [['notes', 0, 'camera', 'fov'], 30],
    [['notes'], notes(MOST.notes + 1)], [['notes'], {}], [['decisions'], decisions(MOST.decisions + 1)], [['decisions'], null], [['decisions', 0, 'reason'], ''], [['decisions', 0, 'reason'], undefined],
    [['decisions', 0, 'reason'], long(MOST.reason + 1)], [['decisions', 1, 'reason'], 'x'], [['decisions', 1, 'reason'], null], [['decisions', 1, 'kind'], 'todo'], [['decisions', 1, 'finding'], FLIPPED.key],
    [['decisions', 1, 'finding'], ''], [['decisions', 1, 'finding'], long(MOST.name + 1)], [['file', 'sha256'], 'AB'.repeat(32)], [['file', 'sha256'], 'ab'], [['file', 'bytes'], 9007199254740992], [['file', 'bytes'], '7'],
    [['file', 'name'], ''], [['file', 'name'], 'a\nb'], [['file', 'folder'], 'x'], [['file'], undefined], [['sender'], ''], [['sender'], null], [['sender'], long(MOST.sender + 1)], [['sender'], 'a\tb'],
    [['since', 'new'], -1], [['since', 'new'], undefined], [['since', 'more'], 1], [['since'], null], [['camera'], null], [['camera', 'eye'], [1, 2]], [['camera', 'radius'], -1], [['lens'], 'rainbow'], [['lens'], null],
    [['finding'], null], [['finding'], 'a\nb'], [['note'], 1], [['grid', 'cell'], 15], [['grid', 'cell'], 257], [['grid', 'cell'], 64.5], [['grid', 'words'], ''], [['grid', 'words'], long(MOST.words + 1)],
    [['grid', 'words_px'], 7.9], [['grid', 'words_px'], 513], [['grid', 'wordsPx'], 96], [['grid'], null], [['brief'], null], [['brief'], []], [['extra'], 1],
  ].map(([path, value]) => changed(path, value)),
  // What a reader that depends on the order of keys would accept.
  changed(['grid'], []), changed(['since'], [2, 0, 1]), changed(['camera'], [EYE.eye, EYE.target, 1, [1, 1], 'y']), changed(['file'], Object.values(FILE)),
  changed(['decisions', 1], ['tilt-1', 'to-fix']), changed(['notes', 0, 'camera'], [EYE.eye, EYE.target, 1, [1, 1], 'y']), changed(['decisions', 1, 'kind'], { 'to-fix': null }),
  written('"finding":"flipped-2",', '"note":0,'), written('"finding":"flipped-2",', '"note":3,'), written('"finding":"flipped-2",', '"note":1.5,'),
  written('"face":3', '"face":1e999'), written('"face":3', '"face":NaN'), written('"sender":"Zoë"', '"sender":"\\ud800"'), written('"text":"x"', '"__proto__":{},"text":"x"'),
];

test('both accept these', { timeout: 120_000 }, async (t) => {
  assert.equal(await both(t, TAKEN), TAKEN.length);
  assert.equal(await both(t, [written('"finding":"flipped-2",', '"note":2,')]), 1);
});

test('both refuse these', { timeout: 120_000 }, async (t) => {
  assert.equal(await both(t, REFUSED), 0);
});

test('both upgrade version 1 to the same review', { timeout: 120_000 }, async (t) => {
  const [text, second] = ['version-1', 'version-1-as-2'].map((name) => readFileSync(new URL(`../reviews/${name}.json`, import.meta.url), 'utf8'));
  const first = JSON.parse(text);
  const own = { ...first, file: FILE, brief: { ...first.brief, emphasis: {} } };
  const decided = (finding, kind = 'meant') => JSON.stringify({ ...own, decisions: [{ finding, kind, ...(kind === 'meant' && { reason: 'x' }) }] });
  const ids = ['turned-over-1', 'turned-over-0', 'flipped-2', 'lettering-2', 'letterings-2', 'emphasis', 'size', 'constructor', 'constructor-1', '-1', 'a-shell-1', 'turned-over-9'];
  const reviews = [text, second, JSON.stringify(own), ...ids.map((id) => decided(id)), decided('turned-over-1', 'todo')];
  assert.equal(await both(t, reviews), reviews.length);
  assert.equal(await both(t, [decided('turned-over-1', 'constructor'), decided('turned-over-1', 'later'), JSON.stringify({ ...own, sender: 'Zoë' }), JSON.stringify({ ...own, lens: 'toString' })]), 0);
});

/** What is put in the place of something else. */
const ODD = ['', ' ', 'x', 'grid', '-x', 'intended', 'to-fix', FLIPPED.key, 0, -0, 1, 2, 0.5, 1e300, -1, null, true, [], {}, [0, 0, 1], [1, 1], FULL.notes, FULL.decisions, EYE];

test('random mutations', { timeout: 120_000 }, async (t) => {
  const next = random(4);
  const pick = (values) => values[Math.floor(next() * values.length)];
  const reviews = Array.from({ length: 160 }, () => {
    const copy = structuredClone(FULL);
    for (let faults = 1 + Math.floor(next() * 2); faults > 0; faults -= 1) {
      let at = copy;
      let key = pick(Object.keys(at).filter((name) => name !== 'brief' && name !== 'schema'));
      while (at[key] && typeof at[key] === 'object' && Object.keys(at[key]).length > 0 && next() < 0.8) [at, key] = [at[key], pick(Object.keys(at[key]))];
      const way = next();
      if (way < 0.2 && !Array.isArray(at)) delete at[key];
      else if (way < 0.3 && !Array.isArray(at)) at[pick(['reason', 'uv', 'camera', 'lens', 'shell', 'note', 'words'])] = structuredClone(pick(ODD));
      else at[key] = structuredClone(pick(ODD));
    }
    return JSON.stringify(copy);
  });
  const taken = await both(t, reviews);
  assert.ok(taken > 10 && taken < 150, `${taken} accepted`);
});
