// One reading and one whole report, timed. The same calls as www/model/model.worker.js makes.
import init, { Session } from '/site/wasm/gridproof.js';

self.onmessage = async ({ data: blob }) => {
  const { memory } = await init();
  const times = {};
  const start = performance.now();
  const session = new Session(blob.size, {});
  const chunks = blob.stream().getReader();
  for (let next = await chunks.read(); !next.done; next = await chunks.read()) session.feed(next.value);
  times.fed = performance.now() - start;
  session.finish();
  times.read = performance.now() - start;
  let name = Session.stage_name(0);
  for (let stage = 0; name !== undefined; stage += 1) {
    const began = performance.now();
    const next = session.measure(stage);
    times[`stage ${name}`] = performance.now() - began;
    name = next;
  }
  session.report();
  times.report = performance.now() - start;
  const mesh = session.mesh();
  const triangles = session.triangles();
  const lines = session.lines();
  self.postMessage({ times, memory: memory.buffer.byteLength, mesh, triangles, lines });
};
