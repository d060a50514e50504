/**
 * Navigation in a class: at its table, at one of its files, or elsewhere; and stepping from file to file. The browser's
 * Back leads to the table, so both have history entries.
 *
 * @import {Page} from "./batch.js"
 * @import {Head} from "./head.js"
 * @import {View} from "./kept.js"
 * @import {Measuring} from "./measuring.js"
 * @import {Roster} from "./roster.js"
 * @import {Row} from "./rows.js"
 * @import {Table} from "./table.js"
 * @import {Store} from "../core/state.js"
 * @import {Zips} from "../open/zips.js"
 */

import { fileFrom } from "./files.js";
import { whose } from "./head.js";
import { byId } from "../base/dom.js";
import { counted, whole } from "../base/format.js";
import { asFailure } from "../core/problems.js";

export class Walk {
  #store;
  #roster;
  #table;
  #measuring;
  #zips;
  #page;
  #head;
  #moved;
  #section = byId("class", HTMLElement);
  #title = byId("class-title", HTMLElement);
  #scroll = byId("class-scroll", HTMLElement);
  #stage = byId("work", HTMLElement);
  #reading = byId("reading", HTMLElement);
  #where = byId("class-where", HTMLElement);
  #position = byId("class-position", HTMLElement);
  #previous = byId("class-previous", HTMLButtonElement);
  #next = byId("class-next", HTMLButtonElement);
  /** @type {View["place"]} */
  #place = "none";
  /** The row that is open, or was last. @type {Row | null} */
  #current = null;
  /** Counts opened files: results for older ones are ignored. */
  #opening = 0;
  /** Scroll position of the table when it was left. */
  #top = 0;

