/**
 * The page's side of the worker: one worker a model. A new file gets a new worker; the previous one, with the
 * model on screen, stays until the new one has something to show, and longer if both are compared: then one of the
 * two is on screen and the other one set aside. Cancelling terminates the worker.
 *
 * Every message names a model and a revision (core/messages.js). Answers older than the layout on screen are dropped, and the
 * question is asked again.
 *
 * Probes: one outstanding; of the waiting ones, the latest of each purpose is kept.
 *
 * @import {AboutMessage, Answer, Ask, Brief, CarriedMessage, Comparison, Edit, Failure, FromWorker, GivenReview, MeasuredMessage, MeshMessage, Probe, ProbeMessage, ReportMessage, SaveOrder, Step, Subject, ToWorker, UvsMessage, Which} from "../core/messages.js"
 * @import {NextWorker} from "./next-worker.js"
 * @import {Lost} from "./served.js"
 */

import { Served } from "./served.js";

/**
 * @typedef {object} Listener
 * @property {(bytes: number, total: number) => void} progress
 * @property {(name: string, again: boolean) => void} stage `again`: of the model on screen, under another brief
 * @property {(message: CarriedMessage) => void} carried
 * @property {(message: MeshMessage & Which) => void} mesh
 * @property {(message: UvsMessage) => void} uvs the model on screen has another layout
 * @property {(message: MeasuredMessage) => void} measured
 * @property {(message: ReportMessage, again: boolean) => void} report its `followed` is null if later notes will be in another report
 * @property {(failure: Failure) => void} failed
 * @property {(failure: Failure, lost: Lost) => void} died the worker of the model on screen has ended, and nothing else is read
 * @property {() => boolean} replaced another model replaces the one on screen now; returns whether that one is set aside
 * @property {(message: MeasuredMessage | ReportMessage | UvsMessage) => void} aside of the model set aside, under another brief or layout
 */

/** @typedef {{purpose: "hover" | "choose", order: ProbeMessage, answer: (probe: Probe | null) => void}} Question */

/**
 * @typedef {object} Saving
 * @property {number} id
 * @property {Worker} worker
 * @property {(blob: Blob) => void} done
 * @property {(error: Error) => void} failed
 * @property {(done: number, of: number) => void} heard
 */

/** Delay before the next worker is started, ms: the current file is shown first. */
const NEXT_AFTER_MS = 500;

export class Reader {
  /** @type {Listener} */
  #listener;
  /** Serves probes for the model on screen. @type {Worker | null} */
  #current = null;
  /** Of the other version. @type {Worker | null} */
  #aside = null;
  /** Reads or measures; may be `#current`. @type {Worker | null} */
  #busy = null;
  /** Each worker's model. @type {Map<Worker, Served>} */
  #served = new Map();
  /** @type {(Question & {worker: Worker}) | null} */
  #asked = null;
  /** @type {Question[]} */
  #waiting = [];
  /** The running save. @type {Saving | null} */
  #saving = null;
  #saves = 0;
  /** Questions to the worker of the model on screen. @type {Map<number, {worker: Worker, ask: Ask, answer: (answer: Answer) => void}>} */
  #asks = new Map();
  #askId = 0;
  #next;

  /**
   * @param {Listener} listener
   * @param {NextWorker} next
   */
  constructor(listener, next) {
    this.#listener = listener;
    this.#next = next;
  }

  #waitSoon() {
    setTimeout(() => {
      if (!this.#busy) this.#next.begin();
    }, NEXT_AFTER_MS);
  }

  /**
   * Warms up the waiting worker, while nothing is being read.
   * @param {WebAssembly.Module} module
   */
  practise(module) {
    this.#next.tell({ type: "practise", module });
  }

  /** Whether a file is being read or measured, or a report under another brief or layout is due. */
  get busy() {
    return this.#busy !== null || [...this.#served.values()].some(({ busy }) => busy);
  }

