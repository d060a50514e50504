/**
 * The workers of a class. Orders are served first in, first out, as many at a time as there are workers, as
 * long as the running files are not too large together; one that is too large by itself runs alone. A worker has one of the
 * two modules: the page's own, which is compiled already, or the one that makes reports. When idle the workers end, which
 * frees their memory.
 *
 * Every core gets a worker, up to four. They are started while the folder is being chosen or dragged, and warm up meanwhile.
 * A worker has two orders at a time and fetches the second's file while it measures the first.
 *
 * @import {ClassOrder, Failure, FromClass, ToClass} from "../core/messages.js"
 */

import { pixelRatio } from "../stage/canvas.js";
import { compileEngine, REPORT_CODE } from "../core/engine.js";
import { LivingWorker } from "../base/living-worker.js";

const SCRIPT = new URL("./batch.worker.js", import.meta.url);

/**
 * Most workers. A model's measures take some 1.8 times its file (README, Speed), in each. Every core is used, since the page's
 * main thread has little to do meanwhile: on two cores thirty lanterns took 0.7 s with two workers and 1.0 s with one
 * (`node tests/bench/class.mjs`, and the same with 1).
 */
const MOST_WORKERS = 4;
/** Most bytes of running files: some 500 MB of memory with their measures. */
const MOST_BYTES = 2 ** 28;

function mostWorkers() {
  return Math.max(1, Math.min(MOST_WORKERS, navigator.hardwareConcurrency || 1));
}

/**
 * @typedef {object} Listener
 * @property {(order: ClassOrder) => void} started
 * @property {(message: Exclude<FromClass, {type: "done"}>) => void} told
 * @property {() => void} idle nothing is left to do
 * @property {(error: unknown) => void} failed a module cannot be loaded; the pool stops
 */

/** Orders that a worker has, including the running one: it fetches the next file meanwhile. */
const DEPTH = 2;

/** What a worker does and will do, and whether its module makes reports. @typedef {{orders: ClassOrder[], reports: boolean}} Hand */

export class Pool {
  /** @type {Listener} */
  #listener;
  /** @type {ClassOrder[]} */
  #waiting = [];
  /** @type {Map<Worker, Hand>} */
  #workers = new Map();
  /** The page's own, and the one that makes reports. @type {{plain: WebAssembly.Module | null, reporting: WebAssembly.Module | null}} */
  #modules = { plain: null, reporting: null };
  /** Counts how often everything was dropped: results of earlier orders are ignored. */
  #turn = 0;

  /** @param {Listener} listener */
  constructor(listener) {
    this.#listener = listener;
  }

  get busy() {
    return this.#waiting.length > 0 || this.#underWay().length > 0;
  }

  /** @param {ClassOrder[]} orders */
  add(orders) {
    this.#waiting.push(...orders);
    this.#serve();
  }

  /**
   * Starts workers ahead of many files. Workers that are not needed end with the next orders, or with `rest`.
   */
  async expect() {
    if (this.busy) return;
    const turn = this.#turn;
    const module = await compileEngine().catch(() => null);
    if (!module || turn !== this.#turn || this.busy) return;
    this.#modules.plain = module;
    while (this.#workers.size < mostWorkers()) this.#start(module, { reports: false, early: true });
  }

  /** None came. */
  rest() {
    if (!this.busy) this.clear();
  }

  /** Drops all orders, also running ones. */
  clear() {
    this.#turn += 1;
    this.#waiting = [];
    for (const worker of this.#workers.keys()) worker.terminate();
    this.#workers.clear();
  }

  #underWay() {
    return [...this.#workers.values()].flatMap(({ orders }) => orders);
  }

  /** @param {boolean} reports */
  async #load(reports) {
    const turn = this.#turn;
    try {
      this.#modules[reports ? "reporting" : "plain"] = await (reports ? compileEngine(REPORT_CODE) : compileEngine());
      if (turn === this.#turn) this.#serve();
    } catch (error) {
      if (turn !== this.#turn) return;
      this.clear();
      this.#listener.failed(error);
    }
  }

  #serve() {
    for (let [first] = this.#waiting; first; [first] = this.#waiting) {
      if (!this.#hasRoom(first)) return;
      const reports = first.what === "report";
      const module = this.#modules[reports ? "reporting" : "plain"];
      if (!module) {
        void this.#load(reports);
        return;
      }
      const worker = this.#free(module, reports);
      const hand = worker && this.#workers.get(worker);
      if (!hand) return;
      this.#waiting.shift();
      hand.orders.push(first);
      if (hand.orders.length === 1) this.#listener.started(first);
      /** @type {ToClass} */
      const message = { type: "order", ...first };
      worker.postMessage(message);
    }
    if (this.busy) return;
    this.clear();
    this.#listener.idle();
  }

  /** Whether it fits beside the running orders. @param {ClassOrder} order */
  #hasRoom({ source }) {
    const underWay = this.#underWay();
    return underWay.length === 0 || underWay.reduce((sum, order) => sum + order.source.bytes, source.bytes) <= MOST_BYTES;
  }

  /**
   * The worker with the fewest orders, or a new one; null if all are busy.
   * @param {WebAssembly.Module} module
   * @param {boolean} reports
   */
  #free(module, reports) {
    for (const [worker, hand] of this.#workers) if (hand.reports !== reports && hand.orders.length === 0) this.#end(worker);
    const [least] = [...this.#workers].filter(([, hand]) => hand.reports === reports).sort(([, a], [, b]) => a.orders.length - b.orders.length);
    if (least && least[1].orders.length === 0) return least[0];
    if (this.#workers.size < mostWorkers()) return this.#start(module, { reports, early: false });
    return least && least[1].orders.length < DEPTH ? least[0] : null;
  }

  /**
   * @param {WebAssembly.Module} module
   * @param {{reports: boolean, early: boolean}} how
   */
  #start(module, { reports, early }) {
    const worker = new LivingWorker(SCRIPT, { type: "module", name: "gridproof class" });
    const fail = (/** @type {string} */ message) => {
      const hand = this.#workers.get(worker);
      if (!hand) return;
      const order = hand.orders.shift();
      this.#end(worker);
      if (order) this.#listener.told({ type: "failed", id: order.id, failure: { code: "crashed", message, line: null } });
      this.#serve();
    };
    worker.addEventListener("error", (event) => {
      event.preventDefault();
      fail(event.message ?? "");
    });
    worker.addEventListener("messageerror", () => fail("a message between page and worker was unreadable"));
    worker.addEventListener("message", (/** @type {MessageEvent<FromClass>} */ { data }) => {
      const hand = this.#workers.get(worker);
      if (!hand) return;
      if (data.type !== "done") {
        this.#listener.told(data);
        return;
      }
      hand.orders.shift();
      if (data.heavy) this.#end(worker);
      else if (hand.orders[0]) this.#listener.started(hand.orders[0]);
      this.#serve();
    });
    this.#workers.set(worker, { orders: [], reports });
    /** @type {ToClass} */
    const start = { type: "start", module, reports, early, pixelRatio: Math.max(1, pixelRatio()) };
    worker.postMessage(start);
    return worker;
  }

  /** Its remaining orders are given to other workers. @param {Worker} worker */
  #end(worker) {
    worker.terminate();
    this.#waiting.unshift(...(this.#workers.get(worker)?.orders ?? []));
    this.#workers.delete(worker);
  }
}
