/**
 * The page's side of creating links with the model inside: one model at a time, encoded once for each brief, and any number of
 * reviews added to it.
 *
 * @import {AboutFile, Brief, FromCarrier, Subject, ToCarrier, Which} from "../core/messages.js"
 */

import { LivingWorker } from "../base/living-worker.js";

/** Why a kind that contains or names the file is not available for a model with edited UVs. */
export const NO_PLAN =
  "The UVs of this model were changed here, and this cannot hold the changes yet: it would show the model as it came. Undo them to share that, or save the report.";

const SCRIPT = new URL("./carrier.worker.js", import.meta.url);

/** @typedef {{subject: Subject & Which, about: AboutFile, brief: Brief}} Carried */
/** @typedef {Omit<Extract<FromCarrier, {type: "encoded"}>, "type">} Encoded */

export class Carrier {
  /** @type {Worker | null} */
  #worker = null;
  /** @type {Carried | null} */
  #carried = null;
  /** @type {Encoded | null} */
  #encoded = null;
  /** Rejects the pending promise. @type {(error: Error) => void} */
  #fail = () => {};
  /** @type {Map<number, {done: (link: string) => void, failed: (error: Error) => void}>} */
  #links = new Map();
  #lastId = 0;

  /**
   * The encoded form of exactly this model.
   * @param {Carried} carried
   */
  encoded({ subject, brief }) {
    const ours = this.#carried;
    return ours?.subject.modelId === subject.modelId && ours.subject.revision === subject.revision && ours.brief === brief ? this.#encoded : null;
  }

  /**
   * Encodes a model; a previous order is cancelled.
   * @param {Carried} carried
   * @param {(ms: number) => void} measured duration of measuring once
   * @returns {Promise<void>} rejects with a sentence for the user, or with an empty one when it was cancelled
   */
  encode(carried, measured) {
    this.leave();
    if (carried.subject.plan) return Promise.reject(new Error(NO_PLAN));
    const worker = new LivingWorker(SCRIPT, { type: "module", name: "gridproof link" });
    this.#worker = worker;
    this.#carried = carried;
    return new Promise((done, failed) => {
      this.#fail = failed;
      worker.addEventListener("error", (event) => {
        event.preventDefault();
        if (this.#worker === worker) this.leave(event.message ?? "The part that makes links stopped.");
      });
      worker.addEventListener("message", (/** @type {MessageEvent<FromCarrier>} */ { data }) => {
        if (data.type === "measured") measured(data.ms);
        else if (data.type === "encoded") {
          this.#encoded = data;
          done();
        } else if (data.type === "linked") this.#take(data.id)?.done(data.link);
        else if (data.id === null) this.leave(data.message);
        else this.#take(data.id)?.failed(new Error(data.message));
      });
      this.#tell({ type: "encode", ...carried });
    });
  }

  /**
   * The text after `m=`: the encoded model, and a review.
   * @param {object} review
   * @returns {Promise<string>}
   */
  link(review) {
    return new Promise((done, failed) => {
      const id = (this.#lastId += 1);
      this.#links.set(id, { done, failed });
      this.#tell({ type: "link", id, review: JSON.stringify(review) });
    });
  }

  /** Cancels the order. */
  leave(why = "") {
    this.#worker?.terminate();
    this.#worker = this.#carried = this.#encoded = null;
    this.#fail(new Error(why));
    this.#fail = () => {};
    for (const { failed } of this.#links.values()) failed(new Error(why));
    this.#links.clear();
  }

  /** @param {number} id */
  #take(id) {
    const asked = this.#links.get(id);
    this.#links.delete(id);
    return asked;
  }

  /** @param {ToCarrier} message */
  #tell(message) {
    this.#worker?.postMessage(message);
  }
}
