/**
 * Warm-up: reads and measures the demo in the background, since browsers optimise code only after it has run for a while, and
 * the first files of a visit should not wait for that.
 *
 * Browsers compile WebAssembly in two tiers, the second only for code that has run for a while: the first model of a visit
 * was measured five times as slowly as the tenth. So while nothing is open the page measures the demo in the worker
 * that waits for the first file. Compiled code belongs to the module, so that the workers of a class benefit too; those
 * warm up with a row. With this and the worker started ahead (model/next-worker.js) the demo's grid came after 0.83 of the
 * time before, and a link with the model inside, in an open page, after 0.56.
 *
 * @import {Engine, Session} from "../core/messages.js"
 */

import { pause } from "../base/pause.js";

/** The demo, which is cached for offline use anyway. */
const MODEL = new URL("../../demo/lantern-draft.obj", import.meta.url);
/** Longest of all, ms. */
const LONGEST_MS = 800;

/**
 * Warm-up settings: number of rounds, after which Chromium has optimised the slow parts, as measured; whether
 * with the seams; and the function that extracts the results.
 * @typedef {{rounds: number, seams: boolean, tell: (session: Session) => void}} Piece
 */

/**
 * @param {Engine} engine
 * @param {Piece} piece
 * @param {() => boolean} stopped whether to stop
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
