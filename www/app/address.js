/**
 * The address bar: what it asks for at the start and on Back, and what is written there.
 *
 * While only the selected finding and the lens are set, they are written as they are:
 * `#finding=stretch-3&lens=stretch`. Otherwise it holds a review, packed: `#r=…`. What follows `#` is never sent to the
 * server (RFC 3986 section 3.5).
 *
 * A link with the model inside, `#m=…`, stays as it is. The view and the notes on it go with the history entry instead
 * (`history.state`), where Back, Forward and a reload find them; a link copied from the bar has only its original content.
 *
 * Another finding, note or lens, or a view turned by hand, makes a new entry, to which Back returns; everything else
 * changes the current entry.
 *
 * An entry restores the view, not the work: Back restores finding, note, lens and camera; notes, decisions, brief and grid
 * stay, and are written into the entry that was restored. The page marks its own entries to distinguish them from a link
 * pasted into the bar, which is applied as a whole.
 *
 * A link with the model inside is not rewritten, since it would grow with every note.
 * Long addresses cost time by themselves: the demo with 37,000 unused characters behind its `#` took 1.11 of the time to
 * its grid, since the browser writes them into its bar, some 25 ms at each change (see `#keepLater`).
 *
 * @import {Eye, Review, Shown} from "../core/review.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {State, Store} from "../core/state.js"
 */

import { CARRIED, packReview, readReview, Refused, reviewOf, unpackReview, writeReview } from "../core/review.js";
import { asLens } from "../core/state.js";

/** How long the camera must rest until the view gets an entry, ms, and how soon after it the next view replaces it. */
const REST_MS = 400;
const MERGE_MS = 1000;
/** How long after the report the first entry of a link with the model inside waits for the model to be drawn, ms. */
const KEEP_AFTER_MS = 600;
/** Longest review in the address bar, characters; a longer one leaves its notes and decisions out. A link may be longer. */
const MOST_WRITTEN = 30_000;
/** The same for an entry's state, as JSON. */
const MOST_KEPT = 300_000;

/** The link with the model inside in the address, without its `#m=`. */
export function linkHere() {
  const { hash } = location;
  return hash.startsWith(CARRIED) ? hash.slice(CARRIED.length) : null;
}

/**
 * What the address asks for. `shown.note` is a note's number.
 * @param {unknown} entry state of the entry
 * @returns {Promise<{demo: string | null, src: string | null, sha256: string | null, link: string | null, shown: Shown, review: Review | null, refused: string}>}
 *   for a link with the model inside `review` is the entry's, not the link's
 */
export async function readAddress(entry) {
  const link = linkHere();
  if (link !== null) {
    const review = keptIn(entry);
    return { demo: null, src: null, sha256: null, link, shown: review ?? { finding: null, lens: null, note: null, camera: null }, review, refused: "" };
  }
  const hash = new URLSearchParams(location.hash.slice(1));
  const search = new URLSearchParams(location.search);
  const asked = { demo: search.get("demo"), src: search.get("src"), sha256: search.get("sha256"), link };
  const plain = { finding: hash.get("finding"), lens: asLens(hash.get("lens")), note: null, camera: null };
  const packed = hash.get("r");
  if (packed === null) return { ...asked, shown: plain, review: null, refused: "" };
  try {
    const review = await unpackReview(packed);
    const { finding, lens, note, camera } = review;
    return { ...asked, shown: { finding, lens, note, camera }, review, refused: "" };
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    return { ...asked, shown: plain, review: null, refused: error.message };
  }
}

/**
 * @param {unknown} entry
 * @returns {Review | null}
 */
function keptIn(entry) {
  if (!isOurs(entry) || !entry.review) return null;
  try {
    return readReview(entry.review);
  } catch (error) {
    if (error instanceof Refused) return null;
    throw error;
  }
}

/** Keys of a review that are written in the address as they are. */
const PLAIN = ["schema", "file", "finding", "lens"];

/**
 * Marks an entry that this page wrote, as opposed to a link pasted into the bar.
 * @param {unknown} state of the entry
 * @returns {state is {gridproof: 1, review?: unknown}}
 */
export function isOurs(state) {
  return typeof state === "object" && state !== null && "gridproof" in state;
}

const OURS = Object.freeze({ gridproof: 1 });

export class Address {
  /** @type {Store} */
  #store;
  #following = false;
  /** Last written values: a change of one makes a new entry. */
  #shown = "";
  /** @type {Eye | null} */
  #camera = null;
  #movedAt = -Infinity;
  /** Entries are written one after another; pending ones are dropped on Back. */
  #chain = Promise.resolve();
  #waiting = 0;
  #turn = 0;
  #rest = 0;
  /** Pending write into the current entry. @type {{clock: number, write: () => void} | null} */
  #later = null;

