/**
 * Notes and decisions by the SHA-256 of their file: in memory while the tab is open, and in the browser's database as the text
 * of a review (`gridproof-review/2`), validated by its strict reader; with the ids of the notes and the time of each entry.
 * Nothing of it leaves the browser.
 *
 * Several tabs may write about one file. Each write reads the stored state, merges both (notes/merge.js) and notifies the
 * other tabs, which do the same, so that all show the stored state. Only a completed transaction counts as stored.
 *
 * All are read at the start, in parallel to the module: they are small, and a report is never shown without its notes. In a
 * frame nothing is stored: there the parent page decides.
 *
 * @import {AboutFile} from "../core/messages.js"
 * @import {Book} from "./merge.js"
 * @import {Decided, Review, SavedNote} from "../core/review.js"
 * @import {Note} from "../core/state.js"
 */

import { ask, change } from "../base/database.js";
import { bookOf, derivedId, isEmpty, isSame, merge, NOTHING } from "./merge.js";
import { parseReview, Refused, writeReview } from "../core/review.js";
import { GRID_DEFAULTS } from "../core/known.js";

/** @typedef {{notes: readonly Note[], decisions: readonly Decided[]}} Kept */
/** `at`: when it was written, ms since 1970. The others go with the notes and decisions in it; absent in what was kept before there were such. @typedef {{text: string, at: number, ids?: number[], noted?: number[], decided?: number[]}} Stored */
/** What is known of one file in this tab: what the database had when it was last asked, and what the tab has. @typedef {{file: AboutFile, base: Book, mine: Book}} Known */

/** Most files with stored notes; the latest are kept. */
const FILES_MAX = 200;
/** Longest wait for the database before the page starts without it, ms. */
const LOAD_MS = 1000;
/** Delay before the database is tried again after a failure, ms. */
const AGAIN_MS = 10_000;
/** Channel on which tabs announce the file that was written; null if everything was deleted. */
const CHANNEL = "gridproof-reviews";

export class ReviewMemory {
  /** @type {Map<string, Kept>} */
  #kept = new Map();
  /** The last known state of the database. @type {Map<string, Stored>} */
  #stored = new Map();
  /** @type {Map<string, Known>} */
  #known = new Map();
  /** Files with entries that are not stored, and why. @type {Map<string, string>} */
  #unkept = new Map();
  #lasting;
  /** Queue of database requests. @type {Promise<unknown>} */
  #asking = Promise.resolve();
  /** Files in the queue. @type {Set<string>} */
  #due = new Set();
  #underWay = 0;
  #again = 0;
  /** @type {BroadcastChannel | null} */
  #channel = null;
  /** Called when the number of files changes. */
  heard = () => {};
  /** Called when another tab has changed a file's entries. @type {(sha256: string) => void} */
  changed = () => {};
  /** Called when merged entries exceed a review's limits. @type {(sha256: string, notes: number, decisions: number) => void} */
  cut = () => {};
  /** Called when something could not be stored, or was stored later. */
  troubled = () => {};

