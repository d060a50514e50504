/**
 * The workers of a class. Orders are served in the order in which they came, as many at a time as there are workers, as
 * long as the files under way are not too large together; one that is too large by itself goes alone. When nothing is
 * left the workers end, and their memory with them.
 *
 * @import {ClassOrder, Failure, FromClass, ToClass} from "./messages.js"
 */

import { compileEngine } from "./engine.js";

const SCRIPT = new URL("worker-class.js", import.meta.url);
const CODE = new URL("../wasm/gridproof_report_bg.wasm", import.meta.url).href;

/**
 * Most workers. A model's measures take some 1.8 times its file (README, Speed), in each. Every core is used, since the page's
 * own thread has little to do meanwhile: on two busy cores thirty lanterns were told in 4.3 s by two workers and in 5.4 s by
 * one (`node tests/bench/class.mjs`, and the same with 1).
 */
const MOST_WORKERS = 4;
/** Most bytes of files under way: some 500 MB of memory with their measures. */
const MOST_BYTES = 2 ** 28;

/**
 * @typedef {object} Listener
 * @property {(order: ClassOrder) => void} started
 * @property {(message: Exclude<FromClass, {type: "done"}>) => void} told
 * @property {() => void} idle nothing is left to do
 */

export class Pool {
  /** @type {Listener} */
  #listener;
  /** @type {ClassOrder[]} */
  #waiting = [];
  /** What each worker does. @type {Map<Worker, ClassOrder | null>} */
  #workers = new Map();
  /** @type {Promise<WebAssembly.Module> | null} */
  #module = null;
  /** Counts the times everything was dropped: what was asked for before is not told after. */
  #turn = 0;

  /** @param {Listener} listener */
  constructor(listener) {
    this.#listener = listener;
  }

  get busy() {
    return this.#waiting.length > 0 || this.#busyWorkers().length > 0;
  }

  /** Begins to fetch and compile what the workers need. */
  warm() {
    this.#module ??= compileEngine(CODE);
    this.#module.catch(() => {
      this.#module = null;
    });
    return this.#module;
  }

  /**
   * @param {ClassOrder[]} orders
   * @returns {Promise<void>} fails where the module cannot be loaded
   */
  async add(orders) {
    const turn = this.#turn;
    this.#waiting.push(...orders);
    const module = await this.warm();
    if (turn === this.#turn) this.#serve(module);
  }

  /** Drops all orders; those under way too. */
  clear() {
    this.#turn += 1;
    this.#waiting = [];
    for (const worker of this.#workers.keys()) worker.terminate();
    this.#workers.clear();
  }

  #busyWorkers() {
    return [...this.#workers.values()].filter((order) => order !== null);
  }

  /** @param {WebAssembly.Module} module */
  #serve(module) {
    const most = Math.max(1, Math.min(MOST_WORKERS, navigator.hardwareConcurrency || 1));
    for (let [next] = this.#waiting; next; [next] = this.#waiting) {
      const busy = this.#busyWorkers();
      const bytes = busy.reduce((sum, { source }) => sum + source.bytes, 0);
      if (busy.length >= most || (busy.length > 0 && bytes + next.source.bytes > MOST_BYTES)) return;
      this.#waiting.shift();
      const free = [...this.#workers].find(([, order]) => order === null)?.[0] ?? this.#start(module);
      this.#workers.set(free, next);
      this.#listener.started(next);
      /** @type {ToClass} */
      const message = { type: "order", ...next };
      free.postMessage(message);
    }
    if (this.busy) return;
    this.clear();
    this.#listener.idle();
  }

  /** @param {WebAssembly.Module} module */
  #start(module) {
    const worker = new Worker(SCRIPT, { type: "module", name: "gridproof class" });
    const fail = (/** @type {string} */ message) => {
      const order = this.#workers.get(worker);
      if (order === undefined) return;
      this.#end(worker);
      if (order) this.#listener.told({ type: "failed", id: order.id, failure: { code: "crashed", message, line: null } });
      this.#serve(module);
    };
    worker.addEventListener("error", (event) => {
      event.preventDefault();
      fail(event.message ?? "");
    });
    worker.addEventListener("messageerror", () => fail("a message between page and worker was unreadable"));
    worker.addEventListener("message", (/** @type {MessageEvent<FromClass>} */ { data }) => {
      if (!this.#workers.has(worker)) return;
      if (data.type !== "done") {
        this.#listener.told(data);
        return;
      }
      if (data.heavy) this.#end(worker);
      else this.#workers.set(worker, null);
      this.#serve(module);
    });
    /** @type {ToClass} */
    const start = { type: "start", module };
    worker.postMessage(start);
    return worker;
  }

  /** @param {Worker} worker */
  #end(worker) {
    worker.terminate();
    this.#workers.delete(worker);
  }
}
