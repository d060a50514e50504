/**
 * A worker of a class: reads and measures one file after another.
 * Messages are described in core/messages.js.
 *
 * Verdict and picture of each file come first, in a first pass over the class, then the seams, which take twice as long as
 * everything before and rarely change the verdict. For the seams a file is read once more, and only what they need is
 * measured. Keeping all models until then gave the seams a tenth sooner and rows with their pictures 6 % later, for 3.5 MB
 * of memory a lantern.
 * Another brief therefore measures a class again, and only while its table is shown. (Times: `node tests/bench/class.mjs`.)
 *
 * @import {ClassOrder, ClassSource, Digest, Engine, FromClass, Session, ToClass} from "../core/messages.js"
 * @import {ReportSession} from "../model/report.worker.js"
 */

import "../base/life.worker.js";
import { resultOf } from "../findings/table.js";
import { hexadecimal } from "../base/format.js";
import { failureFrom } from "../core/failure.worker.js";

const GLUE = new URL("../../wasm/gridproof.js", import.meta.url).href;
const REPORT_GLUE = new URL("../../wasm/gridproof_report.js", import.meta.url).href;

/** The place of a row's picture on the page, CSS px. */
const [WIDTH, HEIGHT] = [96, 72];
/** Chunk size: most files of a class are smaller, and each further chunk is a wait. */
const SLICE_BYTES = 2 ** 22;
/** A module's memory never shrinks; beyond this a worker is replaced, bytes. */
const HEAVY_BYTES = 2 ** 28;

/** @type {Promise<{engine: Engine, memory: WebAssembly.Memory}> | null} */
let started = null;
/** Device px a CSS px, 1 to 2. */
let pixelRatio = 1;
/** Whether any order has arrived. */
let ordered = false;

/** @param {FromClass} message */
function post(message) {
  self.postMessage(message);
}

/**
 * @param {WebAssembly.Module} module
 * @param {boolean} reports
 */
async function start(module, reports) {
  /** @type {Engine} */
  const engine = await import(reports ? REPORT_GLUE : GLUE);
  const { memory } = await engine.default({ module_or_path: module });
  return { engine, memory };
}

/** Warm-up while the files are being chosen. @param {Promise<{engine: Engine}>} starting */
async function practise(starting) {
  const { practise: run } = await import("../model/practice.worker.js");
  const { engine } = await starting;
  const tell = (/** @type {Session} */ session) => {
    session.report_in_short();
    pictureOf(session);
  };
  await run(engine, { rounds: 12, seams: false, tell }, () => ordered);
}

/** @param {File} file @param {number} at */
async function slice(file, at) {
  const part = at === 0 && file.size <= SLICE_BYTES ? file : file.slice(at, at + SLICE_BYTES);
  return new Uint8Array(await part.arrayBuffer());
}

/**
 * @param {ClassSource} source
 * @param {Promise<Uint8Array> | null} first its beginning
 * @param {(chunk: Uint8Array) => void} feed
 */
async function read(source, first, feed) {
  if (source.failure) throw source.failure;
  if ("file" in source) {
    for (let at = 0; at < source.bytes; at += SLICE_BYTES) {
      const chunk = await (at === 0 && first ? first : slice(source.file, at));
      feed(chunk);
      // Released at once where the browser can: reused memory takes a quarter less time to fill.
      /** @type {ArrayBuffer} */ (chunk.buffer).transfer?.(0);
    }
    return;
  }
  // The zip reader is only loaded for zips.
  const { inflate } = await import("../open/unzip.worker.js");
  await inflate(source, feed);
}

/**
 * A library as a file; none where it cannot be taken out of its zip.
 * @param {ClassSource} source
 */
async function fileOf(source) {
  if ("file" in source) return [source.file];
  /** @type {BlobPart[]} */
  const parts = [];
  try {
    await read(source, null, (chunk) => void parts.push(chunk.slice()));
  } catch {
    return [];
  }
  return [new File(parts, source.name)];
}

/**
 * The stages of an order. The last one, the seams, takes twice as long as all before and needs only the first of them.
 * @param {ClassOrder} order
 * @param {Engine} engine
 */
function stagesOf({ what, whole }, engine) {
  const all = [];
  while (engine.Session.stage_name(all.length)) all.push(all.length);
  if (what === "seams") return [...all.slice(0, 1), ...all.slice(-1)];
  return whole ? all : all.slice(0, -1);
}