  /** Source, edits, id and revision of the model on screen. @returns {(Subject & Which) | null} */
  get subject() {
    return (this.#current && this.#served.get(this.#current)?.subject) ?? null;
  }

  /** Whether an answer is due. */
  get probing() {
    return this.#asked !== null || this.#asks.size > 0;
  }

  /**
   * @param {Promise<WebAssembly.Module>} module
   * @param {Subject} subject
   * @param {Brief} brief
   * @param {readonly Edit[]} [undone] edits that can be redone, the next first
   */
  open(module, subject, brief, undone = []) {
    this.cancel();
    const worker = this.#next.take();
    this.#busy = worker;
    this.#served.set(worker, new Served({ subject, undone }));
    worker.addEventListener("message", (/** @type {MessageEvent<FromWorker>} */ event) => this.#hear(worker, event.data));
    worker.addEventListener("error", (event) => {
      event.preventDefault();
      this.#fail(worker, { code: "crashed", message: event.message ?? "", line: null });
    });
    worker.addEventListener("messageerror", () => {
      this.#fail(worker, { code: "crashed", message: "a message between page and worker was unreadable", line: null });
    });
    const opening = module.then((ready) => worker.postMessage(/** @type {ToWorker} */ ({ type: "open", module: ready, subject, undone, brief })));
    opening.catch((error) => this.#fail(worker, { code: "engine", message: error instanceof Error ? error.message : String(error), line: null }));
  }

  /**
   * Judges by another brief: the model on screen, and the file that is being read.
   * @param {Brief} brief
   */
  rebrief(brief) {
    for (const worker of this.#served.keys()) this.#judge(worker, { type: "brief", brief });
  }

  /**
   * Judges the model on screen with decisions and notes, unless that is done.
   * @param {GivenReview} review
   */
  review(review) {
    const served = this.#current && this.#served.get(this.#current);
    if (this.#current && served && !served.knows(review)) this.#judge(this.#current, { type: "review", review });
  }

  /**
   * Changes the uvs of the model on screen, or undoes or redoes a step.
   * @param {Step} asked
   * @returns {Promise<string>} why it was refused, as a sentence for the user; empty if it was applied
   */
  step(asked) {
    // Copied, since the caller may change it.
    const step = asked.do === "apply" ? structuredClone(asked) : asked;
    const worker = this.#current;
    const served = worker && this.#served.get(worker);
    if (!served) return Promise.resolve("There is no measured model. Open the file again.");
    return new Promise((done) => {
      const id = served.begin(step, done);
      if (id !== null) this.#tell(worker, { type: "step", id, step });
    });
  }

  /**
   * Shows another sheet of the model on screen.
   * @param {number} sheet its place in the report's list
   */
  sheet(sheet) {
    if (this.#current) this.#tell(this.#current, { type: "sheet", sheet });
  }

  /** Whether a model is on screen, or will be soon, that can answer. */
  get hasModel() {
    return this.#current !== null;
  }

  /** Whether another version is set aside. */
  get hasAside() {
    return this.#aside !== null;
  }

  /** Swaps the version set aside with the one on screen. */
  flip() {
    [this.#current, this.#aside] = [this.#aside, this.#current];
    this.#mute();
  }

  /** Ends the version that is set aside. */
  leaveAside() {
    if (this.#aside) this.#end(this.#aside);
  }

  /** Drops questions about another model. */
  #mute() {
    if (this.#asked) this.#asked.answer = () => {};
    this.#waiting = [];
  }

  /**
   * @param {Worker} worker
   * @param {AboutMessage} message after which a report is due
   */
  #judge(worker, message) {
    this.#served.get(worker)?.count();
    this.#tell(worker, message);
  }

  /**
   * Asks about the model on screen.
   * @template {Ask} T
   * @param {T} ask
   * @returns {Promise<(T["what"] extends "places" ? (Probe | null)[] : T["what"] extends "compare" ? Comparison : Uint8Array) | null>} null if the model is gone
   */
  ask(ask) {
    const worker = this.#current;
    if (!worker) return Promise.resolve(null);
    return new Promise((answer) => {
      const id = (this.#askId += 1);
      // The worker answers each question with its type of answer.
      this.#asks.set(id, { worker, ask, answer: /** @type {(answer: Answer) => void} */ (/** @type {unknown} */ (answer)) });
      this.#tell(worker, { type: "ask", id, ask });
    });
  }

  /** Cancels reading or measuring. A model already on screen stays, but without measures it cannot be probed. */
  cancel() {
    if (this.#busy) this.#end(this.#busy);
  }

  /** @param {Question} question not answered if a later one of the same purpose replaces it */
  probe(question) {
    if (this.#asked) this.#waiting = [...this.#waiting.filter(({ purpose }) => purpose !== question.purpose), question];
    else this.#put(question);
  }

  /** Sends the oldest waiting question. */
  #askNext() {
    const next = this.#waiting.shift();
    if (next) this.#put(next);
  }

  /** @param {Question} question */
  #put(question) {
    if (!this.#current) return;
    this.#asked = { ...question, worker: this.#current };
    this.#tell(this.#current, question.order);
  }

  /**
   * Creates a file from the model on screen; one at a time, a later one ends the previous.
   * @param {SaveOrder} order
   * @param {(done: number, of: number) => void} heard
   * @returns {Promise<Blob>} rejects with a sentence for the user, or with an empty one when it was cancelled
   */
  save(order, heard) {
    this.leaveSaving();
    const worker = this.#current;
    return new Promise((done, failed) => {
      if (!worker) {
        failed(new Error("There is no measured model. Open the file again."));
        return;
      }
      const id = (this.#saves += 1);
      this.#saving = { id, worker, done, failed, heard };
      this.#tell(worker, { type: "save", id, order });
    });
  }

  /** Cancels the save. */
  leaveSaving() {
    const saving = this.#saving;
    if (!saving) return;
    this.#saving = null;
    this.#tell(saving.worker, { type: "leave", id: saving.id });
    saving.failed(new Error());
  }

  /**
   * Handles messages in order.
   * @param {Worker} worker
   * @param {AboutMessage} message
   */
  #tell(worker, message) {
    const named = this.#served.get(worker)?.named(message);
    if (named) worker.postMessage(named);
  }

  /**
   * Questions about an older layout are asked again.
   * @param {Worker} worker
   * @param {FromWorker} late
   */
  #askAgain(worker, late) {
    const asked = late.type === "answer" ? this.#asks.get(late.id) : undefined;
    if (late.type === "answer" && asked) this.#tell(worker, { type: "ask", id: late.id, ask: asked.ask });
    if (late.type === "probed" && this.#asked?.worker === worker) this.#tell(worker, this.#asked.order);
  }

  /**
   * @param {Worker} worker
   * @param {FromWorker} message
   */
  #hear(worker, message) {
    const served = this.#served.get(worker);
    if (!served) return;
    if (!served.isOfNow(message)) {
      this.#askAgain(worker, message);
      return;
    }
    for (const waiting of served.hear(message)) this.#tell(worker, waiting);
    const again = worker !== this.#busy;
    if (worker === this.#aside && ["stage", "measured", "report", "uvs"].includes(message.type)) {
      if (message.type === "report" || message.type === "measured" || message.type === "uvs") this.#listener.aside(message);
      return;
    }
    switch (message.type) {
      case "progress":
        this.#listener.progress(message.bytes, message.total);
        break;
      case "stage":
        this.#listener.stage(message.name, again);
        break;
      case "carried":
        this.#listener.carried(message);
        break;
      case "mesh":
        if (this.#current !== worker) {
          const isKept = this.#listener.replaced();
          this.leaveAside();
          if (isKept) this.#aside = this.#current;
          else if (this.#current) this.#end(this.#current);
          this.#mute();
        }
        this.#current = worker;
        this.#listener.mesh(message);
        break;
      case "uvs":
        this.#listener.uvs(message);
        break;
      case "measured":
        this.#listener.measured(message);
        break;
      case "report":
        if (!again) {
          this.#busy = null;
          this.#waitSoon();
        }
        this.#listener.report(message, again);
        break;
      case "probed": {
        const asked = this.#asked;
        this.#asked = null;
        this.#askNext();
        asked?.answer(message.probe);
        break;
      }
      case "answer": {
        const asked = this.#asks.get(message.id);
        this.#asks.delete(message.id);
        asked?.answer(message.answer);
        break;
      }
      case "saving":
        if (this.#saving?.id === message.id) this.#saving.heard(message.done, message.of);
        break;
      case "saved":
      case "unsaved": {
        const saving = this.#saving;
        if (saving?.id !== message.id) break;
        this.#saving = null;
        if (message.type === "saved") saving.done(message.blob);
        else saving.failed(new Error(message.message));
        break;
      }
      case "failed":
        this.#fail(worker, message.failure);
        break;
    }
  }

  /**
   * @param {Worker} worker
   * @param {Failure} failure
   */
  #fail(worker, failure) {
    const served = this.#served.get(worker);
    if (!served) return;
    const [isAside, isShown] = [worker === this.#aside, worker === this.#current];
    this.#end(worker);
    // It is not on screen; the failure is reported when the user switches to it.
    if (isAside) return;
    if (isShown && !this.#busy && !this.#aside && failure.code === "crashed") this.#listener.died(failure, served.lost);
    else this.#listener.failed(failure);
  }

  /** @param {Worker} worker */
  #end(worker) {
    worker.terminate();
    this.#served.get(worker)?.end();
    this.#served.delete(worker);
    for (const [id, asked] of this.#asks) {
      if (asked.worker !== worker) continue;
      this.#asks.delete(id);
      asked.answer(null);
    }
    if (this.#busy === worker) {
      this.#busy = null;
      this.#waitSoon();
    }
    if (this.#aside === worker) this.#aside = null;
    if (this.#saving?.worker === worker) {
      this.#saving.failed(new Error("The model was closed before it was saved."));
      this.#saving = null;
    }
    if (this.#current === worker) {
      this.#current = null;
      this.#waiting = [];
    }
    if (this.#asked?.worker === worker) {
      this.#asked = null;
      this.#askNext();
    }
  }
}
