/**
 * Reads and measures the demo, which nobody sees: browsers make code fast only once it has run for a while, and the first files of
 * a visit should not be the ones that wait for it.
 *
 * Browsers compile WebAssembly twice, the second time well, and only what has run for a while: the first model of a visit
 * was measured five times as slowly as the tenth. So a page on which nothing was opened yet measures the demo in the worker
 * that waits for the first file. Compiled code belongs to the module, so that the workers of a class profit too; those
 * practise a row. With this and the worker begun ahead (model/next-worker.js) the demo's grid came after 0.83 of the time
 * before, and a link with the model inside, in an open page, after 0.56.
 *
 * @import {Engine, Session} from "../core/messages.js"
 */

import { pause } from "../base/pause.js";

/** What is kept for use without a connection anyway. */
const MODEL = new URL("../../demo/lantern-draft.obj", import.meta.url);
/** Longest of all, ms. */
const LONGEST_MS = 800;

/**
 * What is practised: how many rounds, after which Chromium has made fast what takes long, as seen by their times; whether
 * with the seams; and what is told of a model that is measured.
 * @typedef {{rounds: number, seams: boolean, tell: (session: Session) => void}} Piece
 */

/**
 * @param {Engine} engine
 * @param {Piece} piece
 * @param {() => boolean} stopped whether there is something better to do
 */
export async function practise(engine, { rounds, seams, tell }, stopped) {
  const response = await fetch(MODEL);
  if (!response.ok) return;
  const bytes = new Uint8Array(await response.arrayBuffer());
  const end = performance.now() + LONGEST_MS;
  const goesOn = async () => {
    await pause();
    return !stopped() && performance.now() < end;
  };
  for (let round = 0; round < rounds && (await goesOn()); round += 1) {
    const session = new engine.Session(bytes.length, {});
    session.feed(bytes);
    session.finish();
    // The seams are the last stage.
    for (let stage = 0; engine.Session.stage_name(seams ? stage : stage + 1) && (await goesOn()); stage += 1) session.measure(stage);
    if (await goesOn()) tell(session);
    session.free();
  }
}
