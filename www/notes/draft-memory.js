/**
 * Drafts: the unfinished note or reason for a decision is stored while it is typed, so that a reload or a crash does not lose
 * it. It is in localStorage, which is written synchronously; it is removed when the note is saved or discarded.
 *
 * A tab holds a lock as long as it is open, to distinguish a closed tab's draft from one that is being typed in another tab.
 *
 * @import {SavedNote} from "../core/review.js"
 */

import { asKept, MOST, Refused, writeNote } from "../core/review.js";

const PREFIX = "gridproof.draft.";
const REASONS = "gridproof.reason.";
const LOCK = "gridproof-draft-";
/** Most stored drafts; the latest are kept. */
const DRAFTS_MAX = 8;
/** Most characters of one: more than a note may have, since the user can still shorten it. */
const TEXT_MAX = 10 * MOST.text;

/** `text` is what was typed; that of `note` is what it was before. @typedef {{note: SavedNote & {id: number}, text: string}} Draft */
/** A reason and the id of the finding it is for. @typedef {{version: 1, tab: string, at: number, finding: string, text: string}} StoredReason */
/** @typedef {{version: 1, tab: string, at: number, id: number, before: string, text: string, note: object}} Stored */

export class DraftMemory {
  #lasting;
  #tab = crypto.getRandomValues(new Uint32Array(4)).join("-");
  /** Whether this tab holds its lock. */
  #isHeld = false;
  /** Storage key of this tab's draft. @type {string | null} */
  #key = null;

  /** @param {boolean} lasting whether it outlasts the tab */
  constructor(lasting) {
    this.#lasting = lasting;
  }

  /**
   * @param {string} sha256 of the file that it is about
   * @param {Draft} draft
   * @returns {boolean} whether it is kept
   */
  keep(sha256, { note, text }) {
    if (!this.#lasting) return true;
    this.#hold();
    const key = `${PREFIX}${sha256}.${this.#tab}`;
    // The strict reader refuses empty and too long text.
    const { text: before, ...where } = note;
    /** @type {Stored} */
    const stored = {
      version: 1,
      tab: this.#tab,
      at: Date.now(),
      id: note.id,
      before,
      text: [...text].slice(0, TEXT_MAX).join(""),
      note: writeNote({ ...where, text: "-" }),
    };
    try {
      if (this.#key !== key) this.drop();
      localStorage.setItem(key, JSON.stringify(stored));
      this.#key = key;
      return true;
    } catch {
      return false;
    }
  }

  /** Removes this tab's draft: it was saved or discarded. */
  drop() {
    if (this.#key !== null) remove(this.#key);
    this.#key = null;
  }

  /**
   * The latest draft on a file from a closed tab.
   * @param {string} sha256
   * @returns {Promise<Draft & {leave: () => void} | null>} `leave` has it forgotten
   */
  async left(sha256) {
    if (!this.#lasting) return null;
    const open = await openTabs();
    const all = /** @type {{key: string, stored: Stored}[]} */ (drafts(PREFIX))
      .filter(({ stored }) => stored.tab !== this.#tab && !open.has(stored.tab))
      .sort((one, other) => other.stored.at - one.stored.at);
    for (const { key } of all.slice(DRAFTS_MAX)) remove(key);
    for (const { key, stored } of all.slice(0, DRAFTS_MAX)) {
      if (!key.startsWith(`${PREFIX}${sha256}.`)) continue;
      try {
        const { id, before, text, note } = stored;
        if (Number.isSafeInteger(id) && typeof before === "string" && typeof text === "string")
          return { note: { ...asKept(note), text: before, id }, text, leave: () => remove(key) };
      } catch (error) {
        if (!(error instanceof Refused)) throw error;
      }
      remove(key);
    }
    return null;
  }

  /**
   * @param {string} sha256 of the file
   * @param {string} finding its id
   * @param {string} text why it is intended; empty for nothing more
   * @returns {boolean} whether it is kept
   */
  keepReason(sha256, finding, text) {
    if (!this.#lasting) return true;
    this.#hold();
    const key = `${REASONS}${sha256}.${this.#tab}`;
    if (text.trim() === "") {
      remove(key);
      return true;
    }
    /** @type {StoredReason} */
    const stored = { version: 1, tab: this.#tab, at: Date.now(), finding, text: [...text].slice(0, TEXT_MAX).join("") };
    try {
      localStorage.setItem(key, JSON.stringify(stored));
      return true;
    } catch {
      return false;
    }
  }

  /**
   * The latest unfinished reason on a file from a closed tab.
   * @param {string} sha256
   * @returns {Promise<{finding: string, text: string, leave: () => void} | null>}
   */
  async leftReason(sha256) {
    if (!this.#lasting) return null;
    const open = await openTabs();
    const all = /** @type {{key: string, stored: StoredReason}[]} */ (drafts(REASONS))
      .filter(({ stored }) => stored.tab !== this.#tab && !open.has(stored.tab))
      .sort((one, other) => other.stored.at - one.stored.at);
    for (const { key } of all.slice(DRAFTS_MAX)) remove(key);
    const own = all
      .slice(0, DRAFTS_MAX)
      .find(({ key, stored }) => key.startsWith(`${REASONS}${sha256}.`) && typeof stored.finding === "string" && typeof stored.text === "string");
    return own ? { finding: own.stored.finding, text: own.stored.text, leave: () => remove(own.key) } : null;
  }

  #hold() {
    if (this.#isHeld) return;
    this.#isHeld = true;
    // Held until the tab closes.
    navigator.locks?.request(`${LOCK}${this.#tab}`, () => new Promise(() => {})).catch(() => {});
  }
}

/** Open tabs that have had a draft; none if the browser cannot list locks. @returns {Promise<Set<string>>} */
async function openTabs() {
  try {
    const { held = [] } = (await navigator.locks?.query()) ?? {};
    return new Set(held.flatMap(({ name = "" }) => (name.startsWith(LOCK) ? [name.slice(LOCK.length)] : [])));
  } catch {
    return new Set();
  }
}

/** @param {string} prefix @returns {{key: string, stored: Stored | StoredReason}[]} */
function drafts(prefix) {
  try {
    return Object.keys(localStorage)
      .filter((key) => key.startsWith(prefix))
      .flatMap((key) => {
        const stored = parsed(localStorage.getItem(key));
        if (!stored) remove(key);
        return stored ? [{ key, stored }] : [];
      });
  } catch {
    // Refused: then no draft is stored.
    return [];
  }
}

/**
 * @param {string | null} text
 * @returns {Stored | StoredReason | null}
 */
function parsed(text) {
  try {
    const stored = JSON.parse(text ?? "null");
    return stored?.version === 1 && typeof stored.at === "number" ? stored : null;
  } catch {
    return null;
  }
}

/** @param {string} key */
function remove(key) {
  try {
    localStorage.removeItem(key);
  } catch {
    // Refused: then nothing is stored.
  }
}
