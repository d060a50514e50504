/**
 * Ways to open a model: a chosen file, a fetched one, a link or a review page, the second of two versions, or again after its
 * worker has ended. One is opened at a time; `Arriving` handles its messages.
 *
 * @import {Address} from "./address.js"
 * @import {Choosing} from "./choosing.js"
 * @import {Parts} from "./parts.js"
 * @import {Failure, Source} from "../core/messages.js"
 * @import {Review, Shown} from "../core/review.js"
 * @import {Job, Store} from "../core/state.js"
 * @import {Pictures} from "../lenses/pictures.js"
 * @import {Lost} from "../model/served.js"
 * @import {Inside} from "../share/page.js"
 */

import { Arriving } from "./arriving.js";
import { nextWorker } from "./first.js";
import { bytes, isolated } from "../base/format.js";
import { compileEngine } from "../core/engine.js";
import { problemOf } from "../core/problems.js";
import { parseReview, reviewOf } from "../core/review.js";
import { Reader } from "../model/reader.js";
import { fetchPlaced, placeOf } from "../open/placed.js";
import { sourceInside } from "../share/page.js";

/** Within this time two workers count as ended together, ms: far more than the browser takes to report it. */
const DEATHS_MS = 250;

export class Opening {
  #store;
  #address;
  #pictures;
  #parts;
  #arriving;
  #reader;
  /** What the address asks for, until the first model is there. @type {Shown | null} */
  asked = null;
  /** To be opened once the engine is ready. @type {Source | null} */
  #early = null;
  /** The new version that is opened when the previous one is measured. @type {File | null} */
  #second = null;
  /** What this page wrote into the entry of the link with the model inside that is being opened. @type {Review | null} */
  #kept = null;
  /** The running fetch; a later fetch and a cancel end it. @type {AbortController | null} */
  #fetching = null;
  /** Where the model on screen was fetched, and the digest in its link; null for a local file. @type {{src: string, sha256: string | null} | null} */
  #fetched = null;
  /** Sources whose worker has ended once. @type {WeakSet<Source>} */
  #died = new WeakSet();
  /** The model whose worker has ended. @type {Lost | null} */
  #dead = null;
  #reopening = 0;

  /**
   * @param {object} page
   * @param {Store} page.store
   * @param {Address} page.address
   * @param {Pictures} page.pictures
   * @param {Choosing} page.choosing
   * @param {Parts} page.parts
   * @param {(text: string) => void} page.say
   */
  constructor({ store, address, pictures, choosing, parts, say }) {
    this.#store = store;
    this.#address = address;
    this.#pictures = pictures;
    this.#parts = parts;
    this.#arriving = new Arriving(this, { store, address, choosing, parts, say });
    this.#reader = new Reader(this.#arriving, nextWorker);
  }

  /** The page's side of the workers that read and measure. */
  get reader() {
    return this.#reader;
  }

  /** What is shown on the model in the link instead of what comes with it. */
  get kept() {
    return this.#kept;
  }

  /** Where the model on screen was fetched; null for a local file. */
  get fetched() {
    return this.#fetched;
  }

  get busy() {
    const isSecondDue = this.#second !== null && this.#store.state.problem === null;
    return this.#fetching !== null || this.#reopening !== 0 || isSecondDue || this.#reader.busy || this.#reader.probing || this.#arriving.hasNews;
  }

  /**
   * @param {File} file
   * @param {Pick<Job, "handed">} [more]
   */
  open(file, more = {}) {
    this.#begin({ file, ...this.#pictures.toCome }, { ...more, name: file.name, bytes: 0, total: file.size, stage: "" });
  }

  /**
   * A file from the user or the frame's parent: the address no longer names another model.
   * @param {File} file
   * @param {Pick<Job, "handed">} [more]
   */
  openGiven(file, more) {
    this.#parts.batch?.leave();
    this.#address.demo(null);
    this.open(file, more);
  }

  /**
   * A file that was dropped or chosen: it may be another version of the model on screen.
   * @param {File} file
   */
  openVersion(file) {
    this.openGiven(file);
    this.#parts.versions?.expect(true);
  }

  /**
   * One after the other, as two versions.
   * @param {File} previous
   * @param {File} newer
   */
  openTwo(previous, newer) {
    this.openGiven(previous);
    this.#second = newer;
  }

