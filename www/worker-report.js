/**
 * The worker's second module, `gridproof_report`: the same sources as the first with pictures and the report's page, loaded
 * at the first save or comparison. It has a memory of its own, so it reads the file again; what it then holds is kept for the next save.
 *
 * @import {Ask, Brief, Comparison, GivenReview, Session} from "./messages.js"
 */

const GLUE = new URL("../wasm/gridproof_report.js", import.meta.url).href;

/**
 * A session that can also make what is saved. Images are data URLs, pixels RGBA from the top.
 * @typedef {object} Saving
 * @property {(ground: string, inner_edges: boolean, flags: boolean, names: boolean, tile?: number) => string} sheet_svg
 * @property {(width: number, height: number, camera: Float64Array, lens: string, flags: boolean, lit: Uint32Array) => Uint8Array} stage_picture
 * @property {() => {width: number, height: number}[]} pictures_wanted
 * @property {(index: number) => Uint8Array} wanted_picture
 * @property {(images: string[]) => string} report_html
 * @property {(brief: Brief) => ArrayLike<number>} set_brief
 */
/** @typedef {Session & Saving} ReportSession */

/**
 * What a session is asked for. A brief or a review is another one when it is another object.
 * @typedef {{file: File, brief: Brief, review: GivenReview, sha256: string}} Order
 */

/** @type {(Order & {session: ReportSession}) | null} */
let kept = null;
/** The order before, done or failed. @type {Promise<unknown>} */
let before = Promise.resolve();

async function reportEngine() {
  const engine = await import(GLUE);
  await engine.default();
  return engine;
}

/**
 * What became of the findings of a former version.
 * @param {Extract<Ask, {what: "compare"}>} ask
 * @returns {Promise<Comparison | null>} null where the module cannot be loaded
 */
export async function compared({ former, newer }) {
  try {
    return (await reportEngine()).compare(former, newer);
  } catch (error) {
    console.warn("Gridproof could not compare:", error);
    return null;
  }
}

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

/** @param {Order} order */
async function serve(order) {
  const { file, brief, review, sha256 } = order;
  if (kept?.file === file) {
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
  /** @type {ReportSession} */
  const session = new engine.Session(file.size, brief);
  try {
    const chunks = file.stream().getReader();
    for (let next = await chunks.read(); !next.done; next = await chunks.read()) session.feed(next.value);
    session.finish();
    for (let stage = 0; session.measure(stage) !== undefined; stage += 1);
    session.set_file(file.name, file.size, sha256);
    session.set_review(review.notes, review.places, review.decisions);
    session.report();
  } catch (error) {
    session.free();
    throw error;
  }
  kept = { ...order, session };
  return session;
}
