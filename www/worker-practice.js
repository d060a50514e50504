/**
 * Reads and measures the demo, which nobody sees: browsers make code fast only once it has run for a while, and the first files of
 * a visit should not be the ones that wait for it.
 *
 * @import {Engine} from "./messages.js"
 */

import { pause } from "./pause.js";

/** What is kept for use without a connection anyway. */
const MODEL = new URL("../demo/lantern-draft.obj", import.meta.url);
/** Rounds after which Chromium has made fast what takes long, as seen by their times; and longest of all, ms. */
const ROUNDS = { report: 4, row: 12 };
const LONGEST_MS = 800;
/** A row's picture. @type {[number, number]} */
const ROW_PX = [96, 72];

/**
 * @param {Engine} engine
 * @param {"report" | "row"} what all that a report takes; or the row of a class with its picture, which goes without the seams
 * @param {() => boolean} stopped whether there is something better to do
 */
export async function practise(engine, what, stopped) {
  const response = await fetch(MODEL);
  if (!response.ok) return;
  const bytes = new Uint8Array(await response.arrayBuffer());
  const end = performance.now() + LONGEST_MS;
  const goesOn = async () => {
    await pause();
    return !stopped() && performance.now() < end;
  };
  for (let round = 0; round < ROUNDS[what] && (await goesOn()); round += 1) {
    const session = new engine.Session(bytes.length, {});
    session.feed(bytes);
    session.finish();
    const seams = what === "report" ? 0 : 1;
    for (let stage = 0; engine.Session.stage_name(stage + seams) && (await goesOn()); stage += 1) session.measure(stage);
    if (what === "report" && (await goesOn())) session.report();
    if (what === "row" && (await goesOn())) session.report_in_short();
    if (what === "row" && (await goesOn())) session.row_picture(...ROW_PX);
    session.free();
  }
}
