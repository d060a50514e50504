/**
 * Reads and measures a model that nobody sees: see sample.js.
 *
 * @import {Engine} from "./messages.js"
 */

import { pause } from "./pause.js";
import { sample } from "./sample.js";

/** Rounds after which Chromium's fast code is there for all that takes long, as seen by their times; and longest, ms. */
const ROUNDS = 4;
const LONGEST_MS = 600;

/**
 * @param {Engine} engine
 * @param {() => boolean} stopped whether there is something better to do
 */
export async function practise(engine, stopped) {
  const bytes = new TextEncoder().encode(sample());
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
