/**
 * The rows of a class: one for each model, one for each student without a model, and each row's student. The teacher's
 * entries go through here to storage (memory.js).
 *
 * @import {ClassSource} from "../core/messages.js"
 * @import {Class} from "./files.js"
 * @import {Row} from "./rows.js"
 * @import {Rule} from "./students.js"
 */

import { comparePaths } from "./files.js";
import { ClassMemory } from "./memory.js";
import { compareNames, isFormat, keyOfName, namesIn, studentsIn, wrongUploads } from "./students.js";

export class Roster {
  #heard;
  #lasting;
  #name = "";
  /** In the order of their paths. @type {Row[]} */
  #rows = [];
  /** The same by their numbers. @type {Map<number, Row>} */
  #byNumber = new Map();
  #numbers = 0;
  /** Dropped files that are not OBJ. @type {ClassSource[]} */
  #rest = [];
  #memory = new ClassMemory("", false);

  /**
   * @param {boolean} lasting whether the teacher's entries are stored beyond the tab
   * @param {object} heard
   * @param {(row: Row) => void} heard.touched something of it has changed
   * @param {(trouble: string) => void} heard.troubled why the teacher's entries could not be stored
   */
  constructor(lasting, heard) {
    this.#lasting = lasting;
    this.#heard = heard;
  }

  /** Of the folder or zip; empty for files picked one by one. */
  get name() {
    return this.#name;
  }

  /** In the order of their paths. */
  get rows() {
    return this.#rows;
  }

  get memory() {
    return this.#memory;
  }

  /** Number of files that are no student's upload. */
  get passedOver() {
    return this.#rest.length - this.#rows.filter(({ isWrong, failure }) => isWrong && failure?.code !== "missing").length;
  }

  /** Two single files, the older first; otherwise empty. @returns {File[]} */
  get two() {
    const files = this.#rows.flatMap(({ source }) => ("file" in source && !source.failure ? [source.file] : []));
    return this.#name === "" && this.#rows.length === 2 && files.length === 2 ? files.sort((a, b) => a.lastModified - b.lastModified) : [];
  }

  /** @param {number} id */
  get(id) {
    return this.#byNumber.get(id) ?? null;
  }

  /** Whether it is still a row of this class. @param {Row} row */
  has(row) {
    return this.#byNumber.get(row.id) === row;
  }

