/**
 * The table of a class: which rows are visible and in which order, and batched updates of the page.
 *
 * @import {Store} from "../core/state.js"
 * @import {View} from "./kept.js"
 * @import {Roster} from "./roster.js"
 * @import {Row} from "./rows.js"
 */

import { startFilter } from "./filter.js";
import { COLUMNS, fillRow, layRows } from "./rows.js";
import { byId, icon, make } from "../base/dom.js";

/** Between two updates from the workers, ms. */
const REFRESH_MS = 250;

/**
 * @typedef {object} Heard
 * @property {(row: Row) => void} open
 * @property {(row: Row) => void} count whether it counts is changed
 * @property {() => void} arranged the visible rows may have changed
 * @property {() => void} refreshed an update was shown
 * @property {(text: string) => void} say for screen readers
 */

export class Table {
  #store;
  #roster;
  #heard;
  #filter;
  #heads = byId("class-heads", HTMLElement);
  #body = byId("class-rows", HTMLElement);
  /** As sorted and filtered. @type {Row[]} */
  #shown = [];
  #sort = { key: "verdict", down: false };
  /** Counts layouts of the rows: older ones end. */
  #turn = 0;
  #isLaid = true;
  /** Rows that changed since the last update. @type {Set<Row>} */
  #changed = new Set();
  #refresh = 0;

  /**
   * @param {Store} store
   * @param {Roster} roster
   * @param {Heard} heard
   */
  constructor(store, roster, heard) {
    this.#store = store;
    this.#roster = roster;
    this.#heard = heard;
    this.#filter = startFilter(() => this.arrange());
    for (const { key, head, figures } of COLUMNS) {
      const button = make("button", { type: "button", class: "class-sort", "data-key": key }, make("span", {}, head), icon("shape-fold"));
      button.addEventListener("click", () => this.#sortBy(key));
      this.#heads.append(make("th", { role: "columnheader", scope: "col", class: `class-of-${key}${figures ? " is-figures" : ""}` }, button));
    }
    this.#body.addEventListener("click", (event) => this.#press(event));
    this.#body.addEventListener("input", ({ target }) => {
      if (!(target instanceof HTMLInputElement)) return;
      const row = this.#rowOf(target);
      if (row) roster.mark(row, { [target.dataset.mark ?? ""]: target.value });
    });
    this.#body.addEventListener("keydown", (event) => this.#walk(event));
  }

  /** The rows that pass the filter, in their order. */
  get shown() {
    return this.#shown;
  }

  /** Those that can be saved, in the order of their paths. */
  get measured() {
    return this.#shown.filter(({ state }) => state === "measured").sort((a, b) => a.at - b.at);
  }

  /** State of the table, to be restored by `begin`. */
  get asked() {
    return { sort: this.#sort, ...this.#filter.asked };
  }

  get busy() {
    return this.#refresh !== 0 || !this.#isLaid;
  }

  /**
   * Another class is opened.
   * @param {View | null} view its state to restore
   */
  begin(view) {
    this.#changed.clear();
    this.#body.replaceChildren();
    this.#shown = [];
    this.#filter.clear();
    this.#sort = { key: "verdict", down: false };
    if (!view) return;
    this.#filter.set(view);
    if (COLUMNS.some(({ key }) => key === view.sort.key)) this.#sort = { key: view.sort.key, down: view.sort.down };
  }

  /** Removes rows that no longer exist. */
  leaveOut() {
    this.#shown = this.#shown.filter((row) => this.#roster.has(row));
  }

  /** A row has changed. @param {Row} row */
  touched(row) {
    this.#changed.add(row);
    this.later();
  }

  /** Schedules an update. */
  later() {
    this.#refresh ||= setTimeout(() => this.refresh(), REFRESH_MS);
  }

  refresh() {
    clearTimeout(this.#refresh);
    this.#refresh = 0;
    for (const row of this.#changed) if (this.#roster.has(row)) fillRow(row, this.#store.state.brief);
    this.#changed.clear();
    this.arrange();
    this.#heard.refreshed();
  }

  /** Updates table, filter and counts from the rows; the table slice by slice. */
  arrange() {
    const before = this.#shown;
    this.#shown = this.#select();
    this.#tellSort();
    this.#filter.tell(this.#roster.rows, this.#shown.length);
    this.#heard.arranged();
    // A running layout continues.
    if (before.length === this.#shown.length && before.every((row, at) => row === this.#shown[at])) return;
    this.#isLaid = false;
    const passing = new Set(this.#shown);
    for (const row of before) if (!passing.has(row)) row.element?.remove();
    const turn = (this.#turn += 1);
    void layRows(this.#body, this.#shown, this.#store.state.brief, () => turn === this.#turn).then((isDone) => (this.#isLaid ||= isDone));
  }

  #select() {
    const passes = this.#roster.rows.filter(this.#filter.passing());
    const { key: chosen, down } = this.#sort;
    const order = COLUMNS.find(({ key }) => key === chosen)?.order ?? (({ at }) => at);
    const keyed = passes.map((row) => ({ row, value: order(row) }));
    keyed.sort((a, b) => {
      if (a.value === null || b.value === null) return Number(a.value === null) - Number(b.value === null) || a.row.at - b.row.at;
      return (down ? b.value - a.value : a.value - b.value) || a.row.at - b.row.at;
    });
    return keyed.map(({ row }) => row);
  }

  /** @param {string} key */
  #sortBy(key) {
    const column = COLUMNS.find((entry) => entry.key === key);
    this.#sort = { key, down: this.#sort.key === key ? !this.#sort.down : (column?.down ?? false) };
    this.arrange();
    this.#heard.say(`Sorted by ${column?.head ?? key}, ${this.#sort.down ? "greatest" : "least"} first.`);
  }

  #tellSort() {
    for (const head of this.#heads.children) {
      if (head.firstElementChild?.getAttribute("data-key") === this.#sort.key) head.setAttribute("aria-sort", this.#sort.down ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
  }

  /** @param {Element} element */
  #rowOf(element) {
    return this.#roster.get(Number(element.closest("tr")?.dataset.row ?? NaN));
  }

  /** @param {MouseEvent} event */
  #press({ target }) {
    const row = target instanceof Element ? this.#rowOf(target) : null;
    if (!row || !(target instanceof Element)) return;
    if (target.closest(".class-counts")) this.#heard.count(row);
    else if (!target.closest("input") && getSelection()?.isCollapsed !== false) this.#heard.open(row);
  }

  /** Moves between files by keys. @param {KeyboardEvent} event */
  #walk(event) {
    const buttons = [...this.#body.querySelectorAll("button.class-file")];
    const at = event.target instanceof Element ? buttons.indexOf(event.target) : -1;
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: buttons.length - 1 }[event.key];
    const button = at >= 0 && to !== undefined ? buttons[to] : null;
    if (!(button instanceof HTMLElement)) return;
    event.preventDefault();
    button.focus();
  }
}