  /**
   * @param {object} parts
   * @param {Store} parts.store
   * @param {Roster} parts.roster
   * @param {Table} parts.table
   * @param {Measuring} parts.measuring
   * @param {Zips} parts.zips
   * @param {Page} parts.page
   * @param {Head} parts.head
   * @param {() => void} moved
   */
  constructor({ store, roster, table, measuring, zips, page, head }, moved) {
    this.#store = store;
    this.#roster = roster;
    this.#table = table;
    this.#measuring = measuring;
    this.#zips = zips;
    this.#page = page;
    this.#head = head;
    this.#moved = moved;
    byId("class-back", HTMLButtonElement).addEventListener("click", () => this.back());
    this.#previous.addEventListener("click", () => this.step(-1));
    this.#next.addEventListener("click", () => this.step(1));
    addEventListener("popstate", ({ state }) => {
      if (roster.rows.length === 0) return;
      if (state?.class === "table") this.#show("table");
      else if (this.#place === "table") this.#show(this.#current && store.state.model ? "file" : "none");
    });
    store.watch(["model", "job"], (state) => {
      if (this.#place === "file" && this.#current && !state.job && state.model?.report) this.#see(this.#current, state.model.report.file.sha256);
      this.titleTab();
    });
  }

  get place() {
    return this.#place;
  }

  get current() {
    return this.#current;
  }

  /** Another class was opened: none of its files is open. */
  begin() {
    this.#current = null;
    this.#top = 0;
  }

  /**
   * Shows the table, or the row that was open before a reload.
   * @param {View | null} view its state, if it is restored
   * @param {boolean} isReload whether the history entry is the same
   */
  enter(view, isReload) {
    if (!isReload) history.pushState({ class: "table" }, "", location.pathname);
    else if (view?.place === "table") history.replaceState({ class: "table" }, "", location.pathname);
    const row = view?.place === "file" ? this.#roster.rows.find((row) => this.#roster.keyOf(row) === view.row) : undefined;
    if (!row) {
      this.#show("table");
      return;
    }
    this.#place = "file";
    void this.open(row, false);
  }

  /** Shows the table. */
  back() {
    if (this.#roster.rows.length === 0 || this.#place === "table") return;
    history.pushState({ class: "table" }, "", location.pathname);
    this.#show("table");
  }

  /** A file outside the class is opened. */
  leave() {
    if (this.#place === "table") this.#show("none");
    this.#place = "none";
    this.#current = null;
    this.tellSince();
    this.#moved();
    this.tell();
  }

  /** @param {1 | -1} by */
  step(by) {
    if (this.#place !== "file" || !this.#current) return;
    const list = this.#walkable();
    const row = list[list.indexOf(this.#current) + by];
    if (row) void this.open(row);
  }

  /**
   * @param {Row} row
   * @param {boolean} [enters] whether it has an entry of its own
   */
  async open(row, enters = true) {
    if (row.failure) return;
    const isFromTable = this.#place === "table";
    const turn = (this.#opening += 1);
    this.#current = row;
    this.tellSince();
    if (enters) history[isFromTable ? "pushState" : "replaceState"]({ class: "file" }, "", location.pathname);
    this.#show("file");
    this.#page.say(`${row.student}: ${row.source.path}, ${this.#position.textContent}.`);
    const { libraries = [], own = null } = row.source;
    if ("file" in row.source && libraries.length === 0) {
      this.#page.open(row.source.file, [], own);
      return;
    }
    // A read for another row is not awaited.
    this.#zips.stop();
    const { name: file, bytes: total } = row.source;
    this.#store.set({ job: { name: file, bytes: 0, total, stage: "unpacking" }, problem: null, notice: "" });
    const mine = this.#store.state.job;
    try {
      const taken = await fileFrom(row.source, this.#zips);
      // A library that cannot be unpacked is ignored, as for the row.
      const beside = await Promise.all(libraries.map((library) => fileFrom(library, this.#zips).catch(() => [])));
      if (turn === this.#opening && this.#store.state.job === mine) this.#page.open(taken, beside.flat(), own);
    } catch (error) {
      if (turn === this.#opening && this.#store.state.job === mine) this.#page.fail(asFailure(error), file);
    }
  }

  /** Shows the open row's student in the verdict. */
  tellSince() {
    const { student = "", since = null } = this.#current ?? {};
    this.#store.set({ student, since: since && { fixed: since.fixed, still: since.still, new: since.fresh } });
  }

  /** Shows the position in the class. */
  tell() {
    const { rows } = this.#roster;
    this.#where.hidden = rows.length === 0 || this.#place === "table";
    if (this.#where.hidden) return;
    const list = this.#walkable();
    const at = this.#current ? list.indexOf(this.#current) : -1;
    const isOpen = this.#place === "file" && at >= 0;
    this.#position.textContent = isOpen ? `${whole(at + 1)} of ${whole(list.length)}` : counted(rows.length, "file");
    this.#position.title = isOpen ? (this.#current?.source.path ?? "") : "";
    this.#head.tell(isOpen ? this.#current : null);
    this.#previous.disabled = !isOpen || at === 0;
    this.#next.disabled = !isOpen || at === list.length - 1;
  }

  titleTab() {
    const { model } = this.#store.state;
    if (this.#place === "table") document.title = `${this.#title.textContent} · Gridproof`;
    else if (this.#roster.rows.length > 0)
      document.title = [this.#place === "file" ? whose(this.#current) : "", model?.name, "Gridproof"].filter(Boolean).join(" · ");
  }

  /** Rows that can be opened, in the order of the table; including the open one even if it is filtered out. */
  #walkable() {
    const open = this.#table.shown.filter(({ failure }) => failure === null);
    return this.#current && !open.includes(this.#current) ? this.#roster.rows.filter(({ failure }) => failure === null) : open;
  }

  /**
   * Marks it as seen by the teacher.
   * @param {Row} row
   * @param {string} sha256
   */
  #see(row, sha256) {
    if (this.#store.state.model?.name !== row.source.name || sha256 === "") return;
    row.sha256 = sha256;
    if (row.mark.seen !== sha256) this.#roster.mark(row, { seen: sha256 });
  }

  /** @param {View["place"]} to */
  #show(to) {
    if (this.#place === "table" && to !== "table") this.#top = this.#scroll.scrollTop;
    this.#place = to;
    const isTable = to === "table";
    this.#section.hidden = !isTable;
    this.#moved();
    document.body.classList.toggle("is-class", isTable);
    this.#stage.inert = this.#reading.inert = isTable;
    this.tell();
    this.titleTab();
    if (!isTable) return;
    if (this.#current) this.#measuring.reread(this.#current);
    this.#measuring.goOn();
    this.#scroll.scrollTop = this.#top;
    const opener = this.#current?.element?.querySelector("button");
    (opener ?? this.#title).focus({ preventScroll: true });
    opener?.scrollIntoView({ block: "nearest" });
  }
}
