// Each file's student, each student's uploads, and the teacher's entries: names, wrong uploads, rounds, grades.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { choose, classroom, MIRRORED, parseCsv, QUAD, rowsOf, saved, STRETCHED, studentsOf, zipOf } from './classes.mjs';
import { violations } from './everybody.mjs';

const { open, chooseFolderOf } = classroom();

test('each row’s student: by folder, first part of the name, whole name, or pattern; the rule is remembered', async (t) => {
  const { page } = await open(t);
  await chooseFolderOf(page, 'term', { 'lamp/group 10/a.obj': QUAD, 'lamp/group 9/b.obj': QUAD, 'lamp/Group 1/deep/c.obj': QUAD });
  assert.deepEqual(await studentsOf(page), ['Group 1', 'group 9', 'group 10'], 'the first folder that differs, in natural order');
  await chooseFolderOf(page, 'flat', { 'zoë meyer_lamp_2.obj': QUAD, 'Adam_lamp.obj': QUAD, 'bea_x.obj': QUAD });
  assert.deepEqual(await studentsOf(page), ['Adam', 'bea', 'zoë meyer']);
  await chooseFolderOf(page, 'whole', { 'lantern-1.obj': QUAD, 'lantern-2.obj': QUAD, 'lantern-10.obj': QUAD });
  assert.deepEqual(await studentsOf(page), ['lantern-1', 'lantern-2', 'lantern-10'], 'a part that all names share is no student');
  await choose(page, { 'w.zip': await zipOf({ 'w21_zoë-lamp.obj': QUAD, 'w21_adam-lamp.obj': MIRRORED }) });
  assert.deepEqual(await studentsOf(page), ['w21_adam', 'w21_zoë']);
  await page.locator('#class-students-open').click();
  await page.locator('#class-rule').selectOption('pattern');
  await page.locator('#class-pattern').fill('w21_{rest');
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#class-students-facts').innerText(), /has \{student\} in it, once/);
  await page.locator('#class-pattern').fill('w21_{student}-{rest}');
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual(await studentsOf(page), ['adam', 'zoë']);
  await page.locator('button.class-file').nth(1).click();
  await page.evaluate(() => window.gridproof.idle());
  assert.equal(await page.locator('#class-student').innerText(), 'zoë');
  assert.equal(await page.title(), 'zoë · w21_zoë-lamp.obj · Gridproof');
  await page.reload();
  await page.evaluate(() => window.gridproof.idle());
  await choose(page, { 'w.zip': await zipOf({ 'w21_zoë-lamp.obj': QUAD, 'w21_adam-lamp.obj': MIRRORED }) });
  assert.deepEqual(await studentsOf(page), ['adam', 'zoë'], 'kept with the class');
});

test('files saved from an open model have its student\'s name', async (t) => {
  const { page } = await open(t);
  await chooseFolderOf(page, 'named', { 'zoë/lamp.obj': QUAD, 'adam/lamp.obj': MIRRORED });
  await page.locator('button.class-file').first().click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#save-open').click();
  assert.equal(await page.locator('#save-name').innerText(), 'adam lamp report.html');
  await page.keyboard.press('Escape');
  await choose(page, { 'alone.obj': QUAD });
  await page.locator('#save-open').click();
  assert.equal(await page.locator('#save-name').innerText(), 'alone report.html', 'a file without a class has no student');
});

