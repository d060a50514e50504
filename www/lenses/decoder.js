/**
 * The page's side of the worker that reads pictures.
 *
 * @import {Decoded, FromDecoder} from "../core/messages.js"
 */

import { LivingWorker } from "../base/living-worker.js";

const SCRIPT = new URL("./pictures.worker.js", import.meta.url);

/** Its worker ends when there is nothing to read. */
export class Decoder {
  /** @type {Worker | null} */
  #worker = null;
  /** @type {Map<number, {number: number, done: (decoded: Decoded | null) => void}>} */
  #waiting = new Map();
  #orders = 0;

  get busy() {
    return this.#waiting.size > 0;
  }

  /**
   * A later order for the same picture replaces the previous one, which is not answered.
   * @param {number} number
   * @param {File} file
   * @param {number} most
   * @param {boolean} asBitmap
   * @param {(decoded: Decoded | null) => void} done null: it cannot be read
   */
  read(number, file, most, asBitmap, done) {
    for (const [id, order] of this.#waiting) if (order.number === number) this.#waiting.delete(id);
    const id = (this.#orders += 1);
    this.#waiting.set(id, { number, done });
    this.#worker ??= this.#start();
    this.#worker.postMessage({ id, file, most, asBitmap });
  }

  #start() {
    const worker = new LivingWorker(SCRIPT, { type: "module", name: "gridproof picture" });
    const answer = (/** @type {number[]} */ ids, /** @type {Decoded | null} */ decoded) => {
      const orders = ids.map((id) => this.#waiting.get(id));
      for (const id of ids) this.#waiting.delete(id);
      if (this.#waiting.size === 0) {
        worker.terminate();
        this.#worker = null;
      }
      for (const order of orders) order?.done(decoded);
    };
    worker.addEventListener("message", (/** @type {MessageEvent<FromDecoder>} */ { data }) => answer([data.id], data.type === "decoded" ? data.decoded : null));
    worker.addEventListener("error", (event) => {
      event.preventDefault();
      answer([...this.#waiting.keys()], null);
    });
    return worker;
  }
}
