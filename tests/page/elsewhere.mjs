// Another origin: a server with a few files, and the site built to allow it.

import { spawnSync } from 'node:child_process';
import { createServer } from 'node:http';
import { join } from 'node:path';
import { ROOT } from './harness.mjs';

/**
 * Serves `files` (path → {type, body}) on a port of its own, readable from everywhere (CORS).
 * @returns {Promise<{origin: string, asked: {path: string, headers: object}[], stop: () => void}>}
 */
export function serveElsewhere(files) {
  const asked = [];
  const server = createServer((request, response) => {
    const path = new URL(request.url, 'http://localhost').pathname;
    asked.push({ path, headers: request.headers });
    const file = files[path];
    response.writeHead(file ? 200 : 404, { 'content-type': file?.type ?? 'text/plain', 'access-control-allow-origin': '*', ...file?.headers });
    response.end(file?.body ?? 'not here');
  });
  return new Promise((resolve) => {
    server.listen(0, 'localhost', () => resolve({ origin: `http://localhost:${server.address().port}`, asked, stop: () => server.close() }));
  });
}

/** Builds a site with these arguments of `gridproof site` into a folder of that name below target/. */
export function buildSite(name, args) {
  const out = join(ROOT, 'target', name);
  const { GRIDPROOF_COMMAND: command } = process.env;
  const [program, first] = command ? [command, []] : ['cargo', ['run', '--quiet', '--']];
  const { status, stderr } = spawnSync(program, [...first, 'site', '--out', out, ...args], { cwd: ROOT, encoding: 'utf8' });
  if (status !== 0) throw new Error(`${program} site: ${stderr}`);
  return out;
}
