/**
 * The progress card: what is being read, measured or judged, how far it is, and a button to cancel.
 *
 * @import {Store} from "../core/state.js"
 */

import { byId } from "../base/dom.js";
import { bytes, isolated } from "../base/format.js";

/** Delay before the card is shown, ms, so that it does not flash for short jobs. */
const CARD_AFTER_MS = 300;

/**
 * @param {Store} store
 * @param {() => void} cancel
 */
export function startJob(store, cancel) {
  const card = byId("job", HTMLElement);
  const text = byId("job-text", HTMLElement);
  const bar = byId("job-bar", HTMLProgressElement);
  const stop = byId("job-cancel", HTMLButtonElement);
  let due = 0;
  stop.addEventListener("click", cancel);
  store.watch(["job", "judging"], ({ job, judging }) => {
    if (job === null && judging === "") {
      clearTimeout(due);
      due = 0;
      card.hidden = true;
    } else if (due === 0) {
      due = window.setTimeout(() => (card.hidden = false), CARD_AFTER_MS);
    }
    stop.hidden = job === null;
    if (!job) {
      text.textContent = `By the changed brief: ${judging} …`;
      bar.removeAttribute("value");
      return;
    }
    const reading = job.stage === "";
    const name = isolated(job.name);
    text.textContent = reading ? `Reading ${name}: ${bytes(job.bytes)} of ${bytes(job.total)}` : `${name}: ${job.stage} …`;
    if (reading && job.total > 0) bar.value = job.bytes / job.total;
    else bar.removeAttribute("value");
  });
}
