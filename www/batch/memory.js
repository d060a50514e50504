/**
 * What a teacher adds to a class, stored in this browser only: the rule for names, the list of students, and for each file
 * grade, comment and whether it was opened. And the findings of each student's last two uploads, so that a second round
 * shows what was fixed. A class is identified by the name of its folder or zip, a file by its path.
 *
 * Students are identified by name, grades by the file's path, so that another rule for names moves no grade.
 *
 * @import {Rule} from "./students.js"
 * @import {Spot} from "../core/messages.js"
 */

const PREFIX = "gridproof.class.";
/** Most stored classes; the latest are kept. */
const MOST_CLASSES = 20;
/** Longest grade and comment, characters; the fields allow no more. */
export const MOST_GRADE = 40;
export const MOST_COMMENT = 2000;
/** Delay before uploads are written, ms. */
const WRITE_MS = 500;
/** Most stored files of a class, as many as it may have. */
const MOST_MARKS = 4000;

/** Most findings of an upload that are stored one by one; beyond that kinds are counted. Thirty students take some 800 kB. */
export const MOST_ROUND = 60;

/** @typedef {{grade: string, comment: string, seen: string}} Mark `seen`: the SHA-256 of the file that was opened */
/** Data of a finding for matching two uploads. @typedef {Spot & {title: string}} KeptFinding */
/** An upload: `brief` it was checked against, as text, and how many findings there were of each kind. `findings` and the model's box where they were kept. @typedef {{sha256: string, brief: string, counts: Record<string, number>, findings?: KeptFinding[], bounds?: [number[], number[]] | null}} Round */
/** @typedef {{last: Round, former: Round | null}} Rounds */
/** @typedef {{version: 1, at: number, rule: Rule | null, names: string, marks: Record<string, Mark>, rounds: Record<string, Rounds>, counting: Record<string, string>}} Kept `counting`: of a student with several files the path of the one that counts */

const EMPTY = /** @type {Mark} */ (Object.freeze({ grade: "", comment: "", seen: "" }));

/** Number of stored classes. */
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
    const rounds = Object.entries(kept.rounds ?? {}).filter(([, { last, former }]) => isRound(last) && (former === null || isRound(former)));
    return {
      version: 1,
      at: Number(kept.at) || 0,
      rule,
      names: kept.names,
      marks: Object.fromEntries(marks),
      rounds: Object.fromEntries(rounds.slice(0, MOST_MARKS)),
      counting: textsIn(kept.counting),
    };
  } catch {
    // Refused or damaged: as if there were nothing.
    return null;
  }
}

/** @param {unknown} value @returns {Record<string, string>} */
function textsIn(value) {
  const entries = Object.entries(typeof value === "object" && value !== null ? value : {});
  return Object.fromEntries(entries.filter(([, text]) => typeof text === "string").slice(0, MOST_MARKS));
}

/** @param {Round} round as it was read */
function isRound({ sha256, brief, counts, findings }) {
  const isList =
    findings === undefined ||
    (Array.isArray(findings) &&
      findings.length <= MOST_ROUND &&
      findings.every((finding) => typeof finding?.id === "string" && typeof finding.kind === "string" && Array.isArray(finding.names)));
  return typeof sha256 === "string" && typeof brief === "string" && isList && Object.values(counts).every((count) => Number.isSafeInteger(count) && count >= 0);
}

export class ClassMemory {
  #key;
  #writing = 0;
  /** @type {Kept} */
  #kept;
  #lasting;
  /** Why it could not be stored the last time; empty if it was. */
  trouble = "";

  /**
   * @param {string} name of the class
   * @param {boolean} lasting whether it is stored beyond the tab
   */
  constructor(name, lasting) {
    this.#key = PREFIX + name.normalize("NFC").replace(/( \(\d+\))?(\.zip)?$/i, "");
    this.#lasting = lasting;
    this.#kept = (lasting ? read(this.#key) : null) ?? { version: 1, at: 0, rule: null, names: "", marks: {}, rounds: {}, counting: {} };
  }

  /** Whether it is stored beyond the tab. */
  get lasting() {
    return this.#lasting;
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

  /** The path of a student's file that counts; none if not selected. @param {string} student key of the name */
  counting(student) {
    return Object.hasOwn(this.#kept.counting, student) ? (this.#kept.counting[student] ?? null) : null;
  }

  /**
   * @param {string} student key of the name
   * @param {string | null} path
   */
  setCounting(student, path) {
    const others = Object.entries(this.#kept.counting).filter(([key]) => key !== student);
    this.#kept.counting = Object.fromEntries([...others, ...(path === null ? [] : [/** @type {const} */ ([student, path])])]);
    this.#write();
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
    // Rebuilt with own properties, so that any path can be a key.
    this.#kept.marks = Object.fromEntries([...Object.entries(others), ...(isEmpty ? [] : [/** @type {const} */ ([path, mark])])]);
    this.#write();
  }

  /**
   * Stores a student's upload; the same upload again is not a new round.
   * @param {string} student key of the name
   * @param {Round} round
   * @returns {Round | null} the previous upload, if it was checked against the same brief
   */
  round(student, round) {
    const known = Object.hasOwn(this.#kept.rounds, student) ? this.#kept.rounds[student] : undefined;
    const former = !known ? null : known.last.sha256 === round.sha256 ? known.former : known.last;
    this.#kept.rounds = Object.fromEntries([...Object.entries(this.#kept.rounds), [student, { last: round, former }]]);
    // Many uploads arrive in quick succession.
    if (this.#writing === 0) this.#writing = window.setTimeout(() => this.flush(), WRITE_MS);
    return former?.brief === round.brief ? former : null;
  }

  /** Writes pending changes. */
  flush() {
    if (this.#writing !== 0) this.#write();
  }

  #write() {
    clearTimeout(this.#writing);
    this.#writing = 0;
    if (!this.#lasting) return;
    this.#kept.at = Date.now();
    try {
      localStorage.setItem(this.#key, JSON.stringify(this.#kept));
      const old = keys()
        .map((key) => ({ key, at: read(key)?.at ?? 0 }))
        .sort((a, b) => b.at - a.at)
        .slice(MOST_CLASSES);
      for (const { key } of old) localStorage.removeItem(key);
      this.trouble = "";
    } catch {
      this.trouble = "This browser has no room to keep grades and comments. They stay until this page is left: save the table.";
    }
  }
}
