/**
 * A worker of a class: reads and measures one file after another. Models of which more will be asked it keeps while there is
 * room.
 * Messages are described in messages.js.
 *
 * @import {ClassOrder, ClassSource, Digest, Engine, FromClass, Session, ToClass} from "./messages.js"
 * @import {ReportSession} from "./worker-report.js"
 */

import { resultOf } from "./class-table.js";
import { failureFrom } from "./worker-failure.js";

const GLUE = new URL("../wasm/gridproof.js", import.meta.url).href;
const REPORT_GLUE = new URL("../wasm/gridproof_report.js", import.meta.url).href;

/** A row's picture, px: twice the place it has on the page, for sharp screens. */
const [WIDTH, HEIGHT] = [192, 144];
/** Read in one go: most files of a class are smaller, and each further piece is waited for. */
const SLICE_BYTES = 2 ** 22;
/** A module's memory never shrinks; beyond this a worker is better replaced, bytes. */
const HEAVY_BYTES = 2 ** 28;
/** Of the module's memory, with which a model is still kept for what will be asked next, bytes. */
const KEPT_BYTES = 2 ** 27;

/** @type {Promise<{engine: Engine, memory: WebAssembly.Memory}> | null} */
let started = null;
/** Read and measured but for the seams, by the numbers of their orders. @type {Map<number, Session>} */
const kept = new Map();

/** @param {FromClass} message */
function post(message) {
  self.postMessage(message);
}

/**
 * @param {WebAssembly.Module} module
 * @param {boolean} reports
 */
async function start(module, reports) {
  const engine = await import(reports ? REPORT_GLUE : GLUE);
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

/** The last stage: the seams take twice as long as all before, and are left to what asks for them. @param {Engine} engine */
function seamsOf(engine) {
  let last = 0;
  while (engine.Session.stage_name(last + 1)) last += 1;
  return last;
}

/**
 * @param {ClassOrder} order
 * @param {Promise<Uint8Array> | null} first of its file
 * @param {Engine} engine
 * @param {Session} session
 * @param {Digest | null} digest
 */
async function measure({ source }, first, engine, session, digest) {
  await read(source, first, (chunk) => {
    session.feed(chunk);
    digest?.update(chunk);
  });
  session.finish();
  for (let stage = 0; stage < seamsOf(engine); stage += 1) session.measure(stage);
  session.set_file(source.name, source.bytes, digest?.finish() ?? "");
}

/**
 * @param {ClassOrder} order
 * @param {Promise<Uint8Array> | null} first of its file
 * @param {Engine} engine
 * @param {WebAssembly.Memory} memory
 * @returns {Promise<boolean>} whether the model is kept
 */
async function serve(order, first, engine, memory) {
  const { what, id, source, brief, whole, more } = order;
  const former = kept.get(id);
  kept.delete(id);
  const session = former ?? new engine.Session(source.bytes, brief);
  let keeps = false;
  try {
    const digest = what === "report" ? new engine.Digest() : null;
    if (!former) await measure(order, first, engine, session, digest);
    if (what === "picture") {
      const { png } = await import("./worker-save.js");
      post({ type: "picture", id, blob: await png(session.row_picture(WIDTH, HEIGHT), WIDTH, HEIGHT) });
    } else if (what === "report") {
      session.measure(seamsOf(engine));
      session.report();
      const { makeBlob } = await import("./worker-save.js");
      const drawn = /** @type {ReportSession} */ (session);
      const task = { session, engine, pictured: async () => drawn, tell: () => {}, stopped: () => false };
      post({ type: "report", id, blob: await makeBlob({ what: "report" }, task) });
    } else {
      if (whole) session.measure(seamsOf(engine));
      post({ type: "row", id, result: resultOf(session.report_in_short()), isWhole: whole });
    }
    keeps = more && memory.buffer.byteLength < KEPT_BYTES;
    if (keeps) kept.set(id, session);
    return keeps;
  } finally {
    try {
      if (!keeps) session.free();
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
  let keeps = false;
  try {
    if (!started) return;
    const { engine, memory } = await started;
    try {
      keeps = await serve(order, first, engine, memory);
    } finally {
      bytes = memory.buffer.byteLength;
    }
  } catch (error) {
    trapped = error instanceof WebAssembly.RuntimeError;
    post({ type: "failed", id: order.id, failure: failureFrom(error, bytes) });
  }
  // After a trap the module's memory cannot be trusted.
  post({ type: "done", id: order.id, kept: keeps, heavy: trapped || bytes > HEAVY_BYTES });
}

/** The order before. @type {Promise<void>} */
let before = Promise.resolve();

self.addEventListener("message", (/** @type {MessageEvent<ToClass>} */ { data }) => {
  if (data.type === "start") {
    started = start(data.module, data.reports);
    // Told with the first order.
    started.catch(() => {});
    return;
  }
  // Fetched while another file is measured.
  const first = "file" in data.source && !data.source.failure && !kept.has(data.id) ? slice(data.source.file, 0) : null;
  first?.catch(() => {});
  before = before.then(() => take(data, first));
});
