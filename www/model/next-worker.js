/**
 * The worker that will read the next model, started ahead, since starting takes time.
 *
 * The first is started with the page, the next when a report is there. Each loads the module's glue while it waits, since a
 * request takes long while the browser lays out a long address; the code that saves or compares is loaded on demand.
 *
 * @import {ToWorker} from "../core/messages.js"
 */

import { LivingWorker } from "../base/living-worker.js";

const SCRIPT = new URL("./model.worker.js", import.meta.url);

function startWorker() {
  return new LivingWorker(SCRIPT, { type: "module", name: "gridproof" });
}

export class NextWorker {
  /** Null if it was taken, or did not start. @type {Worker | null} */
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
