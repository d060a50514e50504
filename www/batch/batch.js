/**
 * A class: many files as a table that is measured in the background, sorted, filtered and stepped through. The
 * table stays while its files are opened one by one; the browser's Back leads to it. Nothing of it is in the address: a
 * class lives as long as the page and is restored by a reload where the browser can (kept.js); what the teacher adds
 * is stored in the browser (memory.js).
 *
 * This file takes what is dropped and replaces the previous class. Rows and their students: roster.js; visible rows: table.js;
 * orders to the workers: measuring.js; the open file: walk.js.
 *
 * @import {Brief, Failure, WrittenReview} from "../core/messages.js"
 * @import {Class, Picked} from "./files.js"
 * @import {View} from "./kept.js"
 * @import {ClassPages} from "./pages.js"
 * @import {Row} from "./rows.js"
 * @import {Store} from "../core/state.js"
 */

import { startEarlier } from "./earlier.js";
import { fileFrom, gather, mayBeClass } from "./files.js";
import { startHead } from "./head.js";
import { KeptClass } from "./kept.js";
import { Measuring } from "./measuring.js";
import { POINTS_RULE } from "./points.js";
import { Progress } from "./progress.js";
import { Roster } from "./roster.js";
import { Saving } from "./saving.js";
import { Table } from "./table.js";
import { Walk } from "./walk.js";
import { byId } from "../base/dom.js";
import { counted, isolated } from "../base/format.js";
import { asFailure } from "../core/problems.js";
import { Zips } from "../open/zips.js";

/** How long a brief must be unchanged before a class is measured by it, ms. */
const BRIEF_MS = 500;

/**
 * @typedef {object} Page what the class needs of it
 * @property {(file: File, libraries: File[], own: string | null) => void} open shows a file of the class; `own`: see `linkMaterials`
 * @property {(file: File, companions: File[]) => void} openAlone the same for a single model, with its libraries and pictures
 * @property {(companions: File[]) => void} give those of the model that is here
 * @property {(previous: File, newer: File) => void} compare opens one after the other, as two versions
 * @property {(failure: Failure, name: string) => void} fail
 * @property {(text: string) => void} say for screen readers
 * @property {() => Promise<ClassPages>} pages creates review pages, and knows the notes on a file
 * @property {(sha256: string) => {notes: number, decisions: number}} written number of notes and decisions on a file
 * @property {(brief: Brief) => Promise<void>} rebrief restores the previous brief, if it is valid
 * @property {() => Map<number, WrittenReview[]>} decided decisions on files, by size
 */

export class Batch {
  #store;
  #page;
  #zips = new Zips();
  #kept;
  #roster;
  #table;
  #measuring;
  #progress;
  #saving;
  #head;
  #walk;
  #earlier;
  #title = byId("class-title", HTMLElement);
  #lead = byId("class-lead", HTMLElement);
  #pair = byId("class-two", HTMLElement);
  #pointsRule = byId("class-points-rule", HTMLElement);
  /** Name of the class whose files are being listed; empty if none. */
  #gathering = "";
  /** Whether the files are stored beyond the tab. */
  #isKept = false;
  #rebrief = 0;

