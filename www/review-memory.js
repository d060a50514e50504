/**
 * Notes and decisions by the SHA-256 of their file: for as long as the tab is open as they are, and in the browser's
 * database as the text of a review (`gridproof-review/2`), which only its strict reader lets in again. Nothing of it leaves
 * the browser.
 *
 * @import {Decided, Review} from "./review.js"
 * @import {Note} from "./state.js"
 */

import { ask } from "./database.js";
import { parseReview, Refused, writeReview } from "./review.js";
import { GRID_DEFAULTS } from "./state.js";

/** @typedef {{notes: readonly Note[], decisions: readonly Decided[]}} Kept */
/** @typedef {{text: string, at: number}} Stored when it was written, ms since 1970 */

/** Files whose notes are remembered, the latest written ones. */
const FILES_MAX = 200;
/** Longest that the page waits for the database before it starts without, ms. */
const LOAD_MS = 1000;

export class ReviewMemory {
  /** @type {Map<string, Kept>} */
  #kept = new Map();
  /** Of earlier visits. @type {Map<string, Stored>} */
  #stored = new Map();
  #lasting;
  /** Writes are done one after another, so that the last one stays. @type {Promise<unknown>} */
  #writing = Promise.resolve();
  /** Called when the number of files changes. */
  heard = () => {};

  /** @param {boolean} lasting whether it outlasts the tab */
  constructor(lasting) {
    this.#lasting = lasting;
  }

  /** Files with notes or decisions that are remembered beyond the tab. */
  get files() {
    return this.#stored.size;
  }

  /** Reads what earlier visits left. */
  async load() {
    if (!this.#lasting) return;
    const reading = Promise.all([ask("reviews", "readonly", (store) => store.getAllKeys()), ask("reviews", "readonly", (store) => store.getAll())]);
    const read = await Promise.race([reading.catch(() => null), new Promise((done) => setTimeout(done, LOAD_MS, null))]);
    if (!read) return;
    const [keys, values] = /** @type {Awaited<typeof reading>} */ (read);
    const entries = /** @type {[string, Stored][]} */ (keys.map((key, index) => [String(key), values[index]])).sort(([, one], [, other]) => (other?.at ?? 0) - (one?.at ?? 0));
    this.#stored = new Map(entries.slice(0, FILES_MAX));
    for (const [key] of entries.slice(FILES_MAX)) this.#write(key, null);
  }

  /**
   * What was written in this tab.
   * @param {string} sha256
   */
  get(sha256) {
    return this.#kept.get(sha256);
  }

  /**
   * What an earlier visit left; what cannot be read is dropped.
   * @param {string} sha256
   * @returns {Review | "damaged" | null}
   */
  earlier(sha256) {
    const stored = this.#stored.get(sha256);
    if (!stored) return null;
    try {
      const review = parseReview(String(stored.text));
      if (review.file.sha256 === sha256) return review;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
    }
    this.#store(sha256, null);
    return "damaged";
  }

  /**
   * How many there are, of this visit or an earlier one.
   * @param {string} sha256
   */
  counts(sha256) {
    const earlier = this.#kept.has(sha256) ? null : this.earlier(sha256);
    const { notes, decisions } = this.#kept.get(sha256) ?? (earlier && earlier !== "damaged" ? earlier : { notes: [], decisions: [] });
    return { notes: notes.length, decisions: decisions.length };
  }

  /**
   * @param {Review} review of which notes and decisions are remembered
   * @param {Kept} kept the same as the page has them
   */
  set(review, kept) {
    const { file, notes, decisions } = review;
    this.#kept.set(file.sha256, kept);
    if (!this.#lasting) return;
    const text = JSON.stringify(writeReview({ file, camera: null, lens: "grid", finding: null, note: null, brief: {}, grid: GRID_DEFAULTS, notes, decisions }));
    const isEmpty = notes.length + decisions.length === 0;
    if (isEmpty ? this.#stored.has(file.sha256) : this.#stored.get(file.sha256)?.text !== text) this.#store(file.sha256, isEmpty ? null : { text, at: Date.now() });
  }

  /** Forgets what outlasts the tab; what is on screen stays. */
  async forget() {
    this.#stored.clear();
    await this.#writing;
  }

  /**
   * @param {string} sha256
   * @param {Stored | null} stored
   */
  #store(sha256, stored) {
    if (stored) this.#stored.set(sha256, stored);
    else this.#stored.delete(sha256);
    this.#write(sha256, stored);
    this.heard();
  }

  /**
   * @param {string} sha256
   * @param {Stored | null} stored
   */
  #write(sha256, stored) {
    this.#writing = this.#writing
      .then(() => ask("reviews", "readwrite", (store) => /** @type {IDBRequest<unknown>} */ (stored ? store.put(stored, sha256) : store.delete(sha256))))
      // Refused: it holds until the tab is closed.
      .catch(() => {});
  }
}
