/**
 * The worker that will read the next model, begun ahead: a worker takes its time to begin.
 *
 * The first is begun with the page, the next when a report is there. Each loads the module's glue while it waits, since a
 * request takes long where the browser lays out a long address; what saves or compares is loaded when it is asked for.
 *
 * @import {ToWorker} from "../core/messages.js"
 */

import { LivingWorker } from "../base/living-worker.js";

const SCRIPT = new URL("./model.worker.js", import.meta.url);

function startWorker() {
  return new LivingWorker(SCRIPT, { type: "module", name: "gridproof" });
}

export class NextWorker {
  /** Null where it was taken, or did not begin. @type {Worker | null} */
  #worker = null;

  constructor() {
    this.begin();
  }

  begin() {
    if (this.#worker) return;
    const worker = startWorker();
    this.#worker = worker;
    worker.addEventListener("error", () => {
      if (this.#worker === worker) this.#worker = null;
    });
  }

  /** @returns {Worker} which is waited for no more */
  take() {
    const worker = this.#worker ?? startWorker();
    this.#worker = null;
    return worker;
  }

  /** Where there is one. @param {ToWorker} message */
  tell(message) {
    this.#worker?.postMessage(message);
  }
}