/** @typedef {Digest | {finish: () => Promise<string>}} Digested */

/**
 * The SHA-256 of a file so far. A single chunk is left to the browser, which digests it in parallel to the measuring.
 * @param {Uint8Array} chunk
 * @param {number} bytes of the whole file
 * @param {Digested | null} before of the previous chunks
 * @param {Engine} engine
 * @returns {Digested}
 */
function digested(chunk, bytes, before, engine) {
  if (chunk.length === bytes && crypto.subtle) {
    const whole = crypto.subtle.digest("SHA-256", /** @type {Uint8Array<ArrayBuffer>} */ (chunk));
    return { finish: async () => hexadecimal(new Uint8Array(await whole)) };
  }
  const known = before && "update" in before ? before : new engine.Digest();
  known.update(chunk);
  return known;
}

/**
 * @param {ClassOrder} order
 * @param {Promise<Uint8Array> | null} first of its file
 * @param {Engine} engine
 * @param {Session} session
 */
async function measure(order, first, engine, session) {
  const { source, whole, written } = order;
  /** @type {Digested | null} */
  let digest = null;
  await read(source, first, (chunk) => {
    session.feed(chunk);
    if (whole || written.length > 0) digest = digested(chunk, source.bytes, digest, engine);
  });
  session.finish();
  if (source.libraries?.length) {
    const { givePictures } = await import("../model/libraries.worker.js");
    const libraries = await Promise.all(source.libraries.map(fileOf));
    await givePictures(session, { file: new File([], source.name), libraries: libraries.flat(), own: source.own ?? null });
  }
  for (const { corners, uvs } of order.plan ?? []) session.edit(corners, uvs);
  for (const stage of stagesOf(order, engine)) session.measure(stage);
  const sha256 = (await /** @type {{finish: () => string | Promise<string>} | null} */ (digest)?.finish()) ?? "";
  session.set_file(source.name, source.bytes, sha256);
  const about = written.find((entry) => entry.sha256 === sha256);
  if (about) session.set_review(about.notes, about.places, about.decisions);
  return sha256;
}

/** @param {Session} session */
function pictureOf(session) {
  const [width, height] = [Math.round(WIDTH * pixelRatio), Math.round(HEIGHT * pixelRatio)];
  return new ImageData(new Uint8ClampedArray(session.row_picture(width, height)), width);
}

/**
 * @param {ClassOrder} order
 * @param {Promise<Uint8Array> | null} first of its file
 * @param {Engine} engine
 */
async function serve(order, first, engine) {
  const { what, id, source, brief, whole, pictured } = order;
  const session = new engine.Session(source.bytes, brief);
  try {
    const sha256 = await measure(order, first, engine, session);
    if (what === "report") {
      session.report();
      const { makeBlob } = await import("../model/save.worker.js");
      const drawn = /** @type {ReportSession} */ (session);
      const task = { session, engine, pictured: async () => drawn, tell: () => {}, stopped: () => false, isEdited: order.plan !== null };
      post({ type: "report", id, blob: await makeBlob({ what: "report" }, task) });
    } else {
      post({ type: what, id, result: resultOf(session.report_in_short()), isWhole: whole, sha256 });
      if (pictured) post({ type: "picture", id, image: pictureOf(session) });
    }
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
  /** @type {WebAssembly.Memory | null} */
  let memory = null;
  let trapped = false;
  try {
    if (!started) return;
    const { engine, memory: its } = await started;
    memory = its;
    await serve(order, first, engine);
  } catch (error) {
    trapped = error instanceof WebAssembly.RuntimeError;
    post({ type: "failed", id: order.id, failure: failureFrom(error, memory) });
  }
  // After a trap the module's memory cannot be trusted.
  post({ type: "done", id: order.id, heavy: trapped || (memory?.buffer.byteLength ?? 0) > HEAVY_BYTES });
}

/** The order before. @type {Promise<void>} */
let before = Promise.resolve();

self.addEventListener("message", (/** @type {MessageEvent<ToClass>} */ { data }) => {
  if (data.type === "start") {
    ({ pixelRatio } = data);
    started = start(data.module, data.reports);
    // Sent with the first order.
    started.catch(() => {});
    if (data.early) void practise(started).catch(() => {});
    return;
  }
  ordered = true;
  // Fetched while another file is measured.
  const first = "file" in data.source && !data.source.failure ? slice(data.source.file, 0) : null;
  first?.catch(() => {});
  before = before.then(() => take(data, first));
});
