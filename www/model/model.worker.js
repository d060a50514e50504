/**
 * The worker's side: streams one file into the reader, or unfolds a link, hands over what can be drawn, measures stage by stage, and
 * answers probes in between. Another brief measures again only what is stale, a review nothing. Messages are described in core/messages.js.
 *
 * The newest brief is given to `set_brief` before each stage, and the first stage that it names comes next, so that a
 * change in the middle of measuring costs no more than what it makes stale.
 *
 * @import {AboutFile, Ask, AskMessage, Brief, BriefMessage, Comparison, Engine, FromWorker, GivenReview, Histograms, LineBuffers, OpenMessage, PractiseMessage, ProbeMessage, ReviewMessage, SaveMessage, Session, Source, ToWorker} from "../core/messages.js"
 */

import "../base/life.worker.js";
import { loadGlue, startEngine } from "../core/engine.js";
import { hexadecimal } from "../base/format.js";
import { pause } from "../base/pause.js";
import { givePictures } from "./libraries.worker.js";
import { placesOf } from "./notes.worker.js";
import { failureFrom } from "../core/failure.worker.js";

/** What the lenses show of a model, as the module's `stage_shows` says it. */
const [TRIANGLES, LINES] = /** @type {const} */ ([1, 2]);

/** Least time between two progress messages, ms: three frames, so that a bar moves and the page is left alone. */
const PROGRESS_EVERY_MS = 50;

/** @type {Session | null} */
let session = null;
/** The sheet that is shown, by its place in the report's list. */
let sheet = 0;
/** What the model is held to; another one may come at any time. @type {Brief} */
let brief = {};
/** What is decided and noted. @type {GivenReview} */
let review = { notes: [], places: new Float64Array(), decisions: [] };
/** How many briefs and reviews came after the first. */
let briefs = 0;
/** The brief under which the page last heard what the lenses show. @type {Brief | null} */
let shown = null;
/** Whether a file is being read, measured or judged; whoever does it looks for another brief after each stage. */
let busy = false;
/** @type {Engine | null} */
let engine = null;
/** Where the model came from, and its file. @type {{source: Source, about: AboutFile} | null} */
let origin = null;
/** The sphere around the model. @type {{centre: [number, number, number], radius: number}} */
let sphere = { centre: [0, 0, 0], radius: 0 };
/** What is being saved for somebody who still waits. @type {number | null} */
let saving = null;
/** @type {WebAssembly.Memory | null} */
let memory = null;

/**
 * @param {FromWorker} message
 * @param {Transferable[]} [transfer]
 */
function post(message, transfer = []) {
  self.postMessage(message, { transfer });
}

/** @param {LineBuffers} lines */
function lineBuffers(lines) {
  return [lines.stage.buffer, lines.sheet.buffer, lines.sheet_shell.buffer, lines.stage_shell.buffer];
}

/** Files up to this many bytes are digested by the browser in one piece; larger ones by the module in a stream. */
const DIGEST_WHOLE_BYTES = 2 ** 28;

/**
 * SHA-256 of the file, while the module measures. Browsers offer theirs to secure pages only.
 * @param {File} file
 * @param {Engine} engine
 */
async function digestOf(file, engine) {
  if (globalThis.crypto?.subtle && file.size <= DIGEST_WHOLE_BYTES) {
    return hexadecimal(new Uint8Array(await crypto.subtle.digest("SHA-256", await file.arrayBuffer())));
  }
  const digest = new engine.Digest();
  const chunks = file.stream().getReader();
  for (let next = await chunks.read(); !next.done; next = await chunks.read()) digest.update(next.value);
  return digest.finish();
}

/**
 * @param {File} file
 * @param {Session} session
 * @param {Engine} engine
 * @returns {Promise<{digest: Promise<string>}>} read to its end; the digest comes later
 */
