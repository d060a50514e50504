/**
 * A worker of a class: reads and measures one file after another, by the module that also draws where that is asked for,
 * and keeps none of them.
 * Messages are described in messages.js.
 *
 * @import {ClassOrder, ClassSource, Engine, FromClass, ToClass} from "./messages.js"
 * @import {ReportSession} from "./worker-report.js"
 */

import { resultOf } from "./class-table.js";
import { failureFrom } from "./worker-failure.js";

const GLUE = new URL("../wasm/gridproof.js", import.meta.url).href;
const DRAWING_GLUE = new URL("../wasm/gridproof_report.js", import.meta.url).href;

/** A row's picture, px: twice the place it has on the page, for sharp screens. */
const [WIDTH, HEIGHT] = [192, 144];
/** Read in one go: most files of a class are smaller, and each further piece is waited for. */
const SLICE_BYTES = 2 ** 22;
/** A module's memory never shrinks; beyond this a worker is better replaced, bytes. */
const HEAVY_BYTES = 2 ** 28;

/** @type {Promise<{engine: Engine, memory: WebAssembly.Memory}> | null} */
let started = null;

/** @param {FromClass} message */
function post(message) {
  self.postMessage(message);
}

/**
 * @param {WebAssembly.Module} module
 * @param {boolean} draws
 */
async function start(module, draws) {
  const engine = await import(draws ? DRAWING_GLUE : GLUE);
  const { memory } = await engine.default({ module_or_path: module });
  return { engine, memory };
}

/** @param {File} file @param {number} at */
async function slice(file, at) {
  return new Uint8Array(await file.slice(at, at + SLICE_BYTES).arrayBuffer());
}

/**
 * @param {ClassSource} source
 * @param {Promise<Uint8Array> | null} first its beginning
 * @param {(chunk: Uint8Array) => void} feed
 */
async function read(source, first, feed) {
  if (source.failure) throw source.failure;
  if ("file" in source) {
    for (let at = 0; at < source.bytes; at += SLICE_BYTES) feed(await (at === 0 && first ? first : slice(source.file, at)));
    return;
  }
  // The reader of zips is loaded where there is one.
  const { inflate } = await import("./worker-unzip.js");
  await inflate(source, feed);
}

/**
 * @param {ClassOrder} order
 * @param {Promise<Uint8Array> | null} first of its file
 * @param {Engine} engine
 */
async function serve({ what, id, source, brief, whole, picture }, first, engine) {
  const session = /** @type {ReportSession} */ (new engine.Session(source.bytes, brief));
  const digest = what === "report" ? new engine.Digest() : null;
  try {
    await read(source, first, (chunk) => {
      session.feed(chunk);
      digest?.update(chunk);
    });
    session.finish();
    for (let stage = 0; whole ? engine.Session.stage_name(stage) : engine.Session.stage_name(stage + 1); stage += 1) session.measure(stage);
    session.set_file(source.name, source.bytes, digest?.finish() ?? "");
    if (what === "report") {
      session.report();
      const { makeBlob } = await import("./worker-save.js");
      const task = { session, engine, pictured: async () => session, tell: () => {}, stopped: () => false };
      post({ type: "report", id, blob: await makeBlob({ what: "report" }, task) });
      return;
    }
    post({ type: "row", id, result: resultOf(session.report_in_short()), isWhole: whole });
    if (!whole || !picture) return;
    const { png } = await import("./worker-save.js");
    const rgba = session.stage_picture(WIDTH, HEIGHT, new Float64Array(), "grid", true, new Uint32Array());
    post({ type: "picture", id, blob: await png(rgba, WIDTH, HEIGHT) });
  } finally {
    try {
      session.free();
    } catch {
      // After a trap nothing can be freed; the worker is replaced.
    }
  }
}

/**
 * @param {ClassOrder} order
 * @param {Promise<Uint8Array> | null} first
 */
async function take(order, first) {
  let bytes = 0;
  let trapped = false;
  try {
    if (!started) return;
    const { engine, memory } = await started;
    try {
      await serve(order, first, engine);
    } finally {
      bytes = memory.buffer.byteLength;
    }
  } catch (error) {
    trapped = error instanceof WebAssembly.RuntimeError;
    post({ type: "failed", id: order.id, failure: failureFrom(error, bytes) });
  }
  // After a trap the module's memory cannot be trusted.
  post({ type: "done", id: order.id, heavy: trapped || bytes > HEAVY_BYTES });
}

/** The order before. @type {Promise<void>} */
let before = Promise.resolve();

self.addEventListener("message", (/** @type {MessageEvent<ToClass>} */ { data }) => {
  if (data.type === "start") {
    started = start(data.module, data.draws);
    // Told with the first order.
    started.catch(() => {});
    return;
  }
  // Fetched while another file is measured.
  const first = "file" in data.source && !data.source.failure ? slice(data.source.file, 0) : null;
  first?.catch(() => {});
  before = before.then(() => take(data, first));
});
