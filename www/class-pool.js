/**
 * The workers of a class. Orders are served in the order in which they came, as many at a time as there are workers, as
 * long as the files under way are not too large together; one that is too large by itself goes alone. A worker has one
 * of the two modules: the page's own, which is compiled already, for verdicts, or the one that also draws. When nothing is left
 * the workers end, and their memory with them.
 *
 * @import {ClassOrder, Failure, FromClass, ToClass} from "./messages.js"
 */

import { compileEngine, REPORT_CODE } from "./engine.js";

const SCRIPT = new URL("worker-class.js", import.meta.url);

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
 * @property {(error: unknown) => void} failed a module cannot be loaded; nothing is done any more
 */

/** @typedef {{order: ClassOrder | null, draws: boolean}} Hand what a worker does, and whether its module draws */

export class Pool {
  /** @type {Listener} */
  #listener;
  /** @type {ClassOrder[]} */
  #waiting = [];
  /** @type {Map<Worker, Hand>} */
  #workers = new Map();
  /** That does not draw, and that does. @type {{plain: WebAssembly.Module | null, drawing: WebAssembly.Module | null}} */
  #modules = { plain: null, drawing: null };
  /** Counts the times everything was dropped: what was asked for before is not told after. */
  #turn = 0;

  /** @param {Listener} listener */
  constructor(listener) {
    this.#listener = listener;
  }

  get busy() {
    return this.#waiting.length > 0 || this.#busyWorkers().length > 0;
  }

  /** @param {ClassOrder[]} orders */
  add(orders) {
    this.#waiting.push(...orders);
    this.#serve();
  }

  /** Drops all orders; those under way too. */
  clear() {
    this.#turn += 1;
    this.#waiting = [];
    for (const worker of this.#workers.keys()) worker.terminate();
    this.#workers.clear();
  }

  #busyWorkers() {
    return [...this.#workers.values()].flatMap(({ order }) => order ?? []);
  }

  /** @param {boolean} draws */
  async #load(draws) {
    const turn = this.#turn;
    try {
      this.#modules[draws ? "drawing" : "plain"] = await (draws ? compileEngine(REPORT_CODE) : compileEngine());
      if (turn === this.#turn) this.#serve();
    } catch (error) {
      if (turn !== this.#turn) return;
      this.clear();
      this.#listener.failed(error);
    }
  }

  #serve() {
    const most = Math.max(1, Math.min(MOST_WORKERS, navigator.hardwareConcurrency || 1));
    for (let [next] = this.#waiting; next; [next] = this.#waiting) {
      const busy = this.#busyWorkers();
      const bytes = busy.reduce((sum, { source }) => sum + source.bytes, 0);
      if (busy.length >= most || (busy.length > 0 && bytes + next.source.bytes > MOST_BYTES)) return;
      const draws = next.whole;
      const module = this.#modules[draws ? "drawing" : "plain"];
      if (!module) {
        void this.#load(draws);
        return;
      }
      this.#waiting.shift();
      const idle = [...this.#workers].filter(([, { order }]) => order === null);
      const free = idle.find(([, hand]) => hand.draws === draws)?.[0] ?? this.#start(module, draws);
      for (const [worker, hand] of idle) if (hand.draws !== draws) this.#end(worker);
      this.#workers.set(free, { order: next, draws });
      this.#listener.started(next);
      /** @type {ToClass} */
      const message = { type: "order", ...next };
      free.postMessage(message);
    }
    if (this.busy) return;
    this.clear();
    this.#listener.idle();
  }

  /**
   * @param {WebAssembly.Module} module
   * @param {boolean} draws
   */
  #start(module, draws) {
    const worker = new Worker(SCRIPT, { type: "module", name: "gridproof class" });
    const fail = (/** @type {string} */ message) => {
      const hand = this.#workers.get(worker);
      if (!hand) return;
      this.#end(worker);
      if (hand.order) this.#listener.told({ type: "failed", id: hand.order.id, failure: { code: "crashed", message, line: null } });
      this.#serve();
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
      else this.#workers.set(worker, { order: null, draws });
      this.#serve();
    });
    /** @type {ToClass} */
    const start = { type: "start", module, draws };
    worker.postMessage(start);
    return worker;
  }

  /** @param {Worker} worker */
  #end(worker) {
    worker.terminate();
    this.#workers.delete(worker);
  }
}