test('a wrong upload gets its own row, and a listed name without a file is missing', async (t) => {
  const { page, shot } = await open(t);
  const fbx = Buffer.concat([Buffer.from('Kaydara FBX Binary  \0\x1a\0', 'latin1'), Buffer.alloc(2000, 7)]);
  const png = Buffer.from('89504e470d0a1a0a0000000d49484452', 'hex');
  const files = {
    'adam/lamp.obj': QUAD, 'bea/lamp.fbx': fbx, 'bea/brass.png': png, 'cem/lamp.obj': '', 'dora/old.obj': QUAD, 'dora/new.obj': MIRRORED, 'eva/lamp.glb': Buffer.from('glTF\x02\0\0\0\xff\0', 'latin1'),
    'finn/shot.png': png, 'gus/lamp.7z': Buffer.from('377abcaf271c0004', 'hex'), 'hal/lamp.rar': Buffer.from('526172211a070100', 'hex'), 'ida/readme.txt': 'lamp is coming', 'textures/wood.jpg': 'x', 'jan/lamp.stl': 'solid lamp\nfacet normal 0 0 1\n', 'kim/lamp.zip': await zipOf({ 'lamp.fbx': fbx }), 'lea/lamp.fbx': '',
  };
  await chooseFolderOf(page, 'wrong', files);
  const told = async () => (await rowsOf(page)).map(({ student, verdict, worst, several }) => [student, verdict, several || worst]);
  const rows = await told();
  assert.deepEqual(rows.map(([student]) => student), ['adam', 'bea', 'cem', 'dora', 'dora', 'eva', 'finn', 'gus', 'hal', 'ida', 'jan', 'kim', 'lea']);
  const worst = Object.fromEntries(rows.map(([student, , text]) => [student, text]));
  assert.match(worst.bea, /^FBX, no OBJ .*By its first bytes this is an FBX scene/);
  assert.match(worst.cem, /^Empty file/);
  assert.equal(worst.dora, '2 OBJs: which?');
  assert.match(worst.eva, /^glTF, no OBJ .*glTF/);
  assert.match(worst.finn, /^PNG, no OBJ .*PNG picture/);
  assert.match(worst.gus, /^7z, no OBJ .*7z archive/);
  assert.match(worst.hal, /^RAR, no OBJ .*RAR archive/);
  assert.match(worst.ida, /^No OBJ/);
  assert.match(worst.jan, /^STL, no OBJ .*STL/);
  assert.match(worst.kim, /^FBX, no OBJ/);
  assert.match(worst.lea, /^Empty file/);
  assert.match(await page.locator('#class-lead').innerText(), /2\sother files passed over/);
  await page.locator('#class-students-open').click();
  await page.locator('#class-list').fill('Adam\nMeyer, Bea\nbea\nZoë Ångström\n\nDora\n');
  await page.evaluate(() => window.gridproof.idle());
  assert.match(await page.locator('#class-students-facts').innerText(), /Missing: 2 of 5 on the list/);
  assert.deepEqual((await told()).filter(([, verdict]) => verdict === 'Missing').map(([student]) => student), ['Meyer, Bea', 'Zoë Ångström']);
  assert.doesNotMatch(await page.locator('#class-rows tr', { hasText: 'On the list of students' }).first().innerText(), /\d\s?B\b/, 'no file, no size');
  await shot('class-wrong-uploads');
  const table = parseCsv((await saved(page, '#class-save-table')).bytes);
  assert.deepEqual(table.filter(({ upload }) => upload).map(({ student, upload, verdict }) => [student, upload, verdict]).filter(([student]) => /bea|cem|dora|Zoë/.test(student)), [
    ['bea', 'FBX, no OBJ', 'unreadable'], ['cem', 'Empty file', 'unreadable'], ['dora', '2 OBJs: which?', 'not ready'], ['dora', '2 OBJs: which?', 'ready'], ['Zoë Ångström', 'Missing', 'missing'],
  ]);
  await page.locator('#class-list').fill('Adam');
  await page.evaluate(() => window.gridproof.idle());
  assert.equal((await rowsOf(page)).filter(({ verdict }) => verdict === 'Missing').length, 0);
  assert.deepEqual(await violations(page), []);
});

test('libraries beside a model determine its sheets in the table and 3D view; another student\'s do not', async (t) => {
  const { page } = await open(t);
  const square = (material, z) => `usemtl ${material}\nv 0 0 ${z}\nv 1 0 ${z}\nv 1 1 ${z}\nv 0 1 ${z}\nvt .1 .1\nvt .9 .1\nvt .9 .9\nvt .1 .9\nf -4/-4 -3/-3 -2/-2 -1/-1\n`;
  const model = `mtllib two.mtl\n${square('brass', 0)}${square('glass', 5)}`;
  const library = 'newmtl brass\nmap_Kd brass.png\nnewmtl glass\nmap_Kd glass.png\n';
  const flat = { 'gus_lamp.obj': model.replace('two', 'gus'), 'hal_lamp.obj': model.replace('two', 'gone'), 'ida_lamp.obj': model.replace('two', 'gone'), 'gus.mtl': library, 'ida_lamp.mtl': library };
  const verdicts = async () => (await rowsOf(page)).map(({ student, verdict }) => [student, verdict]);
  /** Opens every row and returns its text. */
  const opened = async () => {
    const list = [];
    for (let at = 0; at < await page.locator('button.class-file').count(); at += 1) {
      await page.locator('button.class-file').nth(at).click();
      await page.evaluate(() => window.gridproof.idle());
      list.push(await page.locator('#verdict').innerText());
      await page.locator('#class-back').click();
    }
    return list;
  };
  for (const [files, expected] of [
    [{ 'adam/two.obj': model, 'adam/two.mtl': library, 'bea/two.obj': model }, [['adam', 'Ready'], ['bea', 'Have a look']]],
    [flat, [['gus', 'Ready'], ['hal', 'Have a look'], ['ida', 'Ready']]],
  ]) {
    await choose(page, { 'sheets.zip': await zipOf(files) });
    assert.deepEqual(await verdicts(), expected, 'in a zip');
    assert.deepEqual(await opened(), expected.map(([, verdict]) => verdict), 'opened from a zip');
    await chooseFolderOf(page, `sheets-${expected.length}`, files);
    assert.deepEqual(await verdicts(), expected, 'in a folder');
    assert.deepEqual(await opened(), expected.map(([, verdict]) => verdict), 'opened from a folder');
  }
});

