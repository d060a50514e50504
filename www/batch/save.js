/**
 * What a class saves: its table, and zips with a report or a review page for each file. Reports are made by workers, which
 * read each file again; review pages one after another, each put into the zip before the next is started.
 *
 * @import {Brief, FromClass, Report, WrittenReview} from "../core/messages.js"
 * @import {Row} from "./rows.js"
 */

import { fileFrom } from "./files.js";
import { isSeen } from "./rows.js";
import { severalOf } from "./students.js";
import { csvOf } from "../findings/table.js";
import { Pool } from "./pool.js";
import { offer, stem, stemWith } from "../save/save.js";
import { Zips } from "../open/zips.js";

/**
 * @param {Row[]} rows
 * @param {string} name of the class
 * @returns {string} the file's name
 */
export function saveTable(rows, name) {
  const file = fileName(name, "table.csv");
  const files = rows.map(({ source, state, result, ...row }) => ({
    ...row,
    ...row.mark,
    upload: row.upload || (row.counts === null ? severalOf(row.several) : row.counts ? "" : "Does not count"),
    seen: isSeen(row),
    path: source.path,
    result: state === "measured" ? result : null,
  }));
  offer(new Blob([csvOf(files)], { type: "text/csv" }), file);
  return file;
}

/**
 * @typedef {object} Outcome
 * @property {string} file
 * @property {number} bytes
 * @property {number} made number of files in it
 * @property {string[]} failed a sentence for each that failed
 */

/** @typedef {(done: number, of: number, doing: string) => void} Heard */

/** Makes one zip at a time. */
export class ZipMaker {
  #zips = new Zips();
  /** The running job. @type {{end: () => void} | null} */
  #task = null;

  get busy() {
    return this.#task !== null;
  }

  /**
   * Creates the reports of these rows and saves the zip.
   * @param {Row[]} rows
   * @param {Brief} brief
   * @param {string} name of the class
   * @param {(bytes: number) => WrittenReview[]} written about files of this size
   * @param {Heard} heard
   * @returns {Promise<Outcome | null>} null when it was stopped
   */
  saveReports(rows, brief, name, written, heard) {
    /** @type {Map<number, Blob>} */
    const reports = new Map();
    /** @type {string[]} */
    const failed = [];
    const tell = () => heard(reports.size + failed.length, rows.length, "Making reports");
    let end = () => {};
    let fail = (/** @type {unknown} */ _error) => {};
    const pool = new Pool({
      started: tell,
      told: (/** @type {Exclude<FromClass, {type: "done"}>} */ message) => {
        if (message.type === "report") reports.set(message.id, message.blob);
        else if (message.type === "failed") failed.push(`${rows.find(({ id }) => id === message.id)?.source.path ?? ""}: ${message.failure.message}`);
        tell();
      },
      idle: () => end(),
      failed: (error) => fail(error),
    });
    return this.#save(
      fileName(name, "reports.zip"),
      failed,
      async function* made() {
        await /** @type {Promise<void>} */ (
          new Promise((done, wrong) => {
            end = done;
            fail = wrong;
            pool.add(
              rows.map(({ id, source }) => ({ what: "report", id, source, plan: null, brief, whole: true, pictured: false, written: written(source.bytes) })),
            );
          })
        );
        let packed = 0;
        for (const row of rows) {
          const blob = reports.get(row.id);
          reports.delete(row.id);
          heard((packed += 1), rows.length, "Packing reports");
          if (blob) yield { row, blob, as: "report.html" };
        }
      },
      () => pool.clear(),
    );
  }

  /**
   * Creates the review pages of these rows and saves the zip.
   * @param {Row[]} rows
   * @param {string} name of the class
   * @param {(file: File, sheets: Report["sheets"] | null, since: {fixed: number, still: number, new: number} | null) => Promise<Blob>} make
   * @param {Heard} heard
   * @returns {Promise<Outcome | null>} null when it was stopped
   */
  savePages(rows, name, make, heard) {
    /** @type {string[]} */
    const failed = [];
    const zips = this.#zips;
    return this.#save(
      fileName(name, "review pages.zip"),
      failed,
      async function* made() {
        for (const [done, row] of rows.entries()) {
          heard(done, rows.length, "Making review pages");
          let blob;
          try {
            blob = await make(
              await fileFrom(row.source, zips),
              row.result?.sheets ?? null,
              row.since && { fixed: row.since.fixed, still: row.since.still, new: row.since.fresh },
            );
          } catch (error) {
            const { message } = /** @type {{message?: string}} */ (error);
            failed.push(`${row.source.path}: ${message ?? error}`);
            continue;
          }
          yield { row, blob, as: "review.html" };
        }
      },
      () => {},
    );
  }

  /**
   * @param {string} file
   * @param {string[]} failed
   * @param {() => AsyncIterable<{row: Row, blob: Blob, as: string}>} made
   * @param {() => void} clear ends the source
   * @returns {Promise<Outcome | null>}
   */
  async #save(file, failed, made, clear) {
    this.stop();
    const task = { end: () => {} };
    const stopped = /** @type {Promise<null>} */ (
      new Promise((done) => {
        task.end = () => {
          clear();
          done(null);
        };
      })
    );
    this.#task = task;
    let count = 0;
    async function* named() {
      /** @type {Set<string>} */
      const used = new Set();
      for await (const { row, blob, as } of made()) {
        yield { name: entryName(row, as, used), blob };
        count += 1;
      }
    }
    try {
      const zip = await Promise.race([this.#zips.pack(named()), stopped]);
      if (!zip || this.#task !== task) return null;
      offer(zip, file);
      return { file, bytes: zip.size, made: count, failed };
    } finally {
      if (this.#task === task) {
        this.#task = null;
        this.#zips.stop();
      }
    }
  }

  /** Ends the running job. */
  stop() {
    const task = this.#task;
    if (!task) return;
    this.#task = null;
    this.#zips.stop();
    task.end();
  }
}

/**
 * @param {string} name of the class
 * @param {string} what
 */
function fileName(name, what) {
  return `${stem(name.replace(/\.zip$/i, ""))} ${what}`;
}

/**
 * Unique name of a row's file in the zip, from its path.
 * @param {Row} row
 * @param {string} as
 * @param {Set<string>} used names, case-folded, as in case-insensitive file systems
 */
function entryName({ source, student }, as, used) {
  const parts = source.path.split("/");
  const path = [...parts.slice(0, -1).map(stem), stemWith(student, source.name)].join("/");
  for (let count = 1; ; count += 1) {
    const name = `${path}${count > 1 ? ` ${count}` : ""} ${as}`;
    if (used.has(name.toLowerCase())) continue;
    used.add(name.toLowerCase());
    return name;
  }
}