  /** The new version, if it waits for the previous one to be measured. */
  openSecond() {
    if (this.#second) this.openVersion(this.#second);
  }

  /**
   * @param {string} link with the model inside
   * @param {Review | null} review to apply instead of the review in the link
   */
  openLink(link, review) {
    this.#kept = review;
    this.#begin({ link }, { name: "The model in the link", bytes: 0, total: 0, stage: "unpacking", link });
  }

  /**
   * The model of a review page.
   * @param {Inside} inside
   * @param {Review | null} written to apply instead of the review in the page
   */
  async openInside(inside, written) {
    const [source, review] = [await sourceInside(inside), written ?? parseReview(inside.review)];
    if ("link" in source) this.openLink(source.link, review);
    else {
      this.#store.set({ awaited: review });
      this.open(source.file);
    }
  }

  /**
   * @param {string} src address of the model
   * @param {string | null} [sha256] expected digest
   */
  async openPlaced(src, sha256 = null) {
    this.#fetching?.abort();
    const mine = new AbortController();
    this.#fetching = mine;
    try {
      const place = placeOf(src);
      const { name } = place;
      this.#store.set({ job: { name, bytes: 0, total: 0, stage: "fetching" }, problem: null, notice: "" });
      const file = await fetchPlaced(
        place,
        (read, total) => {
          if (this.#fetching === mine) this.#store.set({ job: { name, bytes: read, total, stage: `fetching, ${bytes(read)} of ${bytes(total)}` } });
        },
        mine.signal,
      );
      if (this.#fetching !== mine) return;
      this.open(file);
      this.#fetched = { src, sha256 };
    } catch (error) {
      if (this.#fetching !== mine) return;
      const known = error && typeof error === "object" && "code" in error && typeof error.code === "string";
      this.fail(known ? /** @type {Failure} */ (error) : { code: "network", message: error instanceof Error ? error.message : String(error), line: null });
    } finally {
      if (this.#fetching === mine) this.#fetching = null;
    }
  }

  /** @param {File} file a saved review */
  async openReview(file) {
    await this.#parts.started;
    if (this.#parts.reviewing) await this.#parts.reviewing.open(file);
    else this.#store.set({ notice: "Gridproof could not start, so the review could not be opened." });
  }

  /** The module is ready: opens what waited for it. */
  begin() {
    if (this.#early) this.#read(this.#early);
  }

  cancel() {
    const { job, model } = this.#store.state;
    this.#fetching?.abort();
    this.#fetching = null;
    this.#reader.cancel();
    this.#early = null;
    this.#store.set({ job: null, notice: job ? `Stopped ${job.stage && model?.name === job.name ? "measuring" : "reading"} ${isolated(job.name)}.` : "" });
  }

  /**
   * @param {Failure} failure
   * @param {string} [name] of what failed, if not of the job
   */
  fail(failure, name = this.#store.state.job?.name ?? "") {
    console.warn(`Gridproof: ${failure.code}: ${failure.message}`);
    this.#store.set({ problem: problemOf(failure, name), job: null, judging: "" });
  }

  /**
   * The worker of the model on screen has ended: the first time the model is reopened, the second time the user is asked.
   * @param {Failure} failure
   * @param {Lost} lost
   */
  died(failure, lost) {
    const { source } = lost.subject;
    const isFirst = !this.#died.has(source);
    this.#died.add(source);
    this.#dead = lost;
    if (isFirst) {
      this.reopen();
      return;
    }
    this.fail(failure, this.#store.state.model?.name ?? "");
    const { problem } = this.#store.state;
    if (problem)
      this.#store.set({
        problem: {
          ...problem,
          next: "It has ended a second time. Open the model again, or choose another file; if it happens again, please report it with the file.",
          again: true,
        },
        notice: "",
      });
  }

  /** Reopens the model on screen after its worker has ended: selection, notes, edits and view stay. */
  reopen() {
    const { model, finding, lens, note, camera } = this.#store.state;
    const lost = this.#dead;
    if (!model || !lost) return;
    this.#parts.notes?.finish(true);
    const { name, bytes: total, link, handed } = model;
    this.#kept = link === null || !model.report ? null : reviewOf(this.#store.state);
    this.#store.set({
      job: { name, bytes: 0, total, stage: "", again: true, ...(link !== null && { link }), ...(handed && { handed }) },
      problem: null,
      notice: `The part that measures ${isolated(name)} ended by itself, as when the system needs its memory. The model is being opened again; nothing is lost.`,
    });
    this.asked = { finding, lens, note, camera };
    const { job } = this.#store.state;
    // The waiting worker may have ended too, which is reported a moment later.
    this.#reopening = window.setTimeout(() => {
      this.#reopening = 0;
      if (this.#store.state.job === job) this.#reader.open(compileEngine(), lost.subject, this.#store.state.brief, lost.undone);
    }, DEATHS_MS);
  }

  /**
   * @param {Source} source
   * @param {Job} job
   */
  #begin(source, job) {
    this.#parts.versions?.expect(false);
    this.#second = null;
    this.#fetching?.abort();
    this.#fetching = null;
    this.#fetched = null;
    this.#store.set({ job, problem: null, notice: "" });
    if (this.#parts.module) this.#read(source);
    else if (this.#store.state.engine === "failed") this.fail({ code: "engine", message: "", line: null });
    else this.#early = source;
  }

  /** @param {Source} source */
  #read(source) {
    if ("file" in source) this.#parts.reviewing?.expect(source.file.size);
    this.#reader.open(compileEngine(), { source, plan: null }, this.#store.state.brief);
  }
}
