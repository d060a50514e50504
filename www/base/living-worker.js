/**
 * A worker whose silent death is detected. One that the system kills, or that closes itself, sends no event; but the lock that
 * it held (base/life.worker.js) is then free, and never before, however long it computes. The page then gets an error event.
 * Where the browser has no locks (pages that are not served securely), such a death is not detected.
 *
 * A lock and no timeout: a worker that computes for long is not dead.
 */

import { scriptAddress } from "./trusted.js";

/** Its text after "What the browser said". */
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
      // No other listener needs this message.
      event.stopImmediatePropagation();
      const { signal } = this.#ended;
      const died = () => void this.dispatchEvent(new ErrorEvent("error", { message: DIED, cancelable: true }));
      // Aborted when the page ended the worker.
      navigator.locks.request(lock, { signal }, died).catch(() => {});
    });
  }

  terminate() {
    this.#ended.abort();
    super.terminate();
  }
}
