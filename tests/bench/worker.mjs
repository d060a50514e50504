// One reading and one whole report, timed. The same calls as www/worker.js makes.
import init, { Session } from '/site/wasm/gridproof.js';

self.onmessage = async ({ data: blob }) => {
  const { memory } = await init();
  const start = performance.now();
  const session = new Session(blob.size, {});
  const chunks = blob.stream().getReader();
  for (let next = await chunks.read(); !next.done; next = await chunks.read()) session.feed(next.value);
  const fed = performance.now();
  session.finish();
  const read = performance.now();
  for (let stage = 0; session.measure(stage) !== undefined; stage += 1);
  session.report();
  const reported = performance.now();
  const mesh = session.mesh();
  const triangles = session.triangles();
  const lines = session.lines();
  self.postMessage({ fed: fed - start, read: read - start, report: reported - start, memory: memory.buffer.byteLength, mesh, triangles, lines });
};
