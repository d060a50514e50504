/**
 * Measuring a class: which rows are ordered, by which brief, and the workers' results. A change of the brief orders again,
 * except for the rubric, which only adds up points.
 *
 * @import {Brief, FromClass, WrittenReview} from "../core/messages.js"
 * @import {Page} from "./batch.js"
 * @import {Roster} from "./roster.js"
 * @import {Row} from "./rows.js"
 * @import {Store} from "../core/state.js"
 */

import { Pool } from "./pool.js";
import { judging, Rounds } from "./rounds.js";
import { outcomeOf, pictureOf } from "./rows.js";
import { withSeams } from "../findings/table.js";
import { mapOf } from "../core/state.js";

/**
 * @typedef {object} Heard
 * @property {() => void} changed progress has changed
 * @property {() => void} complete the last row, or the last picture, is there
 * @property {(row: Row) => void} since a row's comparison with the previous upload is ready
 * @property {(error: unknown) => void} failed
 */

export class Measuring {
  #store;
  #roster;
  #page;
  #heard;
  #pool;
  #rounds;
  #map;
  /** The brief of the last orders. */
  #judged;

  /**
   * @param {Store} store
   * @param {Roster} roster
   * @param {Page} page
   * @param {Heard} heard
   */
  constructor(store, roster, page, heard) {
    this.#store = store;
    this.#roster = roster;
    this.#page = page;
    this.#heard = heard;
    this.#map = mapOf(store.state.brief);
    this.#judged = judging(store.state.brief);
    this.#rounds = new Rounds((row, since) => {
      if (!roster.has(row)) return;
      roster.touch(row, { since });
      heard.since(row);
    });
    this.#pool = new Pool({
      started: ({ id }) => {
        const row = roster.get(id);
        if (row?.state === "waiting") roster.touch(row, { state: "measuring" });
      },
      told: (message) => this.#hear(message),
      idle: heard.changed,
      failed: (error) => {
        this.#stopRows();
        heard.failed(error);
      },
    });
  }

  /** Whether files are being measured. */
  get isRunning() {
    return this.#pool.busy;
  }

  get busy() {
    return this.#pool.busy || this.#rounds.busy;
  }

  /** Many files are about to come. */
  expect() {
    void this.#pool.expect();
  }

  /** None came. */
  rest() {
    this.#pool.rest();
  }

  /** Another class is opened: orders for the previous one are dropped. */
  begin() {
    // Workers that were started for this class stay.
    if (this.#pool.busy) this.#pool.clear();
    this.#map = mapOf(this.#store.state.brief);
    this.#judged = judging(this.#store.state.brief);
  }

  /** Orders whatever is unknown under the active brief: verdicts first. */
  measure() {
    const { rows } = this.#roster;
    for (const row of rows) if (row.state === "stopped") this.#roster.touch(row, { state: "waiting" });
    this.#order(
      "row",
      rows.filter(({ state, picture }) => state === "waiting" || (state === "measured" && !picture)),
    );
    this.#order(
      "seams",
      rows.filter(({ state, isWhole, picture }) => state === "measured" && !isWhole && picture),
    );
  }

  /** The same for waiting rows, unless orders are running, which continue with them. */
  goOn() {
    if (!this.#pool.busy && this.#roster.rows.some(({ state }) => state === "waiting")) this.measure();
  }

  /** Notes written while a row was open count in the row too. @param {Row} row */
  reread(row) {
    if (!row.sha256) return;
    this.#roster.touch(row, { written: this.#page.written(row.sha256) });
    if (row.state !== "measured" || row.about === aboutOf(this.#page.decided().get(row.source.bytes))) return;
    this.#roster.touch(row, { state: "waiting", isWhole: false });
    if (this.#pool.busy) this.#order("row", [row]);
  }

  /**
   * Measures by another brief.
   * @param {Brief} brief
   * @param {boolean} isSeen whether the table is shown; otherwise the other files can wait
   */
  judge(brief, isSeen) {
    const judged = judging(brief);
    if (judged === this.#judged) {
      // Only points are updated.
      for (const row of this.#roster.rows) this.#roster.touch(row, {});
      return;
    }
    this.#judged = judged;
    this.#pool.clear();
    const { width, height } = mapOf(brief);
    const remapped = width !== this.#map.width || height !== this.#map.height;
    this.#map = { width, height };
    for (const row of this.#roster.rows) {
      if (row.state === "unreadable") continue;
      if (remapped) row.picture = null;
      this.#roster.touch(row, { state: "waiting", isWhole: false });
    }
    if (isSeen) this.measure();
  }

  /** Compares with the previous upload. @param {Row} row */
  tellSince(row) {
    void this.#rounds.tell(row, this.#roster.memory, this.#store.state.brief);
  }

  stop() {
    this.#pool.clear();
    this.#stopRows();
  }

  #stopRows() {
    for (const row of this.#roster.rows) if (row.state === "waiting" || row.state === "measuring") this.#roster.touch(row, { state: "stopped" });
  }

  /**
   * @param {"row" | "seams"} what
   * @param {Row[]} due
   */
  #order(what, due) {
    if (due.length === 0) return;
    const { brief } = this.#store.state;
    const decided = this.#page.decided();
    for (const row of due) row.about = aboutOf(decided.get(row.source.bytes));
    // Seams come last: they take twice as long as all before, and are only findings if the brief limits them.
    const whole = what === "seams" || (brief.seams?.max_front_over_diagonal ?? null) !== null;
    this.#pool.add(
      due.map(({ id, source, picture }) => ({
        what,
        id,
        source,
        plan: null,
        brief,
        whole,
        pictured: what === "row" && !picture,
        written: decided.get(source.bytes) ?? [],
      })),
    );
    this.#heard.changed();
  }

  /** @param {Exclude<FromClass, {type: "done"}>} message */
  #hear(message) {
    const row = this.#roster.get(message.id);
    if (!row) return;
    const wasKnown = outcomeOf(row) !== null;
    if ((message.type === "row" || message.type === "seams") && message.sha256) {
      this.#roster.touch(row, { sha256: message.sha256, written: this.#page.written(message.sha256) });
    }
    if (message.type === "row") {
      // What can be read is an OBJ, whatever its name.
      this.#roster.touch(row, { upload: "", state: "measured", result: message.result, isWhole: message.isWhole });
    } else if (message.type === "picture") {
      this.#roster.touch(row, { picture: pictureOf(message.image) });
    } else if (message.type === "seams" && row.result) {
      this.#roster.touch(row, { result: withSeams(row.result, message.result), isWhole: message.isWhole });
    } else if (message.type === "failed" && row.state !== "measured") {
      // If only the picture or the seams failed, the rest is valid.
      const { code } = message.failure;
      this.#roster.touch(row, { state: "unreadable", failure: message.failure, result: null, upload: row.upload || (code === "empty" ? "Empty file" : "") });
    }
    if (row.sha256 && (message.type === "row" || message.type === "seams")) this.tellSince(row);
    // The picture comes after its row.
    if (message.type !== "failed" && row.picture && !row.isWhole) this.#order("seams", [row]);
    const { rows } = this.#roster;
    const isLast = message.type === "picture" ? rows.every(({ picture, state }) => picture || state !== "measured") : !wasKnown;
    if (isLast && rows.every((other) => outcomeOf(other) !== null)) this.#heard.complete();
  }
}

/**
 * Decisions and notes that a row was judged with, to be compared with later ones.
 * @param {WrittenReview[] | undefined} decided
 */
function aboutOf(decided) {
  return JSON.stringify((decided ?? []).map(({ sha256, decisions }) => [sha256, decisions]));
}
