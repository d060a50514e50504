/**
 * The worker's side: streams one file into the reader, or decodes a link, sends what can be drawn, measures stage by stage, and
 * answers probes in between. Another brief or layout measures only stale parts again, a review nothing. Messages are described
 * in core/messages.js.
 *
 * The newest brief is passed to `set_brief` before each stage, and the first stage that it names comes next, so that a
 * change during measuring only costs what it makes stale. Steps are applied at once, between two stages.
 *
 * @import {AboutFile, Ask, AskMessage, Brief, BriefMessage, Comparison, Edit, Engine, FromWorker, GivenReview, Histograms, LineBuffers, OpenMessage, PractiseMessage, ProbeMessage, ReviewMessage, SaveMessage, Session, Source, StepMessage, ToWorker, Which} from "../core/messages.js"
 */

import "../base/life.worker.js";
import { loadGlue, startEngine } from "../core/engine.js";
import { hexadecimal } from "../base/format.js";
import { pause } from "../base/pause.js";
import { givePictures } from "./libraries.worker.js";
import { placesOf } from "./notes.worker.js";
import { failureFrom } from "../core/failure.worker.js";

/** What the lenses show of a model, from the module's `stage_shows`. */
const [TRIANGLES, LINES] = /** @type {const} */ ([1, 2]);

/** Least time between two progress messages, ms: three frames, smooth enough for a bar and cheap for the page. */
const PROGRESS_EVERY_MS = 50;

/** The model's id and the number of its steps. @type {Which} */
const here = { modelId: 0, revision: 0 };
/** @type {Session | null} */
let session = null;
/** The sheet that is shown, by its place in the report's list. */
let sheet = 0;
/** The model's brief; it may be replaced at any time. @type {Brief} */
let brief = {};
/** Decisions and notes, and the revision of the layout that they are about. @type {{given: GivenReview, revision: number}} */
let review = { given: { notes: [], places: new Float64Array(), decisions: [] }, revision: 0 };
/** How many briefs and reviews came after the first. */
let briefs = 0;
/** The brief of the lens data last sent to the page. @type {Brief | null} */
let shown = null;
/** Whether a file is being read, measured or judged; that loop checks for another brief after each stage. */
let busy = false;
/** @type {Engine | null} */
let engine = null;
/** Where the model came from, and its file. @type {{source: Source, about: AboutFile} | null} */
let origin = null;
/** Edit history, and how many edits are applied; the rest can be redone. @type {{edits: Edit[], applied: number}} */
const plan = { edits: [], applied: 0 };
/** The sphere around the model. @type {{centre: [number, number, number], radius: number}} */
let sphere = { centre: [0, 0, 0], radius: 0 };
/** Number of the running save, unless cancelled. @type {number | null} */
let saving = null;
/** @type {WebAssembly.Memory | null} */
let memory = null;

/**
 * @template {FromWorker} Message
 * @typedef {Message extends FromWorker ? Omit<Message, keyof Which> : never} About
 */

/**
 * @param {About<FromWorker>} message
 * @param {Transferable[]} [transfer]
 * @param {number} [revision] that it is about, if not the present one
 */
function post(message, transfer = [], revision = here.revision) {
  self.postMessage({ ...message, modelId: here.modelId, revision }, { transfer });
}

/** @param {LineBuffers} lines */
function lineBuffers(lines) {
  return [lines.stage.buffer, lines.sheet.buffer, lines.sheet_shell.buffer, lines.stage_shell.buffer];
}

/** Files up to this many bytes are digested by the browser in one piece; larger ones by the module in a stream. */
const DIGEST_WHOLE_BYTES = 2 ** 28;