  /**
   * @param {Store} store
   * @param {Page} page
   */
  constructor(store, page) {
    this.#store = store;
    this.#page = page;
    const lasting = window.parent === window;
    this.#kept = this.#keeper(lasting);
    this.#roster = new Roster(lasting, {
      touched: (row) => this.#table.touched(row),
      troubled: (trouble) => this.#progress.tell(trouble),
    });
    this.#table = new Table(store, this.#roster, {
      open: (row) => void this.#walk.open(row),
      count: (row) => this.#count(row),
      arranged: () => this.#arranged(),
      refreshed: () => {
        this.#showProgress();
        this.#progress.speak();
      },
      say: page.say,
    });
    this.#measuring = new Measuring(store, this.#roster, page, {
      changed: () => this.#table.later(),
      complete: () => this.#table.refresh(),
      since: (row) => (row === this.#walk.current ? this.#walk.tellSince() : undefined),
      failed: (error) => page.fail({ code: "engine", message: asFailure(error).message, line: null }, ""),
    });
    this.#progress = new Progress(store, this.#roster, this.#measuring, page.say);
    const parts = { store, roster: this.#roster, table: this.#table, measuring: this.#measuring, progress: this.#progress, page };
    this.#saving = new Saving(parts);
    this.#head = startHead({
      rule: (rule) => this.#set({ rule }),
      names: (names) => this.#set({ names }),
      mark: (change) => (this.#walk.current ? this.#roster.mark(this.#walk.current, change) : undefined),
    });
    this.#walk = new Walk({ ...parts, zips: this.#zips, head: this.#head }, () => this.#look());
    this.#earlier = startEarlier(this.#kept, {
      isTaken: () => this.#roster.rows.length > 0 || this.#gathering !== "",
      gather: (picked) => gather(picked, this.#zips, false),
      begin: (found, view, isReload) => this.#bringBack(found, view, isReload),
    });
    this.#pointsRule.textContent = POINTS_RULE;
    byId("class-cancel", HTMLButtonElement).addEventListener("click", () => this.#cancel());
    byId("class-compare", HTMLButtonElement).addEventListener("click", () => {
      const [previous, newer] = this.#roster.two;
      if (previous && newer) page.compare(previous, newer);
    });
    byId("class-two-leave", HTMLButtonElement).addEventListener("click", () => {
      this.#pair.hidden = true;
      this.#title.focus();
    });
    addEventListener("pagehide", () => this.#roster.memory.flush());
    this.#watch();
  }

  /** Whether the table is shown. */
  get shown() {
    return this.#walk.place === "table";
  }

  get busy() {
    return (
      this.#gathering !== "" ||
      this.#earlier.busy ||
      this.#kept.busy ||
      this.#head.busy ||
      this.#measuring.busy ||
      this.#saving.busy ||
      this.#table.busy ||
      this.#store.state.job?.stage === "unpacking"
    );
  }

  /** Whether these are for the class rather than a single model. @param {Picked} picked */
  wants(picked) {
    return mayBeClass(picked);
  }

  /** Many files will follow. */
  expect() {
    this.#measuring.expect();
  }

  /** None came. */
  rest() {
    this.#measuring.rest();
  }

  /**
   * Restores the class that was open before a reload, or offers to.
   * @param {boolean} isReload whether the page was left from an entry of its own
   */
  restore(isReload) {
    return this.#earlier.restore(isReload);
  }

  /** To the next file or the previous one. @param {1 | -1} by */
  step(by) {
    this.#walk.step(by);
  }

  /** Shows the table. */
  back() {
    this.#walk.back();
  }

  /** A file outside the class is opened. */
  leave() {
    this.#walk.leave();
  }

  /** @param {Picked} picked */
  async take(picked) {
    const name = picked.folders[0]?.name ?? picked.files[0]?.name ?? "";
    this.#zips.stop();
    this.#store.set({ job: { name, bytes: 0, total: 0, stage: "opening" }, problem: null, notice: "" });
    const mine = this.#store.state.job;
    this.#gathering = name;
    try {
      const found = await gather(picked, this.#zips, this.#store.state.model !== null);
      if (this.#store.state.job !== mine) return;
      if (found.sources.length > 1) {
        this.#gathering = "";
        this.#begin(found, null, false);
        void this.#kept.keep(found.name, found.given, found.alone, (await picked.dropped) ?? null);
        this.#look();
      } else await this.#takeOne(found, () => this.#store.state.job === mine);
    } catch (error) {
      if (this.#store.state.job !== mine) return;
      this.#gathering = "";
      this.#page.fail(asFailure(error), name);
    }
  }

  /**
   * One model, which is not a class, or companion files alone.
   * @param {Class} found
   * @param {() => boolean} isWanted
   */
  async #takeOne({ sources: [only], companions: taken }, isWanted) {
    if (only?.failure) throw only.failure;
    const file = only && (await fileFrom(only, this.#zips));
    const companions = (await Promise.all(taken.map((take) => take().catch(() => [])))).flat();
    if (!isWanted()) return;
    this.#gathering = "";
    if (file) this.#page.openAlone(file, companions);
    else {
      this.#store.set({ job: null });
      this.#page.give(companions);
    }
  }

  /**
   * @param {Class} found
   * @param {View | null} view
   * @param {boolean} isReload
   */
  async #bringBack(found, view, isReload) {
    if (view && Object.keys(view.brief ?? {}).length > 0 && !this.#store.state.awaited) await this.#page.rebrief(view.brief);
    this.#begin(found, view, isReload);
    this.#look();
  }

  /**
   * Replaces the previous class.
   * @param {Class} found
   * @param {View | null} view its state, if it is restored
   * @param {boolean} isReload whether the history entry is the same
   */
  #begin(found, view, isReload) {
    this.#saving.stop();
    this.#measuring.begin();
    this.#isKept = view !== null;
    this.#earlier.leave();
    this.#walk.begin();
    this.#table.begin(view);
    this.#roster.begin(found);
    this.#store.set({ job: null });
    this.#assign();
    this.#progress.tell("");
    this.#offerTwo();
    this.#walk.enter(view, isReload);
    if (this.shown) this.#progress.begin();
    this.#table.arrange();
  }

  /** Two files by themselves may be two versions. */
  #offerTwo() {
    const [previous, newer] = this.#roster.two;
    this.#pair.hidden = !previous || !newer;
    byId("class-two-text", HTMLElement).textContent =
      `Are these two versions of one model? ${isolated(previous?.name ?? "")} is taken for the previous one, ${isolated(newer?.name ?? "")} for the new one.`;
  }

  /** Updates the student of each row. */
  #assign() {
    const { rule, students, missing, listed } = this.#roster.assign();
    this.#table.leaveOut();
    const { name, rows, memory } = this.#roster;
    const files = counted(rows.length - missing, "file");
    this.#title.textContent = name ? `${name}: ${files}` : files;
    byId("class-caption", HTMLElement).textContent = `${rows.length} models of a class: student, verdict, worst finding and key numbers of each`;
    this.#head.show(rule, memory.names, { students, missing, listed }, memory.lasting);
    if (!this.shown) return;
    this.#measuring.measure();
    this.#table.refresh();
  }

  /** @param {Parameters<Roster["memory"]["set"]>[0]} change of the rule for names, or of the list */
  #set(change) {
    this.#roster.memory.set(change);
    this.#assign();
  }

  /** @param {Row} row whether it counts is changed */
  #count(row) {
    this.#roster.count(row);
    this.#assign();
    for (const own of this.#roster.ofStudent(row)) this.#measuring.tellSince(own);
    this.#page.say(row.counts ? `${row.source.path} counts for ${row.student}.` : `Which file of ${row.student} counts is open again.`);
  }

  #cancel() {
    if (this.#progress.making) this.#saving.stop();
    else if (this.#gathering) this.#store.set({ job: null });
    else {
      this.#measuring.stop();
      this.#page.say("Measuring was stopped.");
    }
  }

  /** Visible rows or their order may have changed. */
  #arranged() {
    this.#look();
    this.#pointsRule.hidden = !this.#roster.rows.some(({ points }) => points);
    this.#tellLead();
    this.#saving.arranged();
    this.#progress.show();
    this.#walk.tell();
  }

  #tellLead() {
    const { passedOver } = this.#roster;
    this.#lead.textContent = [passedOver > 0 ? `${counted(passedOver, "other file")} passed over` : "", this.#isKept ? "kept in this browser for a reload" : ""]
      .filter(Boolean)
      .join(", ");
  }

  #showProgress() {
    this.#progress.show();
    this.#saving.show();
  }

  /** Stores the state of the table. */
  #look() {
    if (this.#roster.rows.length === 0) return;
    const { place, current } = this.#walk;
    this.#kept.look({ brief: this.#store.state.brief, ...this.#table.asked, row: current && this.#roster.keyOf(current), place });
  }

  /** @param {boolean} lasting */
  #keeper(lasting) {
    const kept = new KeptClass(lasting);
    const unkept = byId("class-unkept", HTMLElement);
    kept.troubled = (text) => {
      unkept.textContent = text;
      unkept.hidden = text === "";
    };
    kept.done = () => {
      this.#isKept = true;
      this.#tellLead();
    };
    return kept;
  }

  #watch() {
    this.#store.watch(["brief"], ({ brief }) => {
      clearTimeout(this.#rebrief);
      if (!this.#earlier.busy) this.#look();
      if (this.#roster.rows.length > 0) this.#rebrief = setTimeout(() => this.#measuring.judge(brief, this.shown), BRIEF_MS);
    });
    this.#store.watch(["job"], ({ job }) => {
      // Another file was opened, or this was stopped.
      if (this.#gathering && job?.stage !== "opening") {
        this.#gathering = "";
        this.#zips.stop();
      }
      this.#showProgress();
    });
    // Messages of the 3D view are shown here while the table is shown.
    this.#store.watch(["problem", "notice"], ({ problem, notice }) => {
      if (this.shown && problem) this.#progress.tell(`${problem.title}: ${problem.place}. ${problem.message} ${problem.next}`);
      else if (this.shown && notice) this.#progress.tell(notice);
    });
  }
}
