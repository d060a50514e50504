// Compares a report of the page with the command's: every number, every text.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { ROOT } from './harness.mjs';

/** How far a number of the page may be from the command's, as a share of it. */
const RELATIVE_TOLERANCE = 1e-6;

/** Only the command knows the file's path. */
const OF_THE_COMMAND = new Set(['.path', '.file.name']);

/** The report of `gridproof check --json`; its exit status is the verdict, not a failure. */
export function reportOfCommand(file, more = []) {
  const command = process.env.GRIDPROOF_COMMAND;
  const [program, first] = command ? [command, []] : ['cargo', ['run', '--quiet', '--']];
  const ran = spawnSync(program, [...first, 'check', '--json', ...more, file], { cwd: ROOT, encoding: 'utf8', maxBuffer: 2 ** 28 });
  assert.ok(ran.stdout.length > 0, `check --json wrote nothing (status ${ran.status}): ${ran.stderr}`);
  return JSON.parse(ran.stdout);
}

/** Paths at which `page` differs from `command`. */
export function differences(page, command, path = '') {
  if (typeof page === 'number' && typeof command === 'number') {
    const scale = Math.max(Math.abs(page), Math.abs(command));
    return Math.abs(page - command) <= RELATIVE_TOLERANCE * scale ? [] : [`${path}: ${page} on the page, ${command} from the command`];
  }
  if (page && command && typeof page === 'object' && typeof command === 'object' && Array.isArray(page) === Array.isArray(command)) {
    const keys = new Set([...Object.keys(page), ...Object.keys(command)]);
    return [...keys]
      .filter((key) => !OF_THE_COMMAND.has(`${path}.${key}`))
      .flatMap((key) => differences(page[key], command[key], `${path}.${key}`));
  }
  // A missing member and one that is null are equal.
  return (page ?? null) === (command ?? null) ? [] : [`${path}: ${JSON.stringify(page)} on the page, ${JSON.stringify(command)} from the command`];
}

export function countNumbers(value) {
  if (typeof value === 'number') return 1;
  return value && typeof value === 'object' ? Object.values(value).reduce((sum, member) => sum + countNumbers(member), 0) : 0;
}