/**
 * SHA-256 of the file, while the module measures. Browsers offer `crypto.subtle` to secure pages only.
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
 * @returns {Promise<{digest: Promise<string>}>} when it is read; the digest comes later
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
  // Its failure is reported where it is awaited, unless something else fails first.
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
async function open({ module, subject, undone, brief: first }) {
  const { source } = subject;
  busy = true;
  brief = first;
  [here.modelId = 0] = crypto.getRandomValues(new Uint32Array(1));
  post({ type: "opened" });
  if ("file" in source) post({ type: "progress", bytes: 0, total: source.file.size });
  ({ engine, memory } = await startEngine(module));
  const reading = new engine.Session("file" in source ? source.file.size : 0, brief);
  /** @type {Promise<string> | null} */
  let digest = null;
  if ("file" in source) ({ digest } = await read(source.file, reading, engine));
  else post({ type: "carried", review: reading.open_link(source.link), file: reading.file() });

  await givePictures(reading, source);
  takeAgain(reading, subject.plan ?? [], undone);
  const mesh = reading.mesh();
  const triangles = reading.triangles();
  const lines = reading.lines();
  const summary = reading.summary();
  session = reading;
  sphere = { centre: mesh.centre, radius: mesh.radius };
  post({ type: "mesh", mesh, summary, triangles, lines, undo: plan.applied, redo: plan.edits.length - plan.applied }, [
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
 * Runs the stages that the active brief needs, all of them at first.
 * @param {Engine} engine
 * @param {Session} session
 */
async function measure(engine, session) {
  let untold = 0;
  for (let [stage, ...later] = session.set_brief(brief); stage !== undefined; [stage, ...later] = session.set_brief(brief)) {
    post({ type: "stage", name: engine.Session.stage_name(stage) ?? "" });
    const { revision } = here;
    await pause();
    // A step may have made those before it stale.
    if (revision !== here.revision) continue;
    session.measure(stage);
    untold |= engine.Session.stage_shows(stage);
    // For a large model this takes as long as a stage: once is enough.
    const settled = later.reduce((left, next) => left & ~engine.Session.stage_shows(next), untold);
    tellMeasured(session, settled);
    untold &= ~settled;
    await pause();
  }
}

/**
 * Measures stale parts and sends the report.
 * @param {Engine} engine
 * @param {Session} session
 */
async function judge(engine, session) {
  busy = true;
  await measure(engine, session);
  if (shown !== brief) tellMeasured(session, TRIANGLES);
  const { notes, places, decisions } = review.given;
  session.set_review(notes, places, decisions, review.revision);
  const report = session.report();
  const followed = session.followed() ?? null;
  review = { given: followed ?? review.given, revision: here.revision };
  post({ type: "report", report, shells: session.shells(), areas: session.areas(), briefs, followed });
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
  // A running measurement sends its own lens data.
  if (session && !busy) tellMeasured(session, TRIANGLES | LINES);
}

/** @param {ReviewMessage & Which} order */
async function rereview(order) {
  review = { given: order.review, revision: order.revision };
  briefs += 1;
  if (engine && session && !busy) await judge(engine, session);
}

/**
 * Restores the layout and the edit history of a reopened model.
 * @param {Session} session
 * @param {readonly Edit[]} applied
 * @param {readonly Edit[]} undone
 */
function takeAgain(session, applied, undone) {
  for (const edit of [...applied, ...undone]) {
    session.edit(edit.corners, edit.uvs);
    plan.edits.push(edit);
  }
  for (const _ of undone) session.undo();
  plan.applied = applied.length;
  review.revision = here.revision = session.revision();
}

/** @param {StepMessage & Which} order */
async function step({ id, step: asked, revision }) {
  if (!engine || !session) return post({ type: "stepped", id, refusal: "The model is still being read. Try again when it is shown." });
  if (revision !== here.revision) return post({ type: "stepped", id, refusal: "The UVs have changed since. Look at them as they are now, and try again." });
  let refusal = "";
  try {
    refusal = take(session, asked);
  } catch (error) {
    if (!(error instanceof Error) || error instanceof WebAssembly.RuntimeError || error instanceof RangeError) throw error;
    refusal = error.message;
  }
  if (revision !== here.revision) {
    const { shells, faces_without_uv, ...uvs } = session.uvs();
    const [triangles, lines] = [session.triangles(), session.lines()];
    post({ type: "uvs", id, uvs, counts: { shells, faces_without_uv }, triangles, lines }, [uvs.uv.buffer, triangles.buffer, ...lineBuffers(lines)]);
  }
  post({ type: "stepped", id, refusal });
  if (revision !== here.revision && !busy) await judge(engine, session);
}

/**
 * @param {Session} session
 * @param {StepMessage["step"]} asked
 * @returns {string} why it was refused; empty if it was applied
 */
function take(session, asked) {
  if (asked.do === "apply") {
    if (!session.edit(asked.edit.corners, asked.edit.uvs)) return "";
    plan.edits.splice(plan.applied, Infinity, asked.edit);
    plan.applied += 1;
  } else if (!(asked.do === "undo" ? session.undo() : session.redo())) {
    const isLost = asked.do === "undo" ? plan.applied > 0 : plan.applied < plan.edits.length;
    return isLost
      ? `The layouts ${asked.do === "undo" ? "before this one" : "after this one"} took too much memory and were let go.`
      : `There is nothing to ${asked.do}.`;
  } else {
    plan.applied += asked.do === "undo" ? -1 : 1;
  }
  here.revision = session.revision();
  return "";
}

/** @param {AskMessage} order */
async function answer({ id, ask }) {
  const { revision } = here;
  if (!session) throw new Error("There is no model to ask about.");
  if (ask.what === "compare") post({ type: "answer", id, answer: await compared(ask) }, [], revision);
  else if (ask.what === "places") post({ type: "answer", id, answer: placesOf(session, ask, sphere) });
  else post({ type: "answer", id, answer: session.hidden(ask.eye[0] ?? 0, ask.eye[1] ?? 0, ask.eye[2] ?? 0, ask.points) });
}

/**
 * Compares with the findings of a previous version.
 * @param {Extract<Ask, {what: "compare"}>} ask
 * @returns {Promise<Comparison | null>} null if the module cannot be loaded
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
 * @param {number} changed the changed lens data, as in `stage_shows`
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
  const which = { ...here };
  saving = id;
  try {
    if (!session || !engine || !origin) throw new Error("There is no model to save anything of.");
    if (review.revision !== which.revision) throw new Error("The model is being measured again. Save it when that is done.");
    const tell = (/** @type {number} */ done, /** @type {number} */ of) => post({ type: "saving", id, done, of });
    const subject = { source: origin.source, plan: plan.applied > 0 ? plan.edits.slice(0, plan.applied) : null };
    const given = { which, subject, about: origin.about, brief, review: review.given };
    const pictured = async () => (await import("./report.worker.js")).reportSession(given);
    const { makeBlob } = await import("./save.worker.js");
    const isOther = () => here.revision !== which.revision;
    post({
      type: "saved",
      id,
      blob: await makeBlob(order, { session, pictured, engine, tell, stopped: () => saving !== id || isOther(), isEdited: subject.plan !== null }),
    });
  } catch (error) {
    const message = here.revision === which.revision ? failureFrom(error, memory).message : "The UVs were changed while they were being saved. Save again.";
    if (saving === id) post({ type: "unsaved", id, message });
  } finally {
    if (saving === id) saving = null;
  }
}

// A failure is reported with the first model.
loadGlue().catch(() => {});
self.addEventListener("message", async (/** @type {MessageEvent<ToWorker>} */ { data }) => {
  try {
    if (data.type === "open") await open(data);
    else if (data.type === "practise") await practise(data).catch(() => {});
    else if (data.modelId !== here.modelId) return;
    else if (data.type === "brief") await rebrief(data);
    else if (data.type === "review") await rereview(data);
    else if (data.type === "step") await step(data);
    else if (data.type === "sheet") showSheet(data.sheet);
    else if (data.type === "ask") await answer(data);
    else if (data.type === "probe") probe(data);
    else await save(data);
  } catch (error) {
    post({ type: "failed", failure: failureFrom(error, memory) });
  }
});
