/**
 * The address bar: what it asks for when the page starts or somebody goes Back, and what is written there.
 *
 * While there is nothing to say but the chosen finding and the lens, these stand in it as they are:
 * `#finding=stretch-3&lens=stretch`. Otherwise it holds a review, packed: `#r=…`. What follows `#` is never sent to the
 * server (RFC 3986 section 3.5).
 *
 * A carried link, `#m=…`, stays as it is: the model is in it. What is shown and written of it goes with the entry instead
 * (`history.state`), where Back, Forward and a reload find it; a link that is copied from the bar has only what came with it.
 *
 * A new entry, to which Back returns, comes with another finding, note or lens, and with a view that somebody turned to;
 * everything else changes the entry there is.
 *
 * A view is in an entry, work is not: Back restores finding, note, lens and camera; notes, decisions, brief and grid stay
 * the present ones, and are written into the entry that was gone back to. Entries of the page's own are marked, so that a
 * link pasted into the bar is told from them and taken as a whole.
 *
 * A carried link stays because a review packed beside the model with every note would be a link that grows while one works.
 * Long addresses cost time by themselves: the demo with 37,000 unused characters behind its `#` took 1.11 of the time to
 * its grid, since the browser writes them into its bar, some 25 ms at each change (see `#keepLater`).
 *
 * @import {Eye, Review, Shown} from "../core/review.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {State, Store} from "../core/state.js"
 */

import { CARRIED, packReview, readReview, Refused, reviewOf, unpackReview, writeReview } from "../core/review.js";
import { asLens } from "../core/state.js";

/** How long the camera must rest until the view counts, ms, and how soon after it the next view takes its place. */
const REST_MS = 400;
const MERGE_MS = 1000;
/** How long after the report the first entry of a carried link waits for the model to be seen, ms. */
const KEEP_AFTER_MS = 600;
/** Longest review in the address bar, characters; a longer one leaves its notes and decisions out. A link may be longer. */
const MOST_WRITTEN = 30_000;
/** The same of an entry's own, as JSON. */
const MOST_KEPT = 300_000;

/** The carried link in the address, without its `#m=`. */
export function linkHere() {
  const { hash } = location;
  return hash.startsWith(CARRIED) ? hash.slice(CARRIED.length) : null;
}

/**
 * What the address asks for. `shown.note` is a note's number.
 * @param {unknown} entry what its entry carries
 * @returns {Promise<{demo: string | null, src: string | null, sha256: string | null, link: string | null, shown: Shown, review: Review | null, refused: string}>}
 *   of a carried link `review` is what its entry has, not what travels in the link
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

/** Keys of a review that stand in the address as they are. */
const PLAIN = ["schema", "file", "finding", "lens"];

/**
 * What an entry that this page wrote carries, to be told from a link that somebody put into the bar.
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
  /** What stood there last: another one of it makes a new entry. */
  #shown = "";
  /** @type {Eye | null} */
  #camera = null;
  #movedAt = -Infinity;
  /** Entries are written one after another; those from before somebody went Back are not. */
  #chain = Promise.resolve();
  #waiting = 0;
  #turn = 0;
  #rest = 0;
  /** What waits to be written into the entry on screen. @type {{clock: number, write: () => void} | null} */
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

  /** Whether something is still to be written. */
  get busy() {
    return this.#waiting > 0 || this.#rest !== 0 || this.#later !== null;
  }

  /**
   * Somebody turned or moved the model: where it comes to rest is worth an entry.
   * @param {Stage} stage
   */
  moved(stage) {
    this.#settle();
    this.#rest = window.setTimeout(() => {
      this.#rest = 0;
      if (this.#store.state.model) this.#store.set({ camera: stage.views.eye() });
    }, REST_MS);
  }

  /** The view that somebody turned to is left before it counts. */
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
      // An entry that is left is one that Back finds.
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
    this.#chain = this.#chain.then(async () => {
      const hash = plain ?? (await packedHash(written));
      if (turn === this.#turn) enter(hash, isNew);
    }).finally(() => (this.#waiting -= 1));
  }

  /**
   * What an entry shows from the start is written into it once that is seen: browsers write a long address into their bar at
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
   * Names the demo in the address, or no source of a model; what was chosen in the previous model goes.
   * @param {string | null} demo
   */
  demo(demo) {
    if (this.#store.state.awaited) return;
    const search = demo ? `?demo=${encodeURIComponent(demo)}` : "";
    if (search !== location.search || location.hash) history.pushState(OURS, "", search || location.pathname);
  }

  /** Takes away what was chosen in the previous model. */
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
 * @param {string} [address] the present one, if no other
 */
function make(state, isNew, address) {
  try {
    if (isNew) history.pushState(state, "", address);
    else history.replaceState(state, "", address);
  } catch {
    // Browsers refuse more than so many entries in so many seconds; the next one will stand there again.
  }
}

/**
 * @param {Review} review
 * @returns {string | null} null where there is more to say
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