  /** @param {boolean} lasting whether it is stored beyond the tab */
  constructor(lasting) {
    this.#lasting = lasting;
    if (!lasting || !("BroadcastChannel" in globalThis)) return;
    this.#channel = new BroadcastChannel(CHANNEL);
    this.#channel.addEventListener("message", ({ data }) => {
      if (data === null) this.#drop();
      else if (typeof data === "string") this.#ask(data);
    });
  }

  /** Files with notes or decisions that are stored beyond the tab. */
  get files() {
    return this.#stored.size;
  }

  /** Entries that are not stored, as reviews, and why; the latest last. @returns {{file: AboutFile, notes: SavedNote[], decisions: Decided[], why: string}[]} */
  get unkept() {
    return [...this.#unkept].flatMap(([sha256, why]) => {
      const known = this.#known.get(sha256);
      return known ? [{ file: known.file, notes: valuesOf(known.mine.notes), decisions: valuesOf(known.mine.decisions), why }] : [];
    });
  }

  /** Whether a database request is pending. */
  get busy() {
    return this.#underWay > 0;
  }

  /** Reads the entries of earlier visits. */
  async load() {
    if (!this.#lasting) return;
    const reading = Promise.all([ask("reviews", "readonly", (store) => store.getAllKeys()), ask("reviews", "readonly", (store) => store.getAll())]).then(
      ([keys, values]) => this.#take(keys.map((key, index) => [String(key), values[index]])),
      () => {},
    );
    await Promise.race([reading, new Promise((done) => setTimeout(done, LOAD_MS))]);
  }

  /** @param {[string, Stored][]} read */
  #take(read) {
    const entries = read.sort(([, one], [, other]) => (other?.at ?? 0) - (one?.at ?? 0));
    for (const [key, stored] of entries.slice(0, FILES_MAX)) if (!this.#known.has(key)) this.#stored.set(key, stored);
    for (const [key] of entries.slice(FILES_MAX)) void ask("reviews", "readwrite", (store) => store.delete(key)).catch(() => {});
    // The database was slow, and some files are on screen already.
    for (const key of this.#known.keys()) this.#ask(key);
    this.heard();
  }

  /**
   * A file's entries: from this tab, or from an earlier visit or another tab; invalid ones are dropped.
   * @param {string} sha256
   * @returns {Kept & {isEarlier: boolean} | "damaged" | null}
   */
  about(sha256) {
    const kept = this.#kept.get(sha256);
    if (kept) return { ...kept, isEarlier: false };
    const stored = this.#stored.get(sha256);
    if (!stored) return null;
    const read = readStored(stored, sha256);
    if (!read) {
      this.#stored.delete(sha256);
      this.#ask(sha256);
      this.heard();
      return "damaged";
    }
    this.#know({ ...read, mine: read.base });
    return { ...keptOf(read.base, []), isEarlier: true };
  }

  /**
   * Files of this size with entries.
   * @param {number} bytes
   * @returns {{sha256: string, notes: readonly SavedNote[], decisions: readonly Decided[]}[]}
   */
  ofSize(bytes) {
    return this.all().filter((entry) => entry.bytes === bytes);
  }

  /**
   * The entries of all files.
   * @returns {{sha256: string, bytes: number, notes: readonly SavedNote[], decisions: readonly Decided[]}[]}
   */
  all() {
    return [...new Set([...this.#kept.keys(), ...this.#stored.keys()])].flatMap((sha256) => {
      const found = this.about(sha256);
      const size = this.#known.get(sha256)?.file.bytes;
      return found && found !== "damaged" && size !== undefined ? [{ sha256, bytes: size, notes: found.notes, decisions: found.decisions }] : [];
    });
  }

  /**
   * How many there are, of this visit or an earlier one.
   * @param {string} sha256
   */
  counts(sha256) {
    const found = this.about(sha256);
    return found && found !== "damaged" ? { notes: found.notes.length, decisions: found.decisions.length } : { notes: 0, decisions: 0 };
  }

  /**
   * @param {Review} review of which notes and decisions are remembered
   * @param {Kept} kept the same as the page has them
   */
  set({ file }, kept) {
    this.#kept.set(file.sha256, kept);
    const known = this.#known.get(file.sha256) ?? { file, base: NOTHING, mine: NOTHING };
    const now = Date.now();
    const mine = bookOf(kept.notes, kept.decisions, known.mine, () => now);
    const isChanged = !isSame(mine, known.mine);
    this.#know({ ...known, mine });
    if (this.#lasting && isChanged) this.#ask(file.sha256);
  }

  /**
   * The user has saved it as a file.
   * @param {string} sha256
   */
  isSaved(sha256) {
    this.#unkept.delete(sha256);
    this.troubled();
  }

  /** Deletes everything stored, here and in other tabs; what is on screen stays. */
  async forget() {
    this.#drop();
    await this.#asking;
    // Writes that were running meanwhile.
    this.#drop();
  }

  /** The database was emptied. */
  forgotten() {
    this.#channel?.postMessage(null);
  }

  #drop() {
    this.#stored.clear();
    this.#due.clear();
    this.#unkept.clear();
    clearTimeout(this.#again);
    for (const [sha256, known] of this.#known) {
      if (this.#kept.has(sha256)) known.base = NOTHING;
      else this.#known.delete(sha256);
    }
    this.heard();
    this.troubled();
  }

  /** @param {Known} known */
  #know(known) {
    this.#known.set(known.file.sha256, known);
  }

  /**
   * Synchronises the database and this tab.
   * @param {string} sha256
   */
  #ask(sha256) {
    if (this.#due.has(sha256)) return;
    this.#due.add(sha256);
    this.#underWay += 1;
    this.#asking = this.#asking.then(async () => {
      try {
        // Everything may have been deleted meanwhile.
        if (this.#due.has(sha256)) await this.#meet(sha256);
      } catch (error) {
        this.#fail(sha256, error);
      }
      this.#underWay -= 1;
    });
  }

  /** @param {string} sha256 */
  async #meet(sha256) {
    const known = this.#known.get(sha256);
    const [base, sent] = [known?.base ?? NOTHING, known?.mine ?? NOTHING];
    /** @type {{book: Book, stored: Stored | null, wrote: boolean}} */
    const met = { book: sent, stored: null, wrote: false };
    // From now on a change asks again.
    this.#due.delete(sha256);
    await change("reviews", sha256, (before) => {
      const read = readStored(before, sha256);
      met.book = merge(base, sent, read?.base ?? NOTHING);
      const file = known?.file ?? read?.file;
      const isThere = read !== null && isSame(met.book, read.base);
      met.wrote = before !== undefined && read === null ? true : !isThere && !(before === undefined && isEmpty(met.book));
      met.stored = !file || isEmpty(met.book) ? null : isThere ? /** @type {Stored} */ (before) : storedOf(file, met.book);
      return met.stored ?? undefined;
    });
    if (met.stored) this.#stored.set(sha256, met.stored);
    else this.#stored.delete(sha256);
    this.#unkept.delete(sha256);
    if (met.wrote) this.#channel?.postMessage(sha256);
    const { left } = met.book;
    if (left) this.cut(sha256, left.notes, left.decisions);
    this.#adopt(sha256, sent, met.book);
    this.heard();
    this.troubled();
    // The database works again.
    for (const other of this.#unkept.keys()) this.#ask(other);
  }

  /**
   * @param {string} sha256
   * @param {Book} sent the tab's state when it asked
   * @param {Book} book the stored state now
   */
  #adopt(sha256, sent, book) {
    const known = this.#known.get(sha256);
    if (!known) return;
    const mine = merge(sent, known.mine, book);
    const isChanged = !isSame(mine, known.mine);
    this.#know({ ...known, base: book, mine });
    const kept = this.#kept.get(sha256);
    if (!isChanged || !kept) return;
    this.#kept.set(sha256, keptOf(mine, kept.notes));
    this.changed(sha256);
  }

  /**
   * @param {string} sha256
   * @param {unknown} error
   */
  #fail(sha256, error) {
    const known = this.#known.get(sha256);
    // Entries written by another tab only are announced by that tab.
    if (!known || isSame(known.base, known.mine)) return;
    this.#unkept.set(sha256, reasonOf(error));
    this.troubled();
    clearTimeout(this.#again);
    this.#again = window.setTimeout(() => {
      for (const other of this.#unkept.keys()) this.#ask(other);
    }, AGAIN_MS);
  }
}

