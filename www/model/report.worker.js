/**
 * The worker's second module, `gridproof_report`: the same sources as the first with pictures and the report's page, loaded
 * at the first save or comparison. It has separate memory, so it reads the file again; the session is kept for the next save.
 *
 * @import {AboutFile, Brief, GivenReview, Subject, Which} from "../core/messages.js"
 */

import { givePictures } from "./libraries.worker.js";

const GLUE = new URL("../../wasm/gridproof_report.js", import.meta.url).href;

/** The second module's JavaScript side. @typedef {typeof import("../../wasm/gridproof_report.js")} ReportEngine */
/** A session that can also make what is saved. @typedef {import("../../wasm/gridproof_report.js").Session} ReportSession */

/**
 * Order for a session; `which` decides whether the kept one can be reused. Briefs and reviews are compared by identity.
 * @typedef {{which: Which, subject: Subject, about: AboutFile, brief: Brief, review: GivenReview}} Order
 */

/** @type {(Order & {session: ReportSession}) | null} */
let kept = null;
/** The order before, done or failed. @type {Promise<unknown>} */
let before = Promise.resolve();

/**
 * A session with the file measured and its report made. Orders are served one after another.
 * @param {Order} order
 * @returns {Promise<ReportSession>}
 */
export function reportSession(order) {
  const served = before.then(() => serve(order));
  before = served.catch(() => {});
  return served;
}

/** The second module, started. @returns {Promise<ReportEngine>} */
export async function reportEngine() {
  /** @type {ReportEngine} */
  const engine = await import(GLUE);
  await engine.default();
  return engine;
}

/** @param {Order} order */
async function serve(order) {
  const { which, subject, about, brief, review } = order;
  const { source, plan } = subject;
  if (kept?.which.modelId === which.modelId && kept.which.revision === which.revision) {
    const { session } = kept;
    if (kept.brief === brief && kept.review === review) return session;
    if (kept.brief !== brief) for (const stage of Array.from(session.set_brief(brief))) session.measure(stage);
    session.set_review(review.notes, review.places, review.decisions);
    session.report();
    kept = { ...order, session };
    return session;
  }
  kept?.session.free();
  kept = null;
  const engine = await reportEngine();
  const session = new engine.Session(about.bytes, brief);
  try {
    if ("file" in source) {
      const chunks = source.file.stream().getReader();
      for (let next = await chunks.read(); !next.done; next = await chunks.read()) session.feed(next.value);
      session.finish();
    } else {
      session.open_link(source.link);
    }
    await givePictures(session, source);
    for (const { corners, uvs } of plan ?? []) session.edit(corners, uvs);
    for (let stage = 0; session.measure(stage) !== undefined; stage += 1);
    session.set_file(about.name, about.bytes, about.sha256);
    session.set_review(review.notes, review.places, review.decisions);
    session.report();
  } catch (error) {
    session.free();
    throw error;
  }
  kept = { ...order, session };
  return session;
}
