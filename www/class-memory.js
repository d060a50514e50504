/**
 * What a teacher adds to a class, in this browser alone: by which rule names are found, the list of students, and of each
 * file grade, comment and whether it was opened. A class is known by the name of its folder or zip, a file by its path.
 *
 * @import {Rule} from "./class-students.js"
 */

const PREFIX = "gridproof.class.";
/** Classes that are kept, the latest ones. */
const MOST_CLASSES = 20;
/** Longest grade and comment, characters; the fields allow no more. */
export const MOST_GRADE = 40;
export const MOST_COMMENT = 2000;
/** Most files of a class that are remembered, as many as it may have. */
const MOST_MARKS = 4000;

/** @typedef {{grade: string, comment: string, seen: string}} Mark `seen`: the SHA-256 of the file that was opened */
/** @typedef {{version: 1, at: number, rule: Rule | null, names: string, marks: Record<string, Mark>}} Kept */

const EMPTY = /** @type {Mark} */ (Object.freeze({ grade: "", comment: "", seen: "" }));

/** How many classes are remembered. */
export function classesKept() {
  return keys().length;
}

function keys() {
  try {
    return Object.keys(localStorage).filter((key) => key.startsWith(PREFIX));
  } catch {
    return [];
  }
}

/** @param {string} key @returns {Kept | null} */
function read(key) {
  try {
    const kept = JSON.parse(localStorage.getItem(key) ?? "null");
    if (kept?.version !== 1 || typeof kept.names !== "string" || typeof kept.marks !== "object" || kept.marks === null) return null;
    /** @type {Map<string, Mark>} */
    const marks = new Map();
    for (const [path, mark] of Object.entries(kept.marks).slice(0, MOST_MARKS)) {
      const { grade = "", comment = "", seen = "" } = /** @type {Mark} */ (mark ?? {});
      marks.set(path, { grade: String(grade).slice(0, MOST_GRADE), comment: String(comment).slice(0, MOST_COMMENT), seen: String(seen) });
    }
    const { by, pattern } = kept.rule ?? {};
    const rule = ["folder", "file", "stem", "pattern"].includes(by) && typeof pattern === "string" ? { by, pattern } : null;
    return { version: 1, at: Number(kept.at) || 0, rule, names: kept.names, marks: Object.fromEntries(marks) };
  } catch {
    // Refused or damaged: as if there were nothing.
    return null;
  }
}

export class ClassMemory {
  #key;
  /** @type {Kept} */
  #kept;
  #lasting;
  /** Why it could not be kept the last time; empty where it was. */
  trouble = "";

  /**
   * @param {string} name of the class
   * @param {boolean} lasting whether it outlasts the tab
   */
  constructor(name, lasting) {
    this.#key = PREFIX + name.normalize("NFC").replace(/\.zip$/i, "");
    this.#lasting = lasting;
    this.#kept = (lasting ? read(this.#key) : null) ?? { version: 1, at: 0, rule: null, names: "", marks: {} };
  }

  get rule() {
    return this.#kept.rule;
  }

  get names() {
    return this.#kept.names;
  }

  /** @param {string} path @returns {Mark} */
  mark(path) {
    return Object.hasOwn(this.#kept.marks, path) ? (this.#kept.marks[path] ?? EMPTY) : EMPTY;
  }

  /** @param {Partial<Pick<Kept, "rule" | "names">>} change */
  set(change) {
    Object.assign(this.#kept, change);
    this.#write();
  }

  /**
   * @param {string} path
   * @param {Partial<Mark>} change
   */
  setMark(path, change) {
    const mark = { ...this.mark(path), ...change };
    const { [path]: _, ...others } = this.#kept.marks;
    const isEmpty = !mark.grade && !mark.comment && !mark.seen;
    // Anew, so that no path is taken for what every object has.
    this.#kept.marks = Object.fromEntries([...Object.entries(others), ...(isEmpty ? [] : [/** @type {const} */ ([path, mark])])]);
    this.#write();
  }

  #write() {
    if (!this.#lasting) return;
    this.#kept.at = Date.now();
    try {
      localStorage.setItem(this.#key, JSON.stringify(this.#kept));
      const old = keys().map((key) => ({ key, at: read(key)?.at ?? 0 })).sort((a, b) => b.at - a.at).slice(MOST_CLASSES);
      for (const { key } of old) localStorage.removeItem(key);
      this.trouble = "";
    } catch {
      this.trouble = "This browser has no room to keep grades and comments. They stay until this page is left: save the table.";
    }
  }
}