  /** @param {Store} store */
  constructor(store) {
    this.#store = store;
    if (!isOurs(history.state) && linkHere() === null) history.replaceState(OURS, "");
    store.watch(["finding", "lens", "note", "camera", "brief", "grid", "notes", "decisions"], () => this.write());
    store.watch(["finding", "note", "model"], () => this.#settle());
    let waited = false;
    store.watch(["awaited"], ({ awaited, model }) => {
      if (waited && !awaited) model?.report ? this.write() : this.clear();
      waited = awaited !== null;
    });
  }

  /** Whether a write is pending. */
  get busy() {
    return this.#waiting > 0 || this.#rest !== 0 || this.#later !== null;
  }

  /**
   * The user moved the camera: the view where it comes to rest gets an entry.
   * @param {Stage} stage
   */
  moved(stage) {
    this.#settle();
    this.#rest = window.setTimeout(() => {
      this.#rest = 0;
      if (this.#store.state.model) this.#store.set({ camera: stage.views.eye() });
    }, REST_MS);
  }

  /** The turned view was left before it got an entry. */
  #settle() {
    clearTimeout(this.#rest);
    this.#rest = 0;
  }

  /**
   * Changes the store without a new entry: Back and Forward are entries already.
   * @param {() => void} change
   */
  follow(change) {
    this.#turn += 1;
    this.#following = true;
    try {
      change();
      this.write();
    } finally {
      this.#following = false;
    }
  }

  /** Writes what is shown; nothing while there is no report, or a link still waits for its file. */
  write() {
    const { state } = this.#store;
    if (!state.model?.report || state.awaited) return;
    const isNew = this.#isNew(state);
    const written = reviewOf(state);
    const later = this.#later;
    clearTimeout(later?.clock);
    this.#later = null;
    const { link } = state.model;
    if (link !== null && link === linkHere()) {
      // The entry that is left is the one that Back finds.
      if (isNew) later?.write();
      if (this.#following) this.#keepLater(written, link);
      else keep(written, isNew);
      return;
    }
    const plain = plainHash(written);
    if (plain !== null && this.#waiting === 0) {
      enter(plain, isNew);
      return;
    }
    const turn = this.#turn;
    this.#waiting += 1;
    this.#chain = this.#chain
      .then(async () => {
        const hash = plain ?? (await packedHash(written));
        if (turn === this.#turn) enter(hash, isNew);
      })
      .finally(() => (this.#waiting -= 1));
  }

  /**
   * The initial state of an entry is written into it once it is drawn: browsers write a long address into their bar at
   * each change, which takes some tens of milliseconds.
   * @param {Review} written
   * @param {string} link
   */
  #keepLater(written, link) {
    const entry = history.state;
    const write = () => {
      this.#later = null;
      if (history.state === entry && link === linkHere()) keep(written, false);
    };
    this.#later = { clock: window.setTimeout(write, KEEP_AFTER_MS), write };
  }

  /**
   * Puts the demo in the address, or removes the model's source; clears the selection of the previous model.
   * @param {string | null} demo
   */
  demo(demo) {
    if (this.#store.state.awaited) return;
    const search = demo ? `?demo=${encodeURIComponent(demo)}` : "";
    if (search !== location.search || location.hash) history.pushState(OURS, "", search || location.pathname);
  }

  /** Clears the selection of the previous model. */
  clear() {
    const { awaited, job } = this.#store.state;
    const link = linkHere();
    if (!awaited && (link === null || link !== job?.link)) history.replaceState(OURS, "", location.pathname + location.search);
  }

  /** @param {Readonly<State>} state */
  #isNew({ finding, lens, note, camera }) {
    const shown = JSON.stringify([finding, lens, note]);
    const [another, moved] = [shown !== this.#shown, camera !== null && camera !== this.#camera];
    this.#shown = shown;
    this.#camera = camera;
    if (this.#following) return false;
    if (another || !moved) return another;
    const merged = performance.now() - this.#movedAt < MERGE_MS + REST_MS;
    this.#movedAt = performance.now();
    return !merged;
  }
}

/**
 * @param {string} hash
 * @param {boolean} isNew
 */
function enter(hash, isNew) {
  if (hash !== location.hash) make(OURS, isNew, `${location.pathname}${location.search}${hash}`);
}

/**
 * Writes a review into an entry whose address stays.
 * @param {Review} review
 * @param {boolean} isNew
 */
function keep(review, isNew) {
  const whole = writeReview(review);
  const { note, notes, decisions, ...rest } = whole;
  const kept = JSON.stringify(whole).length <= MOST_KEPT ? whole : rest;
  if (!isNew || JSON.stringify(history.state?.review) !== JSON.stringify(kept)) make({ ...OURS, review: kept }, isNew);
}

/**
 * @param {object} state
 * @param {boolean} isNew
 * @param {string} [address] the current one by default
 */
function make(state, isNew, address) {
  try {
    if (isNew) history.pushState(state, "", address);
    else history.replaceState(state, "", address);
  } catch {
    // Browsers limit the rate of entries; the next write will succeed.
  }
}

/**
 * @param {Review} review
 * @returns {string | null} null if more than finding and lens is set
 */
function plainHash(review) {
  if (!Object.keys(writeReview(review)).every((key) => PLAIN.includes(key))) return null;
  const { finding, lens } = review;
  const hash = new URLSearchParams();
  if (finding) hash.set("finding", finding);
  if (lens !== "grid") hash.set("lens", lens);
  return hash.size > 0 ? `#${hash}` : "";
}

/** @param {Review} review */
async function packedHash(review) {
  const packed = await packReview(review);
  if (packed.length <= MOST_WRITTEN) return `#r=${packed}`;
  return `#r=${await packReview({ ...review, note: null, notes: [], decisions: [] })}`;
}