test('a second round shows what is fixed, remaining and new against each student\'s previous upload', async (t) => {
  const { page } = await open(t);
  const since = async () => Object.fromEntries((await rowsOf(page)).map(({ student, since: text }) => [student, text]));
  await choose(page, { 'term.zip': await zipOf({ 'adam/lamp.obj': STRETCHED, 'bea/lamp.obj': QUAD, 'cem/lamp.obj': MIRRORED }) });
  assert.deepEqual(await since(), { adam: '', bea: '', cem: '' });
  await page.reload();
  await page.evaluate(() => window.gridproof.idle());
  // Shells and files have other names; the zip is the browser's second of that name.
  const second = { 'adam/lamp2.obj': QUAD, 'bea/lamp.obj': STRETCHED, 'cem/lamp.obj': MIRRORED.replace('vt 0.1', 'vt 0.12'), 'dora/lamp.obj': QUAD };
  await choose(page, { 'term (1).zip': await zipOf(second) });
  const expected = { adam: '2 fixed, 0 still there, 0 new', bea: '0 fixed, 0 still there, 2 new', cem: '0 fixed, 1 still there, 0 new', dora: '' };
  assert.deepEqual(await since(), expected);
  await choose(page, { 'term (1).zip': await zipOf(second) });
  assert.deepEqual(await since(), expected, 'the same uploads again are not a new round');
  const table = parseCsv((await saved(page, '#class-save-table')).bytes);
  assert.deepEqual(table.map((row) => [row.student, row.fixed, row.still_there, row.new]), [['adam', '2', '0', '0'], ['bea', '0', '0', '2'], ['cem', '0', '1', '0'], ['dora', '', '', '']]);
});

test('grade and comment are entered in the row or at the open model, stored and saved; seen, notes and decisions are counted', async (t) => {
  const { page, shot } = await open(t);
  const files = { 'adam/lamp.obj': QUAD, 'bea/lamp.obj': STRETCHED, 'cem/lamp.obj': MIRRORED };
  await chooseFolderOf(page, 'graded', files);
  const rows = page.locator('#class-rows > tr');
  await rows.nth(0).locator('[data-mark=grade]').fill('=1+1');
  await rows.nth(0).locator('[data-mark=comment]').fill('Good, "clean"');
  assert.ok(await page.locator('#class').isVisible(), 'typing opens nothing');
  await rows.nth(1).locator('button.class-file').click();
  await page.evaluate(() => window.gridproof.idle());
  await page.locator('#cards [data-finding]').first().click();
  await page.locator('[data-act=to-fix]').click();
  await page.locator('#class-marking summary').click();
  assert.match(await page.locator('#class-marking-note').innerText(), /Kept in this browser alone/);
  await page.locator('#class-grade').fill('-2');
  await page.locator('#class-comment').fill('@home: flip it');
  await shot('class-grade-open');
  await page.keyboard.press('Escape');
  await page.locator('#class-back').click();
  await page.evaluate(() => window.gridproof.idle());
  assert.deepEqual((await rowsOf(page)).map(({ student, notes, seen }) => [student, notes, seen]), [['adam', 'No notes', 'Not seen'], ['bea', '1 decision', 'Seen'], ['cem', 'No notes', 'Not seen']]);
  assert.equal(await rows.nth(1).locator('[data-mark=grade]').inputValue(), '-2');
  await page.reload();
  await page.evaluate(() => window.gridproof.idle());
  await chooseFolderOf(page, 'graded', { ...files, 'cem/lamp.obj': MIRRORED.replace('0.9', '0.8') });
  const table = parseCsv((await saved(page, '#class-save-table')).bytes);
  assert.deepEqual(table.map(({ student, grade, comment, seen, decisions }) => ({ student, grade, comment, seen, decisions })), [
    { student: 'adam', grade: "'=1+1", comment: 'Good, "clean"', seen: 'no', decisions: '0' },
    { student: 'bea', grade: '-2', comment: "'@home: flip it", seen: 'yes', decisions: '1' },
    { student: 'cem', grade: '', comment: '', seen: 'no', decisions: '0' },
  ]);
  assert.deepEqual(table.map(({ must_fix_findings: count }) => Number(count) > 0), [false, true, true]);
  await shot('class-graded');
});
