/**
 * The page's side of the worker for zips: one worker, started with the first order, and orders answered by their number.
 *
 * @import {FromZip, ToZip, ZipListing, ZipPlace} from "../core/messages.js"
 */

import { LivingWorker } from "../base/living-worker.js";

const SCRIPT = new URL("./zips.worker.js", import.meta.url);

/** @typedef {{done: (answer: ZipListing | Blob | null) => void, failed: (failure: unknown) => void}} Waiting */

export class Zips {
  /** @type {Worker | null} */
  #worker = null;
  /** @type {Map<number, Waiting>} */
  #waiting = new Map();
  #orders = 0;
  #keys = 0;

  /** A number that no other zip has. */
  key() {
    return (this.#keys += 1);
  }

  /**
   * The content of a zip. All of these reject with a Failure.
   * @param {File} zip
   * @param {number} key
   * @returns {Promise<ZipListing>}
   */
  list(zip, key) {
    return this.#ask({ type: "list", id: this.#next(), zip, key });
  }

  /**
   * One file of a zip.
   * @param {ZipPlace} place
   * @returns {Promise<Blob>}
   */
  take({ zip, key, index }) {
    return this.#ask({ type: "take", id: this.#next(), zip, key, index });
  }

  /**
   * A new zip. The next file is requested when the previous one is in it.
   * @param {AsyncIterable<{name: string, blob: Blob}>} files
   * @returns {Promise<Blob>}
   */
  async pack(files) {
    const to = this.#next();
    for await (const { name, blob } of files) await this.#ask({ type: "add", id: this.#next(), to, name, blob });
    return this.#ask({ type: "close", id: this.#next(), to });
  }

  /** Ends all running orders without answers. */
  stop() {
    this.#worker?.terminate();
    this.#worker = null;
    this.#waiting.clear();
  }

  #next() {
    return (this.#orders += 1);
  }

  /**
   * @template {ToZip} T
   * @param {T} order
   * @returns {Promise<T["type"] extends "list" ? ZipListing : T["type"] extends "add" ? null : Blob>}
   */
  #ask(order) {
    return new Promise((done, failed) => {
      // The worker answers each order with its type of answer.
      this.#waiting.set(order.id, { done: /** @type {Waiting["done"]} */ (/** @type {unknown} */ (done)), failed });
      this.#worker ??= this.#start();
      this.#worker.postMessage(order);
    });
  }

  #start() {
    const worker = new LivingWorker(SCRIPT, { type: "module", name: "gridproof zip" });
    const end = (/** @type {string} */ message) => {
      if (this.#worker !== worker) return;
      const waiting = [...this.#waiting.values()];
      this.stop();
      for (const { failed } of waiting) failed({ code: "crashed", message, line: null });
    };
    worker.addEventListener("error", (event) => {
      event.preventDefault();
      end(event.message ?? "");
    });
    worker.addEventListener("messageerror", () => end("a message between page and worker was unreadable"));
    worker.addEventListener("message", (/** @type {MessageEvent<FromZip>} */ { data }) => {
      const waiting = this.#waiting.get(data.id);
      if (!waiting) return;
      this.#waiting.delete(data.id);
      if (data.type === "failed") waiting.failed(data.failure);
      else waiting.done(data.type === "listed" ? data.listing : data.type === "blob" ? data.blob : null);
    });
    return worker;
  }
}