  /** Storage key of a row's file. @param {Row} row */
  keyOf(row) {
    return keyOfFile(row.source, this.#name);
  }

  /**
   * Another class; `assign` sets the students of the rows.
   * @param {Class} found
   */
  begin({ name, sources, rest }) {
    this.#memory.flush();
    this.#name = name;
    this.#rest = rest;
    // Files picked one by one have no class name to store them by.
    this.#memory = new ClassMemory(name, name !== "" && this.#lasting);
    this.#byNumber = new Map();
    this.#rows = sources.map((source) => this.#newRow(source, false, source.upload ?? ""));
  }

  /**
   * Sets the student of each row, and makes rows for students without a model, by the current rule and list.
   * @returns {{rule: Rule, students: number, missing: number, listed: number}}
   */
  assign() {
    const models = this.#rows.filter(({ isWrong }) => !isWrong);
    const students = studentsIn([...models.map(({ source }) => source), ...this.#rest.filter(isFormat)].map(({ path }) => path));
    const rule = this.#memory.rule ?? students.usual;
    /** @type {Map<string, Row[]>} */
    const given = new Map();
    for (const row of models) {
      row.student = students.of(row.source.path, rule);
      const key = keyOfName(row.student);
      given.set(key, [...(given.get(key) ?? []), row]);
    }
    for (const [key, own] of given) {
      const counting = own.length > 1 ? own.find((row) => this.keyOf(row) === this.#memory.counting(key)) : undefined;
      for (const row of own) Object.assign(row, { several: own.length, counts: counting ? row === counting : null });
    }
    const listed = new Map(namesIn(this.#memory.names).map((name) => [keyOfName(name), name]));
    const wrong = wrongUploads(this.#rest, students, rule, new Set(given.keys()), new Set(listed.keys()));
    const known = new Set([...given.keys(), ...wrong.map(({ student }) => keyOfName(student))]);
    const missing = [...listed].filter(([key]) => !known.has(key)).map(([, student]) => ({ source: noFile(student), student, upload: "Missing" }));
    this.#rows = [...models, ...this.#others([...wrong, ...missing])];
    this.#rows.sort((a, b) => Number(a.failure?.code === "missing") - Number(b.failure?.code === "missing") || comparePaths(a.source.path, b.source.path));
    for (const [at, row] of this.#rows.entries()) row.at = at;
    for (const [rank, row] of this.#rows.toSorted((a, b) => compareNames(a.student, b.student) || a.at - b.at).entries()) row.rank = rank;
    this.#rankGrades();
    for (const row of this.#rows) this.#heard.touched(row);
    return { rule, students: new Set(this.#rows.map(({ student }) => keyOfName(student))).size, missing: missing.length, listed: listed.size };
  }

  /**
   * @param {Row} row
   * @param {Partial<Row>} change
   */
  touch(row, change) {
    Object.assign(row, change);
    this.#heard.touched(row);
  }

  /**
   * @param {Row} row
   * @param {Partial<Row["mark"]>} change
   */
  mark(row, change) {
    const key = this.keyOf(row);
    this.#memory.setMark(key, change);
    this.#tellTrouble();
    this.touch(row, { mark: this.#memory.mark(key) });
    if ("grade" in change) this.#rankGrades();
  }

  /**
   * The teacher selects which of a student's files counts, or undoes that; `assign` shows it.
   * @param {Row} row
   */
  count(row) {
    this.#memory.setCounting(keyOfName(row.student), row.counts ? null : this.keyOf(row));
    this.#tellTrouble();
  }

  /** All rows of a row's student. @param {Row} row */
  ofStudent(row) {
    return this.#rows.filter(({ student }) => keyOfName(student) === keyOfName(row.student));
  }

  #tellTrouble() {
    if (this.#memory.trouble) this.#heard.troubled(this.#memory.trouble);
  }

  /**
   * The rows of students without a model; existing ones are reused, obsolete ones removed.
   * @param {{source: ClassSource, student: string, upload: string}[]} wanted
   */
  #others(wanted) {
    const former = new Map(this.#rows.filter(({ isWrong }) => isWrong).map((row) => [row.source.path, row]));
    const others = wanted.map(({ source, student, upload }) => Object.assign(former.get(source.path) ?? this.#newRow(source, true, upload), { student }));
    for (const row of former.values()) {
      if (others.includes(row)) continue;
      this.#byNumber.delete(row.id);
      row.element?.remove();
    }
    return others;
  }

  /**
   * @param {ClassSource} source
   * @param {boolean} isWrong
   * @param {string} upload
   */
  #newRow(source, isWrong, upload) {
    /** @type {Row} */
    const row = {
      id: (this.#numbers += 1),
      at: 0,
      rank: 0,
      source,
      student: "",
      several: 1,
      isWrong,
      upload,
      state: source.failure ? "unreadable" : "waiting",
      result: null,
      isWhole: false,
      failure: source.failure,
      picture: null,
      sha256: "",
      written: { notes: 0, decisions: 0 },
      mark: this.#memory.mark(keyOfFile(source, this.#name)),
      gradeRank: null,
      since: null,
      about: "",
      counts: null,
      points: null,
      element: null,
    };
    this.#byNumber.set(row.id, row);
    return row;
  }

  #rankGrades() {
    const graded = this.#rows.filter((row) => row.mark.grade !== "");
    for (const row of this.#rows) row.gradeRank = null;
    for (const [rank, row] of graded.sort((a, b) => compareNames(a.mark.grade, b.mark.grade) || a.at - b.at).entries()) row.gradeRank = rank;
  }
}

/**
 * Key of a stored file: its path below the folder, whose name changes when it is downloaded again.
 * @param {ClassSource} source
 * @param {string} name of the class
 */
function keyOfFile({ path, failure }, name) {
  if (failure?.code === "missing") return `missing: ${path}`;
  return name !== "" && path.startsWith(`${name}/`) ? path.slice(name.length + 1) : path;
}

/**
 * A row's file where a student has none.
 * @param {string} student
 * @returns {ClassSource}
 */
function noFile(student) {
  return {
    path: student,
    name: "",
    bytes: 0,
    failure: { code: "missing", message: "On the list of students, and no file of theirs is here.", line: null },
    file: new File([], "none"),
  };
}
