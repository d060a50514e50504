/**
 * Reads and measures the demo, which nobody sees: browsers make code fast only once it has run for a while, and the first file of
 * a visit should not be the one that waits for it.
 *
 * @import {Engine} from "./messages.js"
 */

import { pause } from "./pause.js";

/** What is kept for use without a connection anyway. */
const MODEL = new URL("../demo/lantern-draft.obj", import.meta.url);
/** Rounds after which Chromium has made fast what takes long, as seen by their times; and longest of all, ms. */
const ROUNDS = 4;
const LONGEST_MS = 800;

/**
 * @param {Engine} engine
 * @param {() => boolean} stopped whether there is something better to do
 */
export async function practise(engine, stopped) {
  const response = await fetch(MODEL);
  if (!response.ok) return;
  const bytes = new Uint8Array(await response.arrayBuffer());
  const end = performance.now() + LONGEST_MS;
  const goesOn = async () => {
    await pause();
    return !stopped() && performance.now() < end;
  };
  for (let round = 0; round < ROUNDS && (await goesOn()); round += 1) {
    const session = new engine.Session(bytes.length, {});
    session.feed(bytes);
    session.finish();
    for (let stage = 0; engine.Session.stage_name(stage) && (await goesOn()); stage += 1) session.measure(stage);
    if (await goesOn()) session.report();
    session.free();
  }
}