/** @param {unknown} error */
function reasonOf(error) {
  const { name = "" } = /** @type {{name?: string}} */ (error ?? {});
  if (name === "QuotaExceededError") return "its storage is full";
  return name === "TimeoutError" ? "its storage does not answer" : "its storage refused them";
}

/**
 * @template T
 * @param {ReadonlyMap<unknown, {value: T}>} entries
 */
function valuesOf(entries) {
  return [...entries.values()].map(({ value }) => value);
}

/**
 * A book as the page has it.
 * @param {Book} book
 * @param {readonly Note[]} before of which the same have their places
 * @returns {Kept}
 */
function keptOf({ notes, decisions }, before) {
  const old = new Map(before.map((note) => [note.id, note]));
  return {
    notes: [...notes].map(([id, { value }]) => {
      const was = old.get(id);
      const isThere = was && was.face === value.face && was.triangle === value.triangle && String(was.point) === String(value.point);
      return { ...value, id, place: isThere ? was.place : null };
    }),
    decisions: valuesOf(decisions),
  };
}

/**
 * @param {AboutFile} file
 * @param {Book} book
 * @returns {Stored}
 */
function storedOf(file, { notes, decisions }) {
  const plain = writeReview({
    file,
    camera: null,
    lens: "grid",
    finding: null,
    note: null,
    brief: {},
    grid: GRID_DEFAULTS,
    notes: valuesOf(notes),
    decisions: valuesOf(decisions),
  });
  const times = (/** @type {ReadonlyMap<unknown, {at: number}>} */ entries) => [...entries.values()].map(({ at }) => at);
  return { text: JSON.stringify(plain), at: Date.now(), ids: [...notes.keys()], noted: times(notes), decided: times(decisions) };
}

/**
 * @param {unknown} stored
 * @param {string} sha256
 * @returns {{file: AboutFile, base: Book} | null} null for what is none of this file
 */
function readStored(stored, sha256) {
  const { text, at, ids, noted, decided } = /** @type {Partial<Stored>} */ (stored ?? {});
  try {
    const { file, notes, decisions } = parseReview(String(text));
    if (file.sha256 !== sha256) return null;
    const times = { notes: noted, decisions: decided };
    const idOf = (/** @type {SavedNote} */ note, /** @type {number} */ place) => {
      const id = ids?.[place];
      return Number.isSafeInteger(id) ? /** @type {number} */ (id) : derivedId(note, place);
    };
    const base = bookOf(
      notes.map((note, place) => ({ ...note, id: idOf(note, place) })),
      decisions,
      NOTHING,
      (kind, place) => Number(times[kind]?.[place] ?? at) || 0,
    );
    return { file, base };
  } catch (error) {
    if (error instanceof Refused) return null;
    throw error;
  }
}
