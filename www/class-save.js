/**
 * What a class saves: its table, and a zip with a report for each file. Reports are made by workers, which read each file
 * again; what else belongs to a file can go beside its report (`filesOf`).
 *
 * @import {Brief, FromClass} from "./messages.js"
 * @import {Row} from "./class-rows.js"
 */

import { csvOf } from "./class-table.js";
import { Pool } from "./class-pool.js";
import { offer, stem } from "./save.js";
import { Zips } from "./zips.js";

/**
 * @param {Row[]} rows
 * @param {string} name of the class
 * @returns {string} the file's name
 */
export function saveTable(rows, name) {
  const file = `${stem(name.replace(/\.zip$/i, ""))} table.csv`;
  const files = rows.map(({ source, state, result, failure }) => ({ path: source.path, result: state === "measured" ? result : null, failure }));
  offer(new Blob([csvOf(files)], { type: "text/csv" }), file);
  return file;
}

/**
 * @typedef {object} Outcome
 * @property {string} file
 * @property {number} bytes
 * @property {number} made reports in it
 * @property {string[]} failed a sentence for each that could not be made
 */

export class ReportMaker {
  #zips = new Zips();
  /** @type {Pool | null} */
  #pool = null;

  get busy() {
    return this.#pool !== null;
  }

  /**
   * Makes the reports of these rows and has the zip saved.
   * @param {Row[]} rows
   * @param {Brief} brief
   * @param {string} name of the class
   * @param {(done: number, of: number, doing: string) => void} heard
   * @returns {Promise<Outcome | null>} null when it was stopped
   */
  async save(rows, brief, name, heard) {
    this.stop();
    /** @type {Map<number, Blob>} */
    const reports = new Map();
    /** @type {string[]} */
    const failed = [];
    const pathOf = (/** @type {number} */ id) => rows.find((row) => row.id === id)?.source.path ?? "";
    const tell = () => heard(reports.size + failed.length, rows.length, "Making reports");
    let end = () => {};
    let fail = (/** @type {unknown} */ _error) => {};
    const pool = new Pool({
      started: tell,
      told: (/** @type {Exclude<FromClass, {type: "done"}>} */ message) => {
        if (message.type === "report") reports.set(message.id, message.blob);
        else if (message.type === "failed") failed.push(`${pathOf(message.id)}: ${message.failure.message}`);
        tell();
      },
      idle: () => end(),
      failed: (error) => fail(error),
    });
    this.#pool = pool;
    try {
      await /** @type {Promise<void>} */ (new Promise((done, wrong) => {
        end = this.#stopped = done;
        fail = wrong;
        pool.add(rows.map(({ id, source }) => ({ what: "report", id, source, brief, whole: true, picture: false })));
      }));
      if (this.#pool !== pool) return null;
      const used = new Set();
      const files = rows.flatMap((row) => filesOf(row, reports.get(row.id), used));
      const zip = await Promise.race([
        this.#zips.pack(files, (done, of) => heard(done, of, "Packing reports")),
        /** @type {Promise<null>} */ (new Promise((done) => (this.#stopped = () => done(null)))),
      ]);
      if (!zip || this.#pool !== pool) return null;
      const file = `${stem(name.replace(/\.zip$/i, ""))} reports.zip`;
      offer(zip, file);
      return { file, bytes: zip.size, made: reports.size, failed };
    } finally {
      if (this.#pool === pool) {
        this.#pool = null;
        this.#zips.stop();
      }
    }
  }

  /** Ends what is being made. */
  stop() {
    const pool = this.#pool;
    if (!pool) return;
    this.#pool = null;
    pool.clear();
    this.#zips.stop();
    this.#stopped();
  }

  /** Ends the waiting of what was stopped. */
  #stopped = () => {};
}

/**
 * What goes into the zip for a row, under its path; no two under the same name.
 * @param {Row} row
 * @param {Blob | undefined} report
 * @param {Set<string>} used names, folded as file systems do that know no case
 * @returns {{name: string, blob: Blob}[]}
 */
function filesOf({ source }, report, used) {
  if (!report) return [];
  const path = source.path.split("/").map(stem).join("/");
  for (let count = 1; ; count += 1) {
    const name = `${path}${count > 1 ? ` ${count}` : ""} report.html`;
    if (used.has(name.toLowerCase())) continue;
    used.add(name.toLowerCase());
    return [{ name, blob: report }];
  }
}
