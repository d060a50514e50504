/**
 * A worker whose death is heard of. One that the system kills, or that closes itself, tells nobody; but a lock that it held
 * (base/life.worker.js) is free from then on, and never before, however long it computes. It then has an error like one that it
 * told itself. Where the browser has no locks (pages that are not served securely), such a death stays unheard.
 *
 * A lock and no timeout: a worker that computes for long is not dead.
 */

import { scriptAddress } from "./trusted.js";

/** What is said of it, behind "What the browser said". */
const DIED = "nothing. The worker ended by itself, as when the system needs its memory.";

export class LivingWorker extends Worker {
  #ended = new AbortController();

  /**
   * @param {URL} script
   * @param {WorkerOptions} options
   */
  constructor(script, options) {
    super(scriptAddress(script), options);
    this.addEventListener("message", (event) => {
      const { type, lock } = event.data ?? {};
      if (type !== "lives") return;
      // Nobody else has to know of it.
      event.stopImmediatePropagation();
      const { signal } = this.#ended;
      const died = () => void this.dispatchEvent(new ErrorEvent("error", { message: DIED, cancelable: true }));
      // Refused where it was ended from here.
      navigator.locks.request(lock, { signal }, died).catch(() => {});
    });
  }

  terminate() {
    this.#ended.abort();
    super.terminate();
  }
}