async function read(file, session, engine) {
  let bytes = 0;
  let told = performance.now();
  const chunks = file.stream().getReader();
  for (;;) {
    const { done, value } = await chunks.read();
    if (done) break;
    session.feed(value);
    bytes += value.byteLength;
    const now = performance.now();
    if (now - told >= PROGRESS_EVERY_MS) {
      told = now;
      post({ type: "progress", bytes, total: file.size });
    }
  }
  post({ type: "progress", bytes, total: file.size });
  const digest = digestOf(file, engine);
  // Its failure is told where it is waited for, should nothing else fail before.
  digest.catch(() => {});
  post({ type: "stage", name: "joining faces" });
  session.finish();
  return { digest };
}

/** @param {PractiseMessage} order */
async function practise({ module }) {
  const { practise: run } = await import("./practice.worker.js");
  const started = await startEngine(module);
  await run(started.engine, { rounds: 4, seams: true, tell: (model) => model.report() }, () => busy);
}

/** @param {OpenMessage} order */
async function open({ module, source, brief: first }) {
  busy = true;
  brief = first;
  if ("file" in source) post({ type: "progress", bytes: 0, total: source.file.size });
  ({ engine, memory } = await startEngine(module));
  const reading = new engine.Session("file" in source ? source.file.size : 0, brief);
  /** @type {Promise<string> | null} */
  let digest = null;
  if ("file" in source) ({ digest } = await read(source.file, reading, engine));
  else post({ type: "carried", review: reading.open_link(source.link), file: reading.file() });

  await givePictures(reading, source);
  const mesh = reading.mesh();
  const triangles = reading.triangles();
  const lines = reading.lines();
  const summary = reading.summary();
  session = reading;
  sphere = { centre: mesh.centre, radius: mesh.radius };
  post({ type: "mesh", mesh, summary, triangles, lines }, [
    ...new Set([mesh.position.buffer, mesh.uv.buffer, mesh.normal.buffer, mesh.materials.buffer, triangles.buffer, ...lineBuffers(lines)]),
  ]);

  await measure(engine, reading);
  post({ type: "stage", name: "writing the report" });
  await pause();
  if ("file" in source && digest) reading.set_file(source.file.name, source.file.size, await digest);
  origin = { source, about: reading.file() };
  await judge(engine, reading);
}

/**
 * Takes the stages that the active brief asks for, all of them at first.
 * @param {Engine} engine
 * @param {Session} session
 */
async function measure(engine, session) {
  let untold = 0;
  for (let [stage, ...later] = session.set_brief(brief); stage !== undefined; [stage, ...later] = session.set_brief(brief)) {
    post({ type: "stage", name: engine.Session.stage_name(stage) ?? "" });
    await pause();
    session.measure(stage);
    untold |= engine.Session.stage_shows(stage);
    // Of a large model it takes as long as a stage: once is enough.
    const settled = later.reduce((left, next) => left & ~engine.Session.stage_shows(next), untold);
    tellMeasured(session, settled);
    untold &= ~settled;
    await pause();
  }
}

/**
 * Measures what is stale and tells the verdict.
 * @param {Engine} engine
 * @param {Session} session
 */
async function judge(engine, session) {
  busy = true;
  await measure(engine, session);
  if (shown !== brief) tellMeasured(session, TRIANGLES);
  session.set_review(review.notes, review.places, review.decisions);
  post({ type: "report", report: session.report(), shells: session.shells(), areas: session.areas(), briefs });
  busy = false;
}

/** @param {BriefMessage} order */
async function rebrief(order) {
  brief = order.brief;
  briefs += 1;
  if (engine && session && !busy) await judge(engine, session);
}

/** @param {number} place of the sheet in the report's list */
function showSheet(place) {
  sheet = place;
  session?.set_sheet(sheet);
  // What is being measured tells what it shows itself.
  if (session && !busy) tellMeasured(session, TRIANGLES | LINES);
}

/** @param {ReviewMessage} order */
async function rereview(order) {
  review = order.review;
  briefs += 1;
  if (engine && session && !busy) await judge(engine, session);
}

/** @param {AskMessage} order */
async function answer({ id, ask }) {
  if (!session) throw new Error("There is no model to ask about.");
  if (ask.what === "compare") post({ type: "answer", id, answer: await compared(ask) });
  else if (ask.what === "places") post({ type: "answer", id, answer: placesOf(session, ask, sphere) });
  else post({ type: "answer", id, answer: session.hidden(ask.eye[0] ?? 0, ask.eye[1] ?? 0, ask.eye[2] ?? 0, ask.points) });
}

/**
 * What became of the findings of a former version.
 * @param {Extract<Ask, {what: "compare"}>} ask
 * @returns {Promise<Comparison | null>} null where what compares cannot be loaded
 */
async function compared({ previous, newer }) {
  try {
    const { reportEngine } = await import("./report.worker.js");
    return (await reportEngine()).compare(previous, newer);
  } catch (error) {
    console.warn("Gridproof could not compare:", error);
    return null;
  }
}

/**
 * @param {Session} session
 * @param {number} changed what the lenses show otherwise, as `stage_shows` has it
 */
function tellMeasured(session, changed) {
  if (changed === 0) return;
  const triangles = changed & TRIANGLES ? session.triangles() : null;
  const lines = changed & LINES ? session.lines() : null;
  /** @type {Partial<Histograms>} */
  const histograms = {
    ...(triangles ? { stretch: session.histogram("stretch"), density: session.histogram("density") } : {}),
    ...(lines ? { seams: session.histogram("seams") } : {}),
  };
  if (triangles) shown = brief;
  post({ type: "measured", triangles, histograms, lines }, [...(triangles ? [triangles.buffer] : []), ...(lines ? lineBuffers(lines) : [])]);
}

/** @param {ProbeMessage} order */
function probe(order) {
  let found;
  if (session && "ray" in order) {
    const [ox, oy, oz, dx, dy, dz] = /** @type {[number, number, number, number, number, number]} */ (order.ray);
    found = session.probe_ray(ox, oy, oz, dx, dy, dz);
  } else if (session && "uv" in order) {
    const [u, v] = /** @type {[number, number]} */ (order.uv);
    found = session.probe_uv(u, v);
  }
  post({ type: "probed", probe: found ?? null });
}

/** @param {SaveMessage} message */
async function save(message) {
  if (message.type === "leave") {
    if (saving === message.id) saving = null;
    return;
  }
  const { id, order } = message;
  saving = id;
  try {
    if (!session || !engine || !origin) throw new Error("There is no model to save anything of.");
    const tell = (/** @type {number} */ done, /** @type {number} */ of) => post({ type: "saving", id, done, of });
    const given = origin;
    const pictured = async () => (await import("./report.worker.js")).reportSession({ ...given, brief, review });
    const { makeBlob } = await import("./save.worker.js");
    post({ type: "saved", id, blob: await makeBlob(order, { session, pictured, engine, tell, stopped: () => saving !== id }) });
  } catch (error) {
    if (saving === id) post({ type: "unsaved", id, message: failureFrom(error, memory).message });
  } finally {
    if (saving === id) saving = null;
  }
}

// Whether it failed is told with the first model.
loadGlue().catch(() => {});
self.addEventListener("message", async (/** @type {MessageEvent<ToWorker>} */ { data }) => {
  try {
    if (data.type === "open") await open(data);
    else if (data.type === "practise") await practise(data).catch(() => {});
    else if (data.type === "brief") await rebrief(data);
    else if (data.type === "review") await rereview(data);
    else if (data.type === "sheet") showSheet(data.sheet);
    else if (data.type === "ask") await answer(data);
    else if (data.type === "probe") probe(data);
    else await save(data);
  } catch (error) {
    post({ type: "failed", failure: failureFrom(error, memory) });
  }
});
